"""The calendars that letters of a rehearsed season carry, read by Python's icalendar."""

import shutil
import sys
import tempfile
import tomllib
from datetime import date, datetime, timedelta
from email import policy
from email.parser import BytesParser
from email.utils import parseaddr
from pathlib import Path

from icalendar import Calendar

from common import DEMO, ROOT, Checks, graftwarden, json_lines

# These come again and again, each time as an entry of its own.
AGAIN = {"look again", "check ties, rub off suckers"}

# The logger on the hill was silent on 15 and 16 August: the letter of the 17th could not know what `due` knows since.
SILENT = ("hill", "2026-08-17")


def step_titles():
    """Titles of steps by plan and id."""
    plans = [tomllib.loads(path.read_text(encoding="utf-8")) for path in (ROOT / "config" / "plans").glob("*.toml")]
    return {(plan["name"], step["id"]): step["title"] for plan in plans for step in plan["step"]}


class Letter:
    """A letter and its calendar, if it has one."""

    def __init__(self, path):
        self.mail = BytesParser(policy=policy.default).parsebytes(path.read_bytes())
        self.to = parseaddr(str(self.mail["To"]))[1]
        self.id = str(self.mail["Message-ID"])
        self.sent = self.mail["Date"].datetime
        self.parts = [part for part in self.mail.walk() if part.get_content_type() == "text/calendar"]
        self.raw = self.parts[0].get_payload(decode=True) if self.parts else None
        self.calendar = Calendar.from_ical(self.raw) if self.parts else None
        self.events = list(self.calendar.walk("VEVENT")) if self.parts else []


def rehearse(config, letters, *more):
    notices = json_lines(graftwarden("rehearse", "--config", config, "--letters", letters, "--json", *more))
    found = [Letter(path) for path in letters.rglob("*.eml")]
    return notices, sorted(found, key=lambda letter: (letter.sent, letter.to))


def batches(event):
    """The names of the batches of an entry, which stand first on the lines below its dates."""
    lines = str(event["DESCRIPTION"]).split("\n")
    return {line.split(" ")[0] for line in lines if not line.startswith(("Opens ", "Open since", "Closes ", "It closed", "and "))}


def what(event):
    """The step of "Block C at home: head back, foreseen (2 batches, 310 grafts)"."""
    text = str(event["SUMMARY"]).split(": ", 1)[1].rsplit(" (", 1)[0].split(", by ")[0]
    return text.removesuffix(", done").removesuffix(", foreseen")


def check_form(checks, letter):
    """One calendar of a letter."""
    label = f"{letter.sent:%m-%d} to {letter.to}"
    checks.same(len(letter.parts), 1, f"{label}: one calendar")
    method = letter.parts[0]["Content-Type"].params.get("method")
    checks.same(method, "PUBLISH", f"{label}: the method stands on the part too")
    check_calendar(checks, letter.raw, letter.sent, label)


def check_calendar(checks, raw, written, label):
    """What the standard asks of one calendar, and what we promise beside."""
    calendar = Calendar.from_ical(raw)
    events = list(calendar.walk("VEVENT"))
    found = [str(calendar.get(name)) for name in ("METHOD", "VERSION", "X-WR-CALNAME")]
    checks.same(found, ["PUBLISH", "2.0", "Alder Fold Nursery"], f"{label}: head")
    checks.check("PRODID" in calendar and not calendar.errors, f"{label}: errors {calendar.errors}")
    checks.check(all(len(line) <= 75 for line in raw.split(b"\r\n")), f"{label}: a line of over 75 bytes")
    bare = raw.replace(b"\r\n", b"")
    checks.check(b"\r" not in bare and b"\n" not in bare, f"{label}: lines end in CR LF")
    checks.same({c.name for c in calendar.subcomponents}, {"VEVENT"}, f"{label}: entries only")
    uids = [str(event["UID"]) for event in events]
    checks.same(len(set(uids)), len(uids), f"{label}: each UID once")
    for event in events:
        entry = f"{label}, {event.get('SUMMARY')}"
        checks.same(event.errors, [], f"{entry}: errors")
        start, end = event.decoded("DTSTART"), event.decoded("DTEND")
        whole = type(start) is date and type(end) is date
        checks.check(whole and start < end, f"{entry}: whole days, {start} before {end}")
        checks.same(event.decoded("DTSTAMP"), written, f"{entry}: stamp")
        checks.check(str(event["UID"]).endswith("@alderfold.example"), f"{entry}: UID")
        checks.same(str(event["TRANSP"]), "TRANSPARENT", f"{entry}: takes no time")
        checks.check(str(event["STATUS"]) in ("CONFIRMED", "CANCELLED"), f"{entry}: status")


