"""A disk that is full, one that may not be written, and one that fails at a call; and commands that root runs.

A round is walked on each, and once the fault is gone a plain round must end where one without any fault did: the same
notices, letters and rows. The failing calls are made by strace, which answers a write or a sync of the program's own files
with an error in place of doing it; where there are many, they are sampled evenly, and it is said how many were tried of how
many. No error that is injected proves what a disk does when the power goes.
"""

import re
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

from common import BINARY, Checks, graftwarden
from kill import FRIDAY, MONDAY, at, backed_up, check_outcome, lay_out, outcome, renew

CALLS = ["write", "pwrite64", "fsync", "fdatasync"]
ERRORS = ["EIO", "ENOSPC"]
# Of one kind of call no more than so many are made to fail, by one error and the other in turn.
MOST = 6


def a_round(work):
    return ["round", "--config", work / "graftwarden.toml", *at(MONDAY)]


def understandable(checks, short, done, *also):
    """It ended with an error that names what is wrong with the disk, or with one of these words, or carried on."""
    words = (done.stdout + done.stderr).lower()
    checks.check("panicked" not in words and done.returncode >= 0, f"{short}: it ended with {done.returncode}: {done.stderr[-300:]!r}")
    named = any(word in words for word in ("disk", "no space", "i/o error", "input/output error", "read-only", *also))
    checks.check(done.returncode == 0 or named, f"{short}: it ended with {done.returncode} and says what is wrong: {done.stderr[-300:]!r}")


def plain_round(checks, short, work, expected):
    again = next_round(work)
    if checks.same(again.returncode, 0, f"{short}: the next round; it said {again.stdout!r} {again.stderr[-300:]!r}"):
        check_outcome(checks, short, outcome(work, True), expected)


def next_round(work):
    """A round at the same moment, and where a letter waits for its next try, one when that has come."""
    again = graftwarden(*a_round(work), ok=False)
    if again.returncode != 75:
        return again
    return graftwarden("round", "--config", work / "graftwarden.toml", "--at", f"{MONDAY}T06:40:00+02:00", ok=False)


# ---- a disk of its own ----

class Disk:
    """The state folder on a small file system in memory."""

    def __init__(self, base, work):
        self.state = work / "state"
        renew(base, work)
        kept = work / "kept"
        self.state.rename(kept)
        self.state.mkdir()
        subprocess.run(["mount", "-t", "tmpfs", "-o", "size=48m,mode=700", "tmpfs", self.state], check=True)
        for path in kept.iterdir():
            (shutil.copytree if path.is_dir() else shutil.copy2)(path, self.state / path.name)
        shutil.rmtree(kept)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        subprocess.run(["umount", self.state], check=True)

    def fill(self, left_kb):
        """Writes a file so that so much is left."""
        with open(self.state / "filler", "wb", buffering=0) as filler:
            try:
                while True:
                    filler.write(bytes(1 << 16))
            except OSError:
                pass
            filler.truncate(max(0, filler.tell() - left_kb * 1024))

    def make_room(self):
        (self.state / "filler").unlink()

    def remount(self, how):
        subprocess.run(["mount", "-o", f"remount,{how}", self.state], check=True)


def full(checks, base, work, expected):
    for left in (0, 64, 400):
        short = f"a full disk, {left} kB left"
        with Disk(base, work) as disk:
            disk.fill(left)
            done = graftwarden(*a_round(work), ok=False)
            understandable(checks, short, done)
            if left == 0:
                checks.check(done.returncode != 0, f"{short}: it cannot have gone well")
            disk.make_room()
            plain_round(checks, short, work, expected)


def read_only(checks, base, work, expected):
    with Disk(base, work) as disk:
        disk.remount("ro")
        done = graftwarden(*a_round(work), ok=False)
        understandable(checks, "a read-only disk", done)
        checks.check(done.returncode != 0, "a read-only disk: no round is walked")
        looked = graftwarden("due", "--config", work / "graftwarden.toml", ok=False)
        checks.same(looked.returncode, 0, f"a read-only disk: due looks; it said {looked.stderr[-300:]!r}")
        disk.remount("rw")
        plain_round(checks, "a read-only disk", work, expected)


