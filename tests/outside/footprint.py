"""How little the program takes of the machine it runs on: each figure beside its goal, measured as whole processes.

By hand on a quiet machine and never in CI: figures of a busy machine say nothing. Needs Python 3.11 and binutils, and no
network. Ends badly where a goal is missed.

    python3 tests/outside/footprint.py target/release/graftwarden
"""

import math
import os
import re
import shutil
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from contextlib import contextmanager
from datetime import date, datetime, timedelta, timezone
from pathlib import Path

UNIT = Path(__file__).resolve().parents[2] / "deploy" / "graftwarden.service"
OF_THE_UNIT = dict(setting.split("=", 1) for line in re.findall(r"(?m)^Environment=(.*)$", UNIT.read_text(encoding="utf-8"))
                   for setting in line.split())

DAY = timedelta(days=1)
NOW = datetime.now(timezone.utc)
TODAY = NOW.date()

HEAD = """version = 1
[nursery]
name = "Alder Fold Nursery"
zone = "UTC"
working_days = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
[rounds]
at = ["{rounds}"]
[post]
from = "Alder Fold Nursery <letters@alderfold.example>"
folder = "letters"
log = false
"""
PERSON = """[[people]]
name = "Maren Holt"
email = "maren@alderfold.example"
"""
SITE = """[[site]]
id = "s{number}"
latitude = 50.8
longitude = 4.4
[[site.weather]]
source = "file"
path = "temperatures.csv"
"""
SERVICE = """[[site.weather]]
source = "open-meteo"
url = "{service}/v1/forecast"
"""


class Nursery:
    """The files of a nursery, in a folder of its own."""

    def __init__(self, folder, sites, grafted, rounds="0 * * * *"):
        self.folder, self.sites, self.grafted, self.rounds = folder, sites, grafted, rounds
        folder.mkdir()
        rows = [f"T{n},s{n % sites},B{n // sites % 40},maple field T-graft,Ember Lace,100,{day}" for n, day in enumerate(grafted)]
        self.put("batches.csv", "batch,site,block,plan,scion,grafts,grafted_on", rows)

    def config(self, service=None, person=PERSON):
        """Written anew: with a weather service behind each site's file, or with nobody who gets letters."""
        sites = [SITE.format(number=n) + (SERVICE.format(service=service) if service else "") for n in range(self.sites)]
        path = self.folder / "graftwarden.toml"
        path.write_text(HEAD.format(rounds=self.rounds) + person + "".join(sites), encoding="utf-8")
        return path

    def temperatures(self, through, warmth):
        """Known from six weeks before the first grafting through that day; `warmth` gives the mean of each."""
        first = min(self.grafted) - 42 * DAY
        days = [first + n * DAY for n in range((through - first).days + 1)]
        rows = [f"{day},{warmth(day) - 6 + n % 7 / 4:.1f},{warmth(day) + 6 + n % 5 / 3:.1f}" for n, day in enumerate(days)]
        self.put("temperatures.csv", "date,tmin_c,tmax_c", rows)

    def records(self, rows):
        self.put("records.csv", "date,batch,what,count,by,remarks", sorted(rows))

    def put(self, name, heading, rows):
        (self.folder / name).write_text("\n".join([heading, *rows]) + "\n", encoding="utf-8")

    def letters(self):
        return set((self.folder / "letters").glob("*.eml"))


def mild(_day):
    return 18.0


def by_season(day):
    return 10 - 9 * math.cos((day.timetuple().tm_yday - 15) / 365 * 2 * math.pi)


def begun(folder):
    """A thousand batches on ten sites that a round has told of yesterday morning."""
    nursery = Nursery(folder, 10, [TODAY - (15 + n % 40) * DAY for n in range(1000)])
    nursery.records([])
    nursery.temperatures(TODAY - 2 * DAY, mild)
    at = datetime.combine(TODAY - DAY, datetime.min.time(), timezone.utc) + timedelta(hours=6)
    run("round", nursery.config(), "--at", at.isoformat())
    nursery.temperatures(TODAY - DAY, mild)
    return nursery


