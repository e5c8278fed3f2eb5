"""Kills a round, one that mends its memory, one that takes an answer, and a note, at each of its writing and syncing system calls in turn, and runs it again.

A clean run says which calls there are on the nursery's own files; strace must count the same. Each of them is then the
last thing that a run on a fresh copy gets to before SIGKILL (the call itself is not made). After that an ordinary run must
end where the clean one did: the same notices, letters and rows, nothing lost and nothing twice. Only the first round makes
the day's backup: there the calls of that are killed too, of those that write page after page every tenth.
"""

import csv
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

import tracing
from common import BINARY, DEMO, Checks, graftwarden

CALLS = ["write", "writev", "pwrite64", "pwritev", "fsync", "fdatasync", "ftruncate", "rename", "renameat", "renameat2",
         "unlink", "unlinkat", "mkdir", "mkdirat"]
COPY_OF = "{}/state/backups/.graftwarden.db.part"
FRIDAY, MONDAY = "2026-08-07", "2026-08-10"
# To so many bytes the memory is cut off.
DAMAGED = 20_000


def at(day):
    return ["--at", f"{day}T06:10:00+02:00"]


# ---- a small nursery ----

def lay_out(folder, day):
    """The files of the demo as they would have stood on the morning of `day`; the state is left alone."""
    folder.mkdir(exist_ok=True)
    shutil.copy(DEMO / "graftwarden.toml", folder)
    for name, column in (("batches.csv", "grafted_on"), ("records.csv", "date"), ("temperatures-home.csv", "date"),
                         ("temperatures-hill.csv", "date")):
        with open(DEMO / name, newline="", encoding="utf-8") as file:
            reader = csv.DictReader(file)
            rows = [row for row in reader if row[column] < day]
        with open(folder / name, "w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, reader.fieldnames)
            writer.writeheader()
            writer.writerows(rows)


def backed_up(folder, day):
    """The day's backup is there already, so that a round makes none. (What stands in it is of an earlier day.)"""
    shutil.copy(folder / "state" / "graftwarden.db", folder / "state" / "backups" / f"graftwarden-{day}.db")


def renew(base, folder):
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(base, folder)


def outcome(folder, with_bytes):
    """All that a run leaves behind, in a form that can be compared."""
    (database,) = (folder / "state").glob("*.db")
    connection = sqlite3.connect(database)
    try:
        ask = lambda sql: sorted(map(repr, connection.execute(sql).fetchall()))
        found = {
            "integrity": ask("PRAGMA integrity_check"),
            "notices": ask("SELECT key, kind, subject, step, anchor, n, on_day, until_day, level, told_on, round_at FROM notice"),
            "carried": ask("SELECT n.key, l.recipient, l.subject FROM letter_notice JOIN notice n ON n.id = notice "
                           "JOIN letter l ON l.id = letter"),
            "outbox": ask("SELECT l.recipient, l.subject, o.carrier, o.state FROM outbox o JOIN letter l ON l.id = o.letter"),
            "days": ask("SELECT site, source, date, min, max, origin FROM day"),
            "batches": ask("SELECT name, gone, grafts, grafted_on FROM batch"),
            "records": ask("SELECT identity, gone, date, batch, block, what, count, of FROM record"),
            "answers": ask("SELECT mail, sender, state, receipt IS NULL, record, undone FROM answer "
                           "LEFT JOIN answer_record ON answer = answer.id"),
        }
        if with_bytes:
            # Their bytes are those of the files: the memory lets go of them in the next round.
            found["letters"] = ask("SELECT message_id FROM letter")
    finally:
        connection.close()
    letters = folder / "state" / "letters"
    files = {path.name: path.read_bytes() for path in letters.rglob("*")} if letters.exists() else {}
    found["files"] = sorted(files.items()) if with_bytes else len(files)
    backups = folder / "state" / "backups"
    found["backups"] = sorted(path.name for path in backups.iterdir()) if backups.exists() else []
    found["mails"] = sorted(str(path.relative_to(folder)) for path in (folder / "mail").rglob("*") if path.is_file())
    return found


def answer(folder):
    """An answer to the newest letter, in a mailbox that the config names."""
    (database,) = (folder / "state").glob("*.db")
    connection = sqlite3.connect(database)
    message_id, recipient = connection.execute("SELECT message_id, recipient FROM letter ORDER BY id DESC").fetchone()
    connection.close()
    for name in ("new", "cur", "tmp"):
        (folder / "mail" / name).mkdir(parents=True)
    with open(folder / "graftwarden.toml", "a", encoding="utf-8") as config:
        config.write('\n[answers]\naddress = "answers@alderfold.example"\nmaildir = "mail"\n')
    mail = (f"From: {recipient}\r\nTo: answers+{message_id.split('@')[0]}@alderfold.example\r\n"
            "Message-ID: <1@phone.example>\r\nDate: Mon, 10 Aug 2026 05:50:00 +0200\r\n\r\n"
            "C2 looked 9 Aug\r\nC2 suckers rubbed 9 Aug\r\n")
    (folder / "mail" / "new" / "1").write_bytes(mail.encode())


# ---- the calls ----

def calls_by_strace(command, work, log):
    """How many calls of each kind a clean run makes on files below `work`, as strace counts them."""
    done = subprocess.run(["strace", "-f", "-qq", "-y", "-s", "0", "-o", str(log),
                           "-e", "trace=" + ",".join("?" + call for call in CALLS), BINARY, *map(str, command)],
                          capture_output=True, text=True)
    kinds = Counter()
    for line in log.read_text(encoding="utf-8", errors="replace").splitlines():
        match = re.match(r"^\d+\s+(\w+)\((.*)$", line)
        path = match and (re.match(r"\d+<([^>]*)>", match[2]) or re.search(r'"([^"]*)"', match[2]))
        if path and path[1].startswith(str(work)):
            kinds[match[1]] += 1
    return done, kinds


class Trial:
    """One command, run on copies of one nursery that always stand at the same place."""

    def __init__(self, checks, label, base, work, command):
        self.checks, self.label, self.base, self.work, self.command = checks, label, base, work, command

    def run(self, after):
        """Kills at every call of a clean run and hands what was said to `after`."""
        checks, label = self.checks, self.label
        renew(self.base, self.work)
        done, kinds = calls_by_strace(self.command, self.work, self.work.with_suffix(".strace"))
        checks.same(done.returncode, 0, f"{label}: a clean run under strace; it said {done.stderr[-500:]!r}")
        renew(self.base, self.work)
        clean = tracing.run([BINARY, *self.command], CALLS, self.work)
        checks.same(clean.status, 0, f"{label}: a clean run that is traced")
        # A new store draws a secret, so that how many of its pages change differs a little from run to run.
        found, pages = Counter(call for call, _ in clean.calls), kinds["pwrite64"]
        checks.near(found.pop("pwrite64"), pages, pages / 20, f"{label}: its pages written, as strace counts them")
        checks.same(found, kinds - Counter(pwrite64=pages), f"{label}: its other calls, as strace counts them")
        print(f"{label}: {len(clean.calls)} calls on its files: "
              + ", ".join(f"{times} {call}" for call, times in sorted(kinds.items())))
        checks.check(len(clean.calls) > 0, f"{label}: writes something")
        number = 0
        while True:
            number += 1
            if number % 10 and clean.calls[number - 1:number + 1].count(("pwrite64", COPY_OF.format(self.work))) == 2:
                continue  # page after page of a copy: every tenth is enough
            renew(self.base, self.work)
            killed = tracing.run([BINARY, *self.command], CALLS, self.work, kill_at=number)
            if killed.status != -signal.SIGKILL:
                break
            if checks.same(len(killed.calls), number, f"{label}: killed at call {number}"):
                call, path = killed.calls[-1]
                after(f"{label}: killed at call {number}, {call} {Path(path).name}", killed)
        checks.same(killed.status, 0, f"{label}: not reached at call {number}, it ends well")
        checks.check(abs(number - 1 - len(clean.calls)) <= len(clean.calls) / 20,
                     f"{label}: {number - 1} calls, a clean run had {len(clean.calls)}")


# ---- what is killed ----

def check_outcome(checks, short, found, expected):
    for name, value in expected.items():
        if found[name] == value:
            checks.check(True, short)
        else:
            found_, value_ = (list(map(str, x)) if isinstance(x, list) else [str(x)] for x in (found[name], value))
            lost, more = Counter(value_) - Counter(found_), Counter(found_) - Counter(value_)
            cut = lambda counter: [text[:200] for text in list(counter.elements())[:3]]
            checks.check(False, f"{short}: {name}: missing {cut(lost)}, too many {cut(more)}")


def kill_round(checks, label, base, work, day, with_bytes, then=lambda short: None):
    command = ["round", "--config", work / "graftwarden.toml", *at(day)]
    renew(base, work)
    graftwarden(*command)
    expected = outcome(work, with_bytes)
    checks.check(len(expected["notices"]) > 0 and expected["files"], f"{label}: the clean round has something to say")
    checks.check(all("'sent'" in row for row in expected["outbox"]), f"{label}: the clean round sends it all")

    found_after_kills = set()

    def after(short, _):
        found_after_kills.add(how_far(work, expected, work.with_name("looked-at")))
        again = graftwarden(*command, ok=False)
        if checks.same(again.returncode, 0, f"{short}: the next round; it said {again.stderr[-300:]!r}"):
            check_outcome(checks, short, outcome(work, with_bytes), expected)
            then(short)

    Trial(checks, label, base, work, command).run(after)
    checks.same(sorted(found_after_kills), ["all told and sent", "nothing told", "told and not all sent"],
                f"{label}: the kills fell before, between and after what counts")


def how_far(work, expected, copy):
    """How far a killed run had come, seen in a copy: looking would mend the store."""
    renew(work, copy)
    try:
        found = outcome(copy, False)
    except (sqlite3.Error, ValueError):
        return "nothing told"  # there is no store yet, or one without tables
    if len(found["notices"]) < len(expected["notices"]):
        return "nothing told"
    sent = all("'sent'" in row for row in found["outbox"])
    return "all told and sent" if sent else "told and not all sent"


def kill_note(checks, base, work):
    """What `note` confirmed is there; what it did not confirm is there whole or not at all, and can be noted again."""
    note = ["note", "C2", "looked", "--config", work / "graftwarden.toml", "--on", "2026-08-09", "--by", "Jory",
            "--remarks", "quiet"]
    a_round = ["round", "--config", work / "graftwarden.toml", *at(MONDAY)]
    of_c2 = lambda: [row for row in outcome(work, False)["records"] if "'C2', None, 'looked'" in row]
    renew(base, work)
    checks.check(graftwarden(*note).strip(), "note: confirms what it wrote")
    checks.same(len(of_c2()), 1, "note: a clean note is in the store")
    graftwarden(*a_round)
    checks.same(len(of_c2()), 1, "note: and is one record after a round as well")

    def after(short, done):
        confirmed = bool(done.said.strip())
        checks.same(graftwarden(*a_round, ok=False).returncode, 0, f"{short}: the next round")
        found = len(of_c2())
        checks.check(found == 1 or (found == 0 and not confirmed),
                     f"{short}: {found} records after a round, confirmed: {confirmed}")
        accepted = work / "state" / "accepted.csv"
        text = accepted.read_text(encoding="utf-8") if accepted.exists() else ""
        checks.check(not text or text.count("C2,looked") <= 1, f"{short}: at most one line in accepted.csv: {text!r}")
        if found == 0:
            checks.same(graftwarden(*note, ok=False).returncode, 0, f"{short}: the note again")
            graftwarden("round", "--config", work / "graftwarden.toml", "--at", f"{MONDAY}T06:11:00+02:00")
            checks.same(len(of_c2()), 1, f"{short}: one record when noted again")

    Trial(checks, "note", base, work, note).run(after)


def main():
    checks = Checks("kill")
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder).resolve()
        work = folder / "nursery"

        fresh = folder / "fresh"
        lay_out(fresh, MONDAY)
        kill_round(checks, "first round", fresh, work, MONDAY, with_bytes=False)

        running = folder / "running"
        lay_out(running, FRIDAY)
        graftwarden("round", "--config", running / "graftwarden.toml", *at(FRIDAY))
        lay_out(running, MONDAY)
        backed_up(running, MONDAY)
        kill_round(checks, "round", running, work, MONDAY, with_bytes=True)

        damaged = folder / "damaged"
        shutil.copytree(running, damaged)
        with open(damaged / "state" / "graftwarden.db", "r+b") as database:
            database.truncate(DAMAGED)

        def kept_aside(short):
            kept = [path.stat().st_size for path in (work / "state").glob("graftwarden.db.damaged-*")]
            left = [path.name for path in (work / "state").iterdir() if path.name.endswith((".part", ".put-back"))]
            checks.same((kept.count(DAMAGED), left), (1, []), f"{short}: what was damaged is kept once, and nothing is left")

        kill_round(checks, "round that mends", damaged, work, MONDAY, with_bytes=True, then=kept_aside)

        answered = folder / "answered"
        shutil.copytree(running, answered)
        answer(answered)
        kill_round(checks, "round with an answer", answered, work, MONDAY, with_bytes=True)
        renew(answered, work)
        graftwarden("round", "--config", work / "graftwarden.toml", *at(MONDAY))
        taken = outcome(work, False)
        checks.same((taken["mails"], len([row for row in taken["records"] if "mail-" in row])), (["mail/cur/1:2,S"], 2),
                    "an answer is taken, and its mail marked")
        kill_note(checks, running, work)
    checks.finish()


if __name__ == "__main__":
    sys.exit(main())