def no_room_for_a_copy(checks, base, work):
    """The round goes well, the next one tells that there is no copy, and one with room makes it and says nothing more."""
    with Disk(base, work) as disk:
        for path in (work / "state" / "backups").glob(f"*{MONDAY}*"):
            path.unlink()
        disk.fill(4000)
        first = graftwarden(*a_round(work), ok=False)
        checks.same(first.returncode, 0, f"no room for a copy: the round goes well; it said {first.stderr[-300:]!r}")
        checks.check("MB of room are needed on the disk" in first.stderr, f"no room for a copy: it says so: {first.stderr!r}")
        next_one = ["round", "--config", work / "graftwarden.toml", "--at"]
        checks.check("backup of the program's memory" in graftwarden(*next_one, f"{MONDAY}T07:10:00+02:00"),
                     "no room for a copy: the next round tells of it")
        checks.same(graftwarden(*next_one, f"{MONDAY}T08:10:00+02:00"), "0 notices, 0 letters\n", "no room for a copy: once")
        disk.make_room()
        graftwarden(*next_one, f"{MONDAY}T09:10:00+02:00")
        names = sorted(path.name for path in (work / "state" / "backups").iterdir())
        checks.check(f"graftwarden-{MONDAY}.db" in names and ".graftwarden.db.part" not in names,
                     f"no room for a copy: with room it is made: {names}")


# ---- calls that fail ----

def calls_of(command, work, only=None, calls=CALLS):
    """How many calls of each kind a clean run makes on its files, in the thread that makes most of them, and the files."""
    log = work.with_suffix(".strace")
    subprocess.run(["strace", "-f", "-qq", "-y", "-s", "0", "-o", log, "-e", "trace=" + ",".join(calls), BINARY,
                    *map(str, command)], capture_output=True, check=True)
    times, files = Counter(), set()
    for line in log.read_text(encoding="utf-8", errors="replace").splitlines():
        match = re.match(r"^(\d+)\s+(\w+)\(\d+<([^>]*)>", line)
        if match and match[3].startswith(str(work)) and (only is None or only in match[3]):
            times[match[2], match[1]] += 1
            files.add(match[3])
    most = {call: max((n for (of, _), n in times.items() if of == call), default=0) for call in calls}
    return most, sorted(files)