# ---- whole processes ----

def run(command, config, *arguments):
    """Seconds that one command takes, and seconds of CPU."""
    started = time.perf_counter()
    child = subprocess.Popen([PROGRAM, command, *arguments, "--config", config], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    said = child.stderr.read().decode()
    _, status, used = os.wait4(child.pid, 0)
    took = time.perf_counter() - started
    child.returncode = os.waitstatus_to_exitcode(status)
    child.stderr.close()
    if child.returncode != 0:
        sys.exit(f"{command} ended with {child.returncode}: {said}")
    return took, used.ru_utime + used.ru_stime


class Service:
    """The service as the unit starts it, and what it tells the service manager."""

    def __init__(self, config, watchdog=None):
        path = config.parent / "notify"
        path.unlink(missing_ok=True)
        self.ear = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.ear.bind(str(path))
        self.ear.settimeout(300)
        environment = {**os.environ, **OF_THE_UNIT, "NOTIFY_SOCKET": str(path)}
        environment.pop("WATCHDOG_PID", None)
        if watchdog:
            environment["WATCHDOG_USEC"] = str(int(watchdog * 1e6))
        self.started = time.perf_counter()
        self.child = subprocess.Popen([PROGRAM, "watch", "--config", config], stderr=subprocess.DEVNULL, env=environment)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.child.send_signal(signal.SIGTERM)
        self.child.wait(20)
        self.ear.close()

    def hear(self, word):
        """Seconds since the start until it says something that begins so."""
        while not any(line.startswith(word) for line in self.ear.recv(4096).decode().split("\n")):
            pass
        return time.perf_counter() - self.started

    def memory(self, line):
        """In MB, by the line of /proc/PID/status."""
        status = Path(f"/proc/{self.child.pid}/status").read_text(encoding="utf-8")
        return int(status.split(f"{line}:")[1].split()[0]) * 1024 / 1e6

    def cpu(self):
        """Seconds of CPU so far."""
        ticks = Path(f"/proc/{self.child.pid}/schedstat").read_text(encoding="utf-8")
        return int(ticks.split()[0]) / 1e9


# ---- services that do not answer ----

@contextmanager
def refusing():
    """A port on which nobody listens."""
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        yield f"http://127.0.0.1:{held.getsockname()[1]}"


@contextmanager
def black_hole():
    """A port at which connections are neither taken nor refused: its queue is full."""
    with socket.socket() as deaf:
        deaf.bind(("127.0.0.1", 0))
        deaf.listen(0)
        waiting = [socket.socket() for _ in range(4)]
        for one in waiting:
            one.setblocking(False)
            one.connect_ex(deaf.getsockname())
        time.sleep(0.1)
        yield f"http://127.0.0.1:{deaf.getsockname()[1]}"
        for one in waiting:
            one.close()


# ---- what is measured ----

def size(folder):
    stripped = folder / "stripped"
    shutil.copy(PROGRAM, stripped)
    subprocess.run(["strip", stripped], check=True)
    tell("binary, stripped", 20, stripped.stat().st_size / 1e6, "MB")


def at_rest(folder):
    nursery = begun(folder / "at-rest")
    ready = []
    with Service(nursery.config()) as service:
        ready.append(service.hear("READY=1"))
        service.hear("STATUS=at work on a round")
        service.hear("STATUS=")
        time.sleep(2)
        tell("memory at rest, after a round with letters", 30, service.memory("VmRSS"), "MB")
        note("the most it has been", service.memory("VmHWM"), "MB")
        note("of it its own, not the binary's pages", service.memory("RssAnon"), "MB")
    for _ in range(6):
        with Service(nursery.config()) as service:
            ready.append(service.hear("READY=1"))
            time.sleep(0.5)
    with Service(nursery.config()) as service:
        service.hear("READY=1")
        time.sleep(2)
        note("memory at rest, before any round", service.memory("VmRSS"), "MB")
    tell("start of watch to READY", 100, statistics.median(ready) * 1e3, "ms")
    with refusing() as service:
        ready = []
        for _ in range(5):
            with Service(nursery.config(service)) as service_asked:
                ready.append(service_asked.hear("READY=1"))
    tell("the same with a weather service for each site", 100, statistics.median(ready) * 1e3, "ms")
    due = [run("due", nursery.config())[0] for _ in range(9)]
    tell("due, 1,000 batches", 50, statistics.median(due) * 1e3, "ms")


def a_day(folder):
    """Rounds an hour apart, each in a process of its own, which is more than a service takes for them; and what it takes to
    look at the clock each minute, measured by a watchdog that wants to hear of it five times a second."""
    nursery = begun(folder / "a-day")
    config = nursery.config()
    midnight = datetime.combine(TODAY, datetime.min.time(), timezone.utc)
    rounds = sum(run("round", config, "--at", (midnight + timedelta(hours=n)).isoformat())[1] for n in range(24))
    shutil.rmtree(nursery.folder / "state")
    with Service(config, watchdog=0.8) as service:
        service.hear("READY=1")
        service.hear("STATUS=at work on a round")
        service.hear("STATUS=")
        before = service.cpu()
        for _ in range(100):
            service.hear("WATCHDOG=1")
        look = (service.cpu() - before) / 100
    tell("CPU of a day with 24 rounds", 2, rounds + 24 * 60 * look, "s")
    note("the rounds, each a process", rounds, "s")
    note("a look at the clock", look * 1e3, "ms")


def rehearsal(folder):
    """Twenty batches a year for ten years, with what was done to them."""
    first = date(2014, 1, 1)
    grafted = [date(2014 + n // 20, 7, 25) + n % 20 * DAY for n in range(200)]
    nursery = Nursery(folder / "rehearsal", 2, grafted, rounds="10 6 * * *")
    done = [("lines", 18), ("headed-back", 20), ("tape-off", 26), ("docked", 500), ("closed", 900)]
    nursery.records([f"{day + after * DAY},T{n},{what},,Maren Holt," for n, day in enumerate(grafted) for what, after in done])
    nursery.temperatures(date(2024, 1, 1), by_season)
    span = ["--from", str(first), "--to", "2023-12-31", "--letters", str(folder / "rehearsed")]
    took, _ = run("rehearse", nursery.config(person=""), *span)
    tell("rehearsal of ten years, 200 batches, nobody to write to", 5, took, "s")


def power_on(folder):
    for what, dead in [("refuse", refusing), ("are black holes", black_hole)]:
        nursery = begun(folder / f"power-on-{dead.__name__}")
        before = nursery.letters()
        with dead() as service, Service(nursery.config(service)) as watch:
            while nursery.letters() == before and time.perf_counter() - watch.started < 300:
                time.sleep(0.005)
            took = time.perf_counter() - watch.started
        tell(f"power on to the first letter, services that {what}", 1, took, "s")


MISSED = []


def tell(what, goal, found, unit):
    if found >= goal:
        MISSED.append(what)
    print(f"{what:<58} {found:9.2f} {unit:<3} goal {goal} {unit}{'' if found < goal else '  MISSED'}", flush=True)


def note(what, found, unit):
    print(f"  {what:<56} {found:9.2f} {unit}", flush=True)


if __name__ == "__main__":
    PROGRAM = str(Path(sys.argv[1]).resolve())
    wanted = sys.argv[2:] or ["size", "at_rest", "a_day", "rehearsal", "power_on"]
    with tempfile.TemporaryDirectory() as folder:
        for name in wanted:
            globals()[name](Path(folder))
    sys.exit(f"missed: {', '.join(MISSED)}" if MISSED else 0)
