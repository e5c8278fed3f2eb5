"""Letters to a program and to an address of the farm's own: what is handed over, signed, stopped and tried again.

The signature is worked out by Python's hmac; the program, the address and the mail server beside it are small ones of the
checks' own.
"""

import hashlib
import hmac
import json
import socketserver
import sys
import tempfile
import threading
import time
from datetime import date
from email import policy
from email.parser import BytesParser
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from common import Checks
from farm import MORNING, Farm, smtp
from mailhouse import DOMAIN

SECRET = "hazel and birch"
TWO_MINUTES_LATER = "2026-07-27T06:12:00+02:00"

# Keeps what it was handed, beside itself, a file a call.
KEEPER = """#!{python}
import json, os, pathlib, sys
folder = pathlib.Path(__file__).parent / "handed"
folder.mkdir(exist_ok=True)
body = sys.stdin.buffer.read()
told = {{"arguments": sys.argv[1:], "environment": {{k: v for k, v in os.environ.items() if k.startswith("GRAFTWARDEN_")}}}}
number = len(list(folder.glob("*.body")))
(folder / f"{{number}}.body").write_bytes(body)
(folder / f"{{number}}.told").write_text(json.dumps(told))
{then}
"""

# Goes on and on, and so does what it has started; each says every twentieth of a second that it is still there.
SLOW = """import subprocess, time
beat = "import pathlib, sys, time\\nwhile True: pathlib.Path(sys.argv[1]).write_text(str(time.time())); time.sleep(0.05)"
subprocess.Popen([sys.executable, "-c", beat, str(folder / "child")])
exec(beat.replace("sys.argv[1]", repr(str(folder / "parent"))))
"""


def program(farm, then=""):
    path = farm.folder / "hook"
    path.write_text(KEEPER.format(python=sys.executable, then=then), encoding="utf-8")
    path.chmod(0o755)
    (farm.folder / "secret").write_text(SECRET + "\n", encoding="utf-8")


def handed(farm):
    """Bodies and what was told beside them, the oldest first."""
    files = sorted((farm.folder / "handed").glob("*.body"), key=lambda path: int(path.stem))
    return [(path.read_bytes(), json.loads(path.with_suffix(".told").read_text())) for path in files]


def states(farm):
    return {carrier: (state, tries, answer) for _, carrier, state, tries, answer in farm.outbox()}


def signed(checks, label, body, timestamp, signature, since):
    """The moment is the clock's, whatever moment the round was walked for: a receiver turns away what is old."""
    expected = hmac.new(SECRET.encode(), timestamp.encode() + b"." + body, hashlib.sha256).hexdigest()
    checks.same(signature, f"sha256={expected}", f"{label}: the signature")
    checks.check(timestamp.isdigit() and since <= int(timestamp) <= time.time(), f"{label}: signed as of now: {timestamp!r}")


# Two weeks and a day old on that morning: lines may be looked for, and no limit is near.
YOUNG = {"grafted": date(2026, 7, 12), "age": 15}


def young(*arguments, **more):
    return Farm(*arguments, **YOUNG, **more)


def says_the_letter(checks, label, body, farm):
    """The JSON says what the mail says; the mail is the one that the folder got."""
    told = json.loads(body)
    (path,) = (farm.folder / "letters").glob("*.eml")
    letter = BytesParser(policy=policy.default).parsebytes(path.read_bytes())
    text = letter.get_body(("plain",)).get_content().replace("\r\n", "\n")
    checks.same(told["version"], 1, f"{label}: its version")
    checks.same(told["nursery"], "Alder Fold Nursery", f"{label}: the nursery")
    checks.same(told["person"], {"name": "Maren Holt", "email": f"maren@{DOMAIN}"}, f"{label}: whom it is to")
    checks.same(told["subject"], str(letter["Subject"]), f"{label}: its subject is the mail's")
    checks.same(told["text"].strip(), text.strip(), f"{label}: its text is the mail's, whole")
    checks.same(f"<{told['message_id']}>", str(letter["Message-ID"]), f"{label}: its Message-ID is the mail's")
    checks.same(told["dated"], MORNING, f"{label}: its date")
    checks.same(told["urgent"], False, f"{label}: looking for lines can wait for a working day")
    short = told["short"]
    checks.check(0 < len(short) <= 160 and "\n" not in short and "look for callus lines" in short.lower(),
                 f"{label}: a line that fits a text message: {short!r}")