def sampled(n):
    return range(1, n + 1) if n <= MOST else sorted({1 + i * (n - 1) // (MOST - 1) for i in range(MOST)})


def failing(checks, label, prepare, command, work, after, only=None, calls=CALLS, which=sampled):
    """Runs a command on fresh copies, each time with one call that fails, and hands what was said to `after`."""
    prepare()
    most, files = calls_of(command, work, only, calls)
    tried, hit = Counter(), 0
    log = work.with_suffix(".inject")
    for call, n in most.items():
        for turn, number in enumerate(which(n)):
            for error in ERRORS if n == 1 else [ERRORS[turn % 2]]:
                prepare()
                paths = [word for file in files for word in ("-P", file)]
                done = subprocess.run(["strace", "-f", "-qq", "-o", log, *paths, "-e", f"trace={call}", "-e",
                                       f"inject={call}:error={error}:when={number}", BINARY, *map(str, command)],
                                      capture_output=True, text=True)
                tried[call] += 1
                hit += "(INJECTED)" in log.read_text(encoding="utf-8", errors="replace")
                after(f"{label}: {error} at {call} {number}", done)
    # strace counts for each thread by itself, and which thread does what differs from run to run.
    checks.check(hit >= sum(tried.values()) / 2 > 0, f"{label}: {hit} of {sum(tried.values())} calls failed as they should")
    print(f"{label}: " + ", ".join(f"{tried[call]} tries at {n} {call}" for call, n in most.items()))


def failing_rounds(checks, base, work, expected):
    def after(short, done):
        understandable(checks, short, done)
        plain_round(checks, short, work, expected)

    failing(checks, "a round", lambda: renew(base, work), a_round(work), work, after)


def failing_reads(checks, base, work, expected):
    """What the disk does not give once is read again, and is no damage: the first reads open the memory and look it through.
    What the database calls damage while the memory is used ends the round, and the next start finds none."""
    def after(short, done):
        understandable(checks, short, done, "memory is damaged")
        kept = list((work / "state").glob("graftwarden.db.damaged-*"))
        checks.same(kept, [], f"{short}: nothing is put back")
        plain_round(checks, short, work, expected)

    failing(checks, "a read", lambda: renew(base, work), a_round(work), work, after, "state/graftwarden.db", ["pread64"],
            lambda n: [*range(1, 25), *sampled(n)])


def failing_copies(checks, base, work):
    def prepare():
        renew(base, work)
        (work / "state" / "backups" / f"graftwarden-{MONDAY}.db").unlink()

    def after(short, done):
        checks.same(done.returncode, 0, f"{short}: the round goes well; it said {done.stderr[-300:]!r}")
        there = (work / "state" / "backups" / f"graftwarden-{MONDAY}.db").exists()
        told = graftwarden("round", "--config", work / "graftwarden.toml", "--at", f"{MONDAY}T07:10:00+02:00")
        checks.check(there or "backup of the program's memory" in told, f"{short}: made, or told: {told!r}")
        names = sorted(path.name for path in (work / "state" / "backups").iterdir())
        checks.same(names, [f"graftwarden-{FRIDAY}.db", f"graftwarden-{MONDAY}.db"], f"{short}: the next round makes it")

    failing(checks, "a copy", prepare, a_round(work), work, after, only=".graftwarden.db.part")


def failing_mends(checks, base, work):
    """A memory that is damaged is put back, though the disk fails once meanwhile."""
    def prepare():
        renew(base, work)
        with open(work / "state" / "graftwarden.db", "r+b") as database:
            database.truncate(20000)

    prepare()
    checks.check("was put back" in graftwarden(*a_round(work), ok=False).stderr, "a mend: the memory is put back")
    expected = outcome(work, False)

    def after(short, done):
        understandable(checks, short, done)
        again = next_round(work)
        if checks.same(again.returncode, 0, f"{short}: the next round; it said {again.stderr[-300:]!r}"):
            check_outcome(checks, short, outcome(work, False), expected)
        kept = list((work / "state").glob("graftwarden.db.damaged-*"))
        checks.check(any(path.stat().st_size == 20000 for path in kept), f"{short}: what was damaged is kept: {kept}")

    failing(checks, "a mend", prepare, a_round(work), work, after, only="state/.graftwarden.db.part")


def failing_notes(checks, base, work):
    note = ["note", "C2", "looked", "--config", work / "graftwarden.toml", "--on", "2026-08-09", "--remarks", "quiet"]

    def after(short, done):
        confirmed = done.returncode == 0
        checks.check(confirmed or "not written down" in done.stderr, f"{short}: it says so: {done.stderr[-300:]!r}")
        checks.same(graftwarden(*a_round(work), ok=False).returncode, 0, f"{short}: the next round")
        found = [row for row in outcome(work, False)["records"] if "'C2', None, 'looked'" in row]
        checks.check(len(found) == 1 or (not confirmed and not found), f"{short}: {len(found)} records, confirmed: {confirmed}")

    failing(checks, "a note", lambda: renew(base, work), note, work, after, only="accepted.csv")


def by_root(checks, base, work):
    """What root makes in the folder of the service's user belongs to that user, but nothing that was there already."""
    renew(base, work)
    state, user, elsewhere = work / "state", 12345, work / "elsewhere"
    (state / "lock").unlink(missing_ok=True)
    (state / "accepted.csv").unlink(missing_ok=True)
    subprocess.run(["chown", "-R", f"{user}:{user}", state], check=True)
    graftwarden("check", "--config", work / "graftwarden.toml", ok=False)
    graftwarden("note", "C2", "looked", "--config", work / "graftwarden.toml", "--on", "2026-08-09")
    for name in ("lock", "accepted.csv"):
        checks.same((state / name).stat().st_uid, user, f"made by root: the owner of {name}")
    (state / "lock").unlink()
    elsewhere.write_text("of root\n")
    (state / "lock").symlink_to(elsewhere)
    graftwarden("check", "--config", work / "graftwarden.toml", ok=False)
    checks.same((elsewhere.stat().st_uid, elsewhere.read_text()), (0, "of root\n"), "a link to a file of root: its owner and what is in it")


def main():
    checks = Checks("disk")
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder).resolve()
        work, base = folder / "nursery", folder / "base"
        lay_out(base, FRIDAY)
        graftwarden("round", "--config", base / "graftwarden.toml", *at(FRIDAY))
        lay_out(base, MONDAY)
        backed_up(base, MONDAY)

        renew(base, work)
        graftwarden(*a_round(work))
        expected = outcome(work, True)
        checks.check(len(expected["notices"]) > 0, "the clean round has something to say")

        full(checks, base, work, expected)
        read_only(checks, base, work, expected)
        no_room_for_a_copy(checks, base, work)
        failing_rounds(checks, base, work, expected)
        failing_reads(checks, base, work, expected)
        failing_copies(checks, base, work)
        failing_mends(checks, base, work)
        failing_notes(checks, base, work)
        by_root(checks, base, work)
    checks.finish()


if __name__ == "__main__":
    sys.exit(main())