def content(event):
    names = ("DTSTART", "DTEND", "SUMMARY", "DESCRIPTION", "STATUS")
    return tuple(event[name].dt if name.startswith("DT") else str(event[name]) for name in names)


def check_sequences(checks, letters):
    """One person's phone: numbers rise with each change, and what it shows of days to come is in every letter."""
    held, moved, ended = {}, 0, 0
    uids = {}
    for letter in letters:
        label = f"{letter.sent:%m-%d} to {letter.to}"
        now = {str(event["UID"]): event for event in letter.events}
        for uid, event in now.items():
            entry = f"{label}, {event['SUMMARY']}"
            if uid in held:
                before = held[uid]
                rise = int(event["SEQUENCE"]) - int(before["SEQUENCE"])
                checks.same(rise, int(content(event) != content(before)), f"{entry}: rise of SEQUENCE")
                moved += content(event)[:2] != content(before)[:2]
                ended += ", done (" in event["SUMMARY"] and ", done (" not in before["SUMMARY"]
            else:
                checks.same(int(event["SEQUENCE"]), 0, f"{entry}: begins at 0")
            if what(event) not in AGAIN:
                for batch in batches(event):
                    uids.setdefault((batch, what(event)), set()).add(uid)
        shown = [uid for uid, event in held.items() if event.decoded("DTEND") > letter.sent.date() and event["STATUS"] != "CANCELLED"]
        checks.same([uid for uid in shown if uid not in now], [], f"{label}: entries of days to come that it leaves out")
        held.update(now)
    for key, found in uids.items():
        checks.same(len(found), 1, f"{letters[0].to}: {key} has one UID in all letters")
    return moved, ended, set(held)


def check_openings(checks, letters, notices, titles, register):
    """Each window told as opened begins in the calendar of that very letter on the day that the notice names."""
    by_id = {(letter.to, letter.id): letter for letter in letters}
    found = 0
    for notice in notices:
        if notice["kind"] != "opens" or notice["step"] == "look-again":
            continue
        title = titles[register[notice["batch"].split("/")[0]], notice["step"]]
        for to, message_id in zip(notice["to"], notice["letter"]):
            letter = by_id[to, message_id]
            events = [e for e in letter.events if what(e) == title and notice["batch"] in batches(e)]
            starts = [event.decoded("DTSTART").isoformat() for event in events]
            long_ago = date.fromisoformat(notice["on"]) < letter.sent.date() - timedelta(days=1)
            if title in AGAIN or (not starts and long_ago):
                continue
            found += checks.same(starts, [notice["on"]], f"{letter.sent:%m-%d} to {to}: {notice['batch']} {title}")
    checks.check(found > 50, f"openings compared: {found}")


def check_outlook(checks, letters, titles):
    """What `due` says of windows to come, with the middle of its outlook, against the letters of the mornings after."""
    compared = 0
    for letter in letters:
        day = letter.sent.date()
        if letter.to != "maren@alderfold.example" or letter.calendar is None or day.weekday() != 0:
            continue
        due = json_lines(graftwarden("due", "--config", DEMO / "graftwarden.toml", "--on", (day - timedelta(days=1)).isoformat(), "--json"))
        for batch in due:
            if "batch" not in batch or batch["grafted_on"] >= day.isoformat():
                continue
            if (batch["site"], day.isoformat()) == SILENT:
                continue
            for step in batch["steps"]:
                about = step.get("opens_about")
                if step["step"] not in ("callus-check", "tape-off") or step["state"] != "ahead" or not about["p50"]:
                    continue
                title = titles[batch["plan"], step["step"]]
                events = [e for e in letter.events if what(e) == title and batch["batch"] in batches(e)]
                near = date.fromisoformat(about["p50"]) <= day + timedelta(days=21)
                expected = [about["p50"]] if near else []
                starts = [event.decoded("DTSTART").isoformat() for event in events]
                compared += checks.same(starts, expected, f"{day}: {batch['batch']} {title} by due")
    checks.check(compared > 20, f"windows to come compared: {compared}")


