"""Runs a program and kills it at the entry of a given system call, counted over all its threads.

strace can kill at a call too, but it counts for each thread by itself, and so never reaches some. This asks the kernel
directly (ptrace), through ctypes; Linux 5.3 and later on x86-64 and ARM.
"""

import ctypes
import os
import signal
import tempfile

TRACEME, SYSCALL, SETOPTIONS, GET_SYSCALL_INFO = 0, 24, 0x4200, 0x420E
GOOD_SIGTRAP, FOLLOW, KILL_WITH_US = 0x1, 0x2 | 0x4 | 0x8, 0x100000  # follow forks, vforks and new threads
ALL_THREADS = 0x40000000
AT_ENTRY = 1
SYSCALL_STOP = signal.SIGTRAP | 0x80

# Numbers of the calls by architecture (the kernel's audit names for x86-64 and ARM).
NUMBERS = {
    0xC000003E: {"write": 1, "pwrite64": 18, "writev": 20, "fsync": 74, "fdatasync": 75, "ftruncate": 77, "rename": 82,
                 "mkdir": 83, "unlink": 87, "mkdirat": 258, "unlinkat": 263, "renameat": 264, "pwritev": 296,
                 "renameat2": 316},
    0xC00000B7: {"mkdirat": 34, "unlinkat": 35, "renameat": 38, "ftruncate": 46, "write": 64, "writev": 66,
                 "pwrite64": 68, "pwritev": 70, "fsync": 82, "fdatasync": 83, "renameat2": 276},
}
# Which argument holds the path; the others have a file descriptor as their first.
PATH_ARGUMENT = {"rename": 0, "mkdir": 0, "unlink": 0, "mkdirat": 1, "unlinkat": 1, "renameat": 1, "renameat2": 1}

libc = ctypes.CDLL(None, use_errno=True)
libc.ptrace.argtypes = [ctypes.c_long, ctypes.c_long, ctypes.c_void_p, ctypes.c_void_p]
libc.ptrace.restype = ctypes.c_long


class Info(ctypes.Structure):
    """struct ptrace_syscall_info at a call's entry."""

    _fields_ = [("op", ctypes.c_uint8), ("pad", ctypes.c_uint8 * 3), ("arch", ctypes.c_uint32), ("ip", ctypes.c_uint64),
                ("sp", ctypes.c_uint64), ("number", ctypes.c_uint64), ("arguments", ctypes.c_uint64 * 6),
                ("rest", ctypes.c_uint64)]


class Run:
    """What became of a run."""

    def __init__(self):
        self.calls = []  # (call, path), the one at which it was killed included
        self.status = None  # exit code, or minus the signal
        self.said = ""  # standard output


def run(command, calls, below, kill_at=None):
    """Runs `command`, noting the given calls on files below a folder; kills it at the `kill_at`th of them, from 1."""
    result = Run()
    with tempfile.TemporaryFile() as out:
        child = os.fork()
        if child == 0:
            become(command, out)
        os.waitpid(child, 0)
        ptrace(SETOPTIONS, child, GOOD_SIGTRAP | FOLLOW | KILL_WITH_US)
        go_on(child)
        while result.status is None:
            thread, status = os.waitpid(-1, ALL_THREADS)
            if os.WIFSTOPPED(status):
                at_stop(result, child, thread, status, calls, str(below), kill_at)
            elif thread == child:
                result.status = os.waitstatus_to_exitcode(status)
        out.seek(0)
        result.said = out.read().decode("utf-8", "replace")
    return result


def become(command, out):
    """In the child: lets itself be traced and becomes the program."""
    try:
        os.dup2(out.fileno(), 1)
        os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
        libc.ptrace(TRACEME, 0, None, None)
        os.execv(str(command[0]), [str(word) for word in command])
    finally:
        os._exit(127)


def at_stop(result, child, thread, status, calls, below, kill_at):
    stopped_by = os.WSTOPSIG(status)
    if stopped_by == SYSCALL_STOP:
        call = call_at_entry(thread, calls)
        if call and (call[1] == below or call[1].startswith(below + "/")):
            result.calls.append(call)
            if len(result.calls) == kill_at:
                os.kill(child, signal.SIGKILL)
                return
        go_on(thread)
    elif stopped_by in (signal.SIGTRAP, signal.SIGSTOP):
        go_on(thread)  # the program begins, or a thread does
    else:
        go_on(thread, stopped_by)


def call_at_entry(thread, calls):
    """The call that a thread is about to make and its file; none for other calls, and on the way out."""
    info = Info()
    try:
        ptrace(GET_SYSCALL_INFO, thread, ctypes.addressof(info), address=ctypes.sizeof(info))
    except ProcessLookupError:
        return None
    if info.op != AT_ENTRY:
        return None
    for name in calls:
        if NUMBERS[info.arch].get(name) == info.number:
            if name in PATH_ARGUMENT:
                return name, text_at(thread, info.arguments[PATH_ARGUMENT[name]])
            try:
                return name, os.readlink(f"/proc/{thread}/fd/{info.arguments[0]}")
            except OSError:
                return name, ""
    return None


def text_at(thread, place):
    """The text in the program's memory, which ends with a zero byte."""
    with open(f"/proc/{thread}/mem", "rb", buffering=0) as memory:
        memory.seek(place)
        return memory.read(4096).split(b"\0", 1)[0].decode("utf-8", "replace")


def go_on(thread, with_signal=0):
    try:
        ptrace(SYSCALL, thread, with_signal)
    except ProcessLookupError:
        pass  # it ended meanwhile


def ptrace(request, thread, data=None, address=None):
    if libc.ptrace(request, thread, address, data) == -1:
        number = ctypes.get_errno()
        raise OSError(number, os.strerror(number))