def command(checks, folder):
    post = 'folder = "letters"\n[post.hook]\ncommand = ["./hook", "--to", "a b;$HOME"]\nsecret_file = "secret"\n'
    farm = young(folder / "command", ["maren"], post)
    program(farm)
    since = int(time.time())
    checks.same(farm.round().returncode, 0, "a program: the round ends well")
    found = handed(farm)
    checks.same(len(found), 1, "a program: one letter, one call")
    body, told = found[0]
    checks.same(told["arguments"], ["--to", "a b;$HOME"], "a program: its arguments as written, no shell between")
    says_the_letter(checks, "a program", body, farm)
    environment = told["environment"]
    signed(checks, "a program", body, environment.get("GRAFTWARDEN_TIMESTAMP", ""), environment.get("GRAFTWARDEN_SIGNATURE"),
           since)
    checks.same({name: state[0] for name, state in states(farm).items()}, {"folder": "sent", "hook": "sent"},
                "a program: both ways are written down as sent")


def exit_codes(checks, folder):
    """What the program says by its exit code, and the same bytes again where it says later."""
    post = '[post.hook]\ncommand = ["./hook"]\nsecret_file = "secret"\n'
    farm = young(folder / "later", ["maren"], post)
    since = int(time.time())
    program(farm, 'print("the gateway is full", file=sys.stderr)\nsys.exit(75 if number == 0 else 0)')
    farm.round()
    state, tries, answer = states(farm)["hook"]
    checks.same((state, tries), ("waiting", 1), "75: the letter waits")
    checks.check("exit code 75" in answer and "the gateway is full" in answer, f"75: and what was said is kept: {answer!r}")
    farm.round(TWO_MINUTES_LATER)
    bodies = [body for body, _ in handed(farm)]
    checks.same((len(bodies), len(set(bodies))), (2, 1), "75: the same bytes again")
    for number, (body, told) in enumerate(handed(farm)):
        environment = told["environment"]
        signed(checks, f"75, try {number + 1}", body, environment["GRAFTWARDEN_TIMESTAMP"], environment["GRAFTWARDEN_SIGNATURE"],
               since)
    checks.same(states(farm)["hook"][0], "sent", "75, then 0: sent")

    farm = young(folder / "never", ["maren"], post)
    program(farm, "sys.exit(65)")
    farm.round()
    checks.same(states(farm)["hook"][0], "refused", "65: never again")
    farm.round(TWO_MINUTES_LATER)
    checks.same(len(handed(farm)), 1, "65: and it was not handed over a second time")


def slow(checks, folder):
    """A program that does not end: stopped with all it has started, while the mail has long gone."""
    with MailSink() as sink:
        post = smtp(sink.port, "none", user=None) + '[post.hook]\ncommand = ["./hook"]\nsecret_file = "secret"\ntimeout = 2\n'
        farm = young(folder / "slow", ["maren", "jory"], post)
        program(farm, SLOW)
        checks.same(farm.round().returncode, 75, "slow: the round ends with what waits")
        beats = {name: float((farm.folder / "handed" / name).read_text()) for name in ("parent", "child")}
        time.sleep(0.5)
        still = {name: float((farm.folder / "handed" / name).read_text()) for name in beats}
    checks.same(still, beats, "slow: it and what it has started are gone when the round is over")
    checks.same(len(sink.taken), 2, "slow: both letters were mailed")
    checks.check(len(sink.taken) == 2 and max(sink.taken) < beats["parent"], "slow: before the program was stopped")
    found = {(carrier, state) for _, carrier, state, _, _ in farm.outbox()}
    checks.same(found, {("smtp", "sent"), ("hook", "waiting")}, "slow: what waits is the hook's alone")
    answers = {answer for _, carrier, _, _, answer in farm.outbox() if carrier == "hook"}
    checks.check(all("had not ended after 2 s" in answer for answer in answers), f"slow: and it is said why: {answers!r}")
    checks.same(len(handed(farm)), 1, "slow: the second letter did not wait for it as well")