def demo(checks, folder):
    notices, letters = rehearse(DEMO / "graftwarden.toml", folder / "letters")
    with_dates = [letter for letter in letters if letter.calendar is not None]
    checks.check(len(with_dates) > 50, f"letters with dates: {len(with_dates)}")
    for letter in with_dates:
        check_form(checks, letter)
    titles = step_titles()
    rows = (line.split(",") for line in (DEMO / "batches.csv").read_text(encoding="utf-8").splitlines())
    register = {row[0]: row[3] for row in rows}
    everybody = []
    moved = ended = 0
    for person in sorted({letter.to for letter in with_dates}):
        theirs = [letter for letter in with_dates if letter.to == person]
        counts = check_sequences(checks, theirs)
        moved, ended = moved + counts[0], ended + counts[1]
        everybody.append(counts[2])
    checks.check(moved > 20 and ended > 10, f"moved {moved}, ended {ended}")
    checks.same(len(set.union(*everybody)), sum(map(len, everybody)), "a UID of two persons")
    check_openings(checks, letters, notices, titles, register)
    check_outlook(checks, letters, titles)


def closed(checks, folder):
    """A batch that is closed while its windows are to come: they are cancelled, in each letter until the days are over on
    which they were ever said to be."""
    nursery = folder / "closed"
    shutil.copytree(DEMO, nursery, ignore=shutil.ignore_patterns("state"))
    with open(nursery / "records.csv", "a", encoding="utf-8") as records:
        records.write("2026-08-04,C2,closed,,,\n")
    _, letters = rehearse(nursery / "graftwarden.toml", folder / "closed-letters", "--to", "2026-08-31")
    theirs = [letter for letter in letters if letter.to == "jory@alderfold.example" and letter.calendar is not None]
    check_sequences(checks, theirs)
    upto = {}
    for letter in theirs:
        day, label = letter.sent.date(), f"C2 closed, {letter.sent:%m-%d}"
        events = {str(event["UID"]): event for event in letter.events if "C2" in batches(event)}
        if day <= date(2026, 8, 4):
            for uid, event in events.items():
                upto[uid] = max(upto.get(uid, date.min), event.decoded("DTEND"))
            continue
        to_come = [uid for uid, end in upto.items() if end > day]
        checks.same(sorted(events), sorted(to_come), f"{label}: entries of C2")
        checks.same([str(e["STATUS"]) for e in events.values()], ["CANCELLED"] * len(events), f"{label}: status")
    checks.check(len(upto) >= 3, f"C2 closed: {len(upto)} entries before")


HOSTILE = ['"Row 1, 2; 3"', '"Row\\, \\n; x"', '"Row\r\nEND:VEVENT\r\nBEGIN:VEVENT\r\nSUMMARY:x"', "Row\u2028x", "Baum 🌳 " * 12]


def hostile(checks, folder):
    """Names that try to become lines of the calendar, each as the block of a nursery of its own."""
    nursery = folder / "hostile"
    shutil.copytree(DEMO, nursery, ignore=shutil.ignore_patterns("state"))
    (nursery / "records.csv").write_text("date,batch,what,count,by,remarks\n", encoding="utf-8")
    for number, name in enumerate(HOSTILE):
        row = f"A1,home,{name},maple field T-graft,Ember Lace,Acer palmatum,usual,90,2026-07-06\n"
        head = "batch,site,block,plan,scion,understock,vigour,grafts,grafted_on\n"
        (nursery / "batches.csv").write_bytes((head + row).encode("utf-8"))
        _, letters = rehearse(nursery / "graftwarden.toml", folder / f"hostile-{number}", "--to", "2026-07-31")
        dated = [letter for letter in letters if letter.calendar is not None]
        checks.check(dated, f"{name!r}: letters with dates")
        for letter in dated:
            check_form(checks, letter)
            for event in letter.events:
                begins = str(event["SUMMARY"]).startswith("Block Row") or "Baum 🌳 Baum" in event["SUMMARY"]
                checks.check(begins and " at home: " in event["SUMMARY"], f"{name!r} in {event['SUMMARY']!r}")


def main():
    checks = Checks("calendars")
    with tempfile.TemporaryDirectory() as folder:
        demo(checks, Path(folder))
        closed(checks, Path(folder))
        hostile(checks, Path(folder))
    checks.finish()


if __name__ == "__main__":
    sys.exit(main())
