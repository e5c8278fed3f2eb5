"""A small Debian of its own, with a real systemd, in a folder (systemd-nspawn); and a mail server that writes down what it gets.

The container shares this machine's network, so that a service in it reaches a server on loopback here. Needs root.
"""

import base64
import os
import socketserver
import subprocess
import threading
import time
from pathlib import Path


class Machine:
    """The files of an archive, booted. `run` and `sudo` are what somebody at its keyboard would type."""

    def __init__(self, archive, folder):
        self.root = Path(folder) / "root"
        self.root.mkdir()
        subprocess.run(["tar", "-xf", archive, "-C", self.root], check=True)
        (self.root / "etc/hostname").write_text("alder-fold\n")
        (self.root / "etc/hosts").write_text("127.0.0.1 localhost alder-fold\n")
        self.console = open(Path(folder) / "console", "w+", encoding="utf-8")
        command = ["systemd-nspawn", "--quiet", "--register=no", "--keep-unit", "--machine=alder-fold", "--boot"]
        self.nspawn = subprocess.Popen([*command, "-D", self.root], stdin=subprocess.DEVNULL, stdout=self.console, stderr=self.console)
        self.first = None
        if not wait(60, lambda: self._leader() and self.run("systemctl is-system-running").stdout.strip() in ("running", "degraded")):
            self.console.seek(0)
            said = self.console.read()
            self.close()
            raise SystemExit(f"the container does not come up:\n{said}")

    def _leader(self):
        """The container's first process, as this machine numbers it."""
        children = Path(f"/proc/{self.nspawn.pid}/task/{self.nspawn.pid}/children").read_text().split()
        self.first = children[0] if children else None
        return self.first

    def run(self, script, **options):
        """What a shell of its root makes of it."""
        command = ["nsenter", "-t", self.first, "--all", "bash", "-c", script]
        return subprocess.run(command, capture_output=True, text=True, stdin=subprocess.DEVNULL, **options)

    def path(self, path):
        return self.root / path.lstrip("/")

    def write(self, path, text, mode=0o644):
        file = self.path(path)
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
        file.chmod(mode)

    def close(self):
        if self.first and self.nspawn.poll() is None:
            self.run("systemctl --force poweroff")
        try:
            self.nspawn.wait(20)
        except subprocess.TimeoutExpired:
            self.nspawn.kill()
            self.nspawn.wait()
        self.console.close()


def wait(seconds, holds):
    """Until it holds; whether it did in time."""
    end = time.monotonic() + seconds
    while True:
        if holds():
            return True
        if time.monotonic() > end:
            return False
        time.sleep(0.2)


class MailServer(socketserver.ThreadingTCPServer):
    """Takes every letter from whoever knows the password. `letters` are (user, password, recipient, text)."""

    allow_reuse_address = daemon_threads = True

    def __init__(self):
        super().__init__(("127.0.0.1", 0), Talk)
        self.port = self.server_address[1]
        self.letters = []
        threading.Thread(target=self.serve_forever, daemon=True).start()

    def close(self):
        self.shutdown()
        self.server_close()


class Talk(socketserver.StreamRequestHandler):
    """One connection, as RFC 5321 and RFC 4954 have it, with AUTH PLAIN only."""

    timeout = 30

    def handle(self):
        login, recipient = ("", ""), ""
        self.say("220 mail.alderfold.example ready")
        for line in self.rfile:
            words = line.decode("utf-8", "replace").strip()
            verb = words[:4].upper()
            if verb == "EHLO":
                self.say("250-mail.alderfold.example\r\n250 AUTH PLAIN")
            elif verb == "AUTH":
                _, *login = base64.b64decode(words.split()[2]).decode().split("\0")
                self.say("235 welcome")
            elif verb == "RCPT":
                recipient = words[words.find("<") + 1 : words.find(">")]
                self.say("250 well")
            elif verb == "DATA":
                self.say("354 go on")
                text = []
                while (line := self.rfile.readline()) not in (b".\r\n", b""):
                    text.append(line)
                self.server.letters.append((*login, recipient, b"".join(text).decode("utf-8", "replace")))
                self.say("250 taken")
            elif verb == "QUIT":
                self.say("221 goodbye")
                return
            else:
                self.say("250 well")

    def say(self, line):
        self.wfile.write(f"{line}\r\n".encode())


def archive():
    """The container's files, which `run` has laid ready."""
    return os.environ["OUTSIDE_ROOT"]