def address(checks, folder):
    """An address that is busy once: asked again when it says so, with the same body."""
    asked, since = [], int(time.time())

    class Chat(BaseHTTPRequestHandler):
        def do_POST(self):
            body = self.rfile.read(int(self.headers["Content-Length"]))
            asked.append((self.path, self.headers, body))
            self.send_response(503 if len(asked) == 1 else 204)
            if len(asked) == 1:
                self.send_header("Retry-After", "600")
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, *_):
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Chat)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    url = f"http://127.0.0.1:{server.server_port}/letters?key=hazel-4711"
    farm = young(folder / "address", ["maren"], f'folder = "letters"\n[post.hook]\nurl = "{url}"\nsecret_file = "secret"\n')
    (farm.folder / "secret").write_text(SECRET, encoding="utf-8")
    outcome = farm.round()
    state, tries, answer = states(farm)["hook"]
    checks.same((state, tries, len(asked)), ("waiting", 1, 1), "an address: busy, the letter waits")
    checks.check("503" in answer, f"an address: and why is kept: {answer!r}")
    checks.check("hazel-4711" not in answer + outcome.stderr + outcome.stdout, "an address: its key is not shown")
    farm.round("2026-07-27T06:19:00+02:00")
    checks.same(len(asked), 1, "an address: left alone as long as it said")
    farm.round("2026-07-27T06:21:00+02:00")
    checks.same((len(asked), states(farm)["hook"][0]), (2, "sent"), "an address: afterwards it takes the letter")
    for number, (path, headers, body) in enumerate(asked):
        label = f"an address, try {number + 1}"
        checks.same(path, "/letters?key=hazel-4711", f"{label}: where it is posted")
        checks.check(headers["Content-Type"].startswith("application/json"), f"{label}: as JSON")
        says_the_letter(checks, label, body, farm)
        signed(checks, label, body, headers.get("Graftwarden-Timestamp", ""), headers.get("Graftwarden-Signature"), since)
    checks.same(len({body for _, _, body in asked}), 1, "an address: the same bytes both times")
    server.shutdown()
    server.server_close()


class MailSink:
    """The smallest mail server: takes everything and keeps the moments."""

    def __init__(self):
        self.taken = taken = []

        class Session(socketserver.StreamRequestHandler):
            def say(self, line):
                self.wfile.write(line + b"\r\n")

            def handle(self):
                self.say(b"220 sink")
                for line in self.rfile:
                    word = line.split()[0].upper() if line.strip() else b""
                    if word == b"DATA":
                        self.say(b"354 go on")
                        while self.rfile.readline() not in (b".\r\n", b""):
                            pass
                        taken.append(time.time())
                    self.say(b"221 bye" if word == b"QUIT" else b"250 yes")

        self.server = socketserver.ThreadingTCPServer(("127.0.0.1", 0), Session)
        self.server.daemon_threads = True
        self.port = self.server.server_address[1]

    def __enter__(self):
        threading.Thread(target=self.server.serve_forever, daemon=True).start()
        return self

    def __exit__(self, *_):
        self.server.shutdown()
        self.server.server_close()


def main():
    checks = Checks("hook")
    with tempfile.TemporaryDirectory() as folder:
        for case in (command, exit_codes, slow, address):
            case(checks, Path(folder))
    checks.finish()


if __name__ == "__main__":
    sys.exit(main())
