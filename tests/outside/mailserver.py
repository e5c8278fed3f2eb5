"""Letters through a real mail server: Postfix and Dovecot, on loopback, with a certificate of a private authority.

What goes out, how a no is taken, and what happens where the line breaks at the worst moment. Each mail that arrives is
compared, byte for byte, with what the program had written down, and read by Python's own mail reader.
"""

import io
import re
import sys
import tempfile
from datetime import date
from email import policy
from email.parser import BytesParser
from pathlib import Path

from icalendar import Calendar
from PIL import Image

from common import Checks
from farm import Farm, smtp
from mailhouse import DOMAIN, PASSWORD, Cut, MailHouse, need_root

CROWD = [f"crew{number:02}" for number in range(1, 41)]
PEOPLE = ["maren", "jory", "wenna", "ilse", "orla", "petra", *CROWD]
TWO_MINUTES_LATER = "2026-07-27T06:12:00+02:00"
NEXT_DAY = "2026-07-28T06:10:00+02:00"


def as_delivered(data):
    """A letter as a server on this machine keeps it: its lines end in LF, and it has put lines of its own on top."""
    return data.replace(b"\r\n", b"\n")


def check_mail(checks, label, mail, farm, who):
    """One delivered mail: the bytes that the program had kept, and a letter that a mail reader can read."""
    (message_id, written), *_ = farm.letters(who)
    checks.check(mail.endswith(as_delivered(written)), f"{label}: arrives byte by byte as it was written down")
    letter = BytesParser(policy=policy.default).parsebytes(mail)
    checks.same(str(letter["Message-ID"]), f"<{message_id}>", f"{label}: its Message-ID")
    checks.same(letter["Auto-Submitted"], "auto-generated", f"{label}: Auto-Submitted")
    checks.same(letter["Return-Path"], f"<letters@{DOMAIN}>", f"{label}: bounces go to the sender of the config")
    checks.same(list(letter.defects), [], f"{label}: defects")
    text = letter.get_body(("plain",)).get_content()
    checks.check("C-14" in text and "look for callus lines" in text.lower(), f"{label}: its text is whole: {text[:300]!r}")
    page = letter.get_body(("html",)).get_content()
    checks.check("C-14" in page and page.rstrip().endswith("</html>"), f"{label}: its page is whole: {page[-100:]!r}")
    check_parts(checks, label, letter, page)


def check_parts(checks, label, letter, page):
    """The pictures and the dates that go along with a letter, each read by another program."""
    parts = {kind: [part for part in letter.walk() if part.get_content_type() == kind] for kind in
             ("multipart/alternative", "image/png", "text/calendar")}
    (both,) = parts["multipart/alternative"]
    checks.same(both.get_payload(0).get_content_type(), "text/plain", f"{label}: who reads no pages has the text first")
    shown = {f"<{name}>" for name in re.findall(r'src="cid:([^"]+)"', page)}
    checks.check(shown, f"{label}: the page shows a picture")
    checks.same({str(part["Content-ID"]) for part in parts["image/png"]}, shown, f"{label}: its pictures are those it shows")
    for part in parts["image/png"]:
        picture = Image.open(io.BytesIO(part.get_content()))
        picture.load()
        checks.check(picture.width >= 600 and len(picture.convert("RGB").getcolors(1 << 24)) > 3,
                     f"{label}: a picture with something on it, {picture.size}")
    (dates,) = parts["text/calendar"]
    calendar = Calendar.from_ical(dates.get_content())
    events = list(calendar.walk("VEVENT"))
    checks.same((str(calendar["METHOD"]), dates.get_param("method")), ("PUBLISH", "PUBLISH"), f"{label}: dates to be told, not asked")
    checks.check(events and all(type(event["DTSTART"].dt) is date for event in events), f"{label}: whole days in the calendar")


def told(outcome, words):
    return words in outcome.stderr + outcome.stdout


def ways_in(checks, house, folder):
    """Both ways to keep the line private, each with a password; and a server that nobody vouches for."""
    for security, port, who in (("starttls", house.starttls, "maren"), ("tls", house.tls, "jory")):
        farm = Farm(folder / security, [who], smtp(port, security))
        outcome = farm.round()
        checks.same(outcome.returncode, 75, f"{security}: stranger's certificate: the round ends with what waits")
        (_, carrier, state, tries, answer), *_ = farm.outbox()
        checks.same((carrier, state, tries), ("smtp", "waiting", 1), f"{security}: nothing goes to a server nobody vouches for")
        checks.check("while connecting" in answer and "certificate" in answer.lower(), f"{security}: and it says so: {answer!r}")
        checks.same(house.mailbox(who), [], f"{security}: no letter reached it")
        farm.round(TWO_MINUTES_LATER, house.authority)
        mails = house.wait_for_mail(who, 1)
        checks.same(len(mails), 1, f"{security}: one letter, one mail")
        check_mail(checks, security, mails[0], farm, who)
        checks.same([row[2:4] for row in farm.outbox()], [("sent", 2)], f"{security}: and it is written down as sent")
        head = mails[0].split(b"\n\n")[0]
        checks.check(b"ESMTPSA" in head, f"{security}: the server saw TLS and a login: {head!r}")


def own_authority(checks, house, folder):
    """A server that only the farm's own authority vouches for, as the config names it."""
    farm = Farm(folder / "authority", ["wenna"], smtp(house.starttls, "starttls"))
    farm.trust(house.authority)
    outcome = farm.round()
    checks.same(outcome.returncode, 0, f"ca_file: the round ends well: {outcome.stderr!r}")
    checks.same(len(house.wait_for_mail("wenna", 1)), 1, "ca_file: the letter goes to a server that it vouches for")
    checks.same([row[2:4] for row in farm.outbox()], [("sent", 1)], "ca_file: at the first try")


def wrong_password(checks, house, folder):
    farm = Farm(folder / "password", ["ilse"], 'folder = "letters"\n' + smtp(house.starttls, "starttls"))
    (farm.folder / "password").write_text("not this\n", encoding="utf-8")
    outcome = farm.round(authority=house.authority)
    checks.same(outcome.returncode, 75, "wrong password: the round ends with what waits")
    states = {carrier: (state, answer) for _, carrier, state, _, answer in farm.outbox()}
    checks.same(states["folder"], ("sent", ""), "wrong password: the other way out is taken all the same")
    checks.same(states["smtp"][0], "waiting", "wrong password: the letter waits")
    checks.check("at the login, said 535" in states["smtp"][1], f"wrong password: what the server said: {states['smtp']!r}")
    checks.same(house.mailbox("ilse"), [], "wrong password: nothing arrived")
    (farm.folder / "password").write_text(PASSWORD + "\n", encoding="utf-8")
    farm.round(TWO_MINUTES_LATER, house.authority)
    check_mail(checks, "the password mended", house.wait_for_mail("ilse", 1)[0], farm, "ilse")


def unknown_recipient(checks, house, folder):
    farm = Farm(folder / "unknown", ["gone", "orla"], smtp(house.tls, "tls"), trouble=["orla"])
    outcome = farm.round(authority=house.authority)
    found = {to.split("@")[0]: (state, answer) for to, _, state, _, answer in farm.outbox()}
    checks.same(found["gone"][0], "refused", "unknown: it is not tried again")
    checks.check("told sender and recipient, said 550" in found["gone"][1], f"unknown: why: {found['gone']!r}")
    checks.check(told(outcome, "the letter was refused") and told(outcome, f"gone@{DOMAIN}"), "unknown: the log says it")
    checks.same(found["orla"], ("sent", ""), "unknown: the others get theirs")
    check_mail(checks, "beside an unknown one", house.wait_for_mail("orla", 1)[0], farm, "orla")
    farm.round(NEXT_DAY, house.authority)
    text = BytesParser(policy=policy.default).parsebytes(house.wait_for_mail("orla", 2)[1]).get_body(("plain",)).get_content()
    flat = " ".join(text.split())
    checks.check(f"gone@{DOMAIN}" in flat and "550" in flat, f"unknown: whoever takes trouble is told: {flat[:600]!r}")


def greylisting(checks, house, folder):
    house.greylist.strangers.add(f"petra@{DOMAIN}")
    farm = Farm(folder / "greylist", ["petra"], smtp(house.starttls, "starttls"))
    farm.round(authority=house.authority)
    (_, _, state, tries, answer), *_ = farm.outbox()
    checks.same((state, tries), ("waiting", 1), "greylisted: the letter waits")
    checks.check("said 451" in answer and "Greylisted" in answer, f"greylisted: what the server said: {answer!r}")
    farm.round("2026-07-27T06:10:30+02:00", house.authority)
    checks.same([row[3] for row in farm.outbox()], [1], "greylisted: half a minute later it is left alone")
    farm.round(TWO_MINUTES_LATER, house.authority)
    mails = house.wait_for_mail("petra", 1)
    checks.same((len(mails), house.greylist.put_off), (1, [f"petra@{DOMAIN}"]), "greylisted: put off once, then taken")
    check_mail(checks, "greylisted", mails[0], farm, "petra")


def cut_after_data(checks, house, folder):
    """The server has the letter, its word is lost. The same bytes go out again: who looks for doubles throws the second
    away, and for everybody else it is a second copy of the very same letter."""
    for who, copies in (("uma", 1), ("twice", 2)):
        with Cut(house.plain, times=1) as line:
            farm = Farm(folder / who, [who], smtp(line.port, "none", user=None))
            farm.round()
            (_, _, state, _, answer), *_ = farm.outbox()
            checks.same((state, line.broken), ("waiting", 1), f"{who}: cut after the final dot, the letter waits")
            checks.check("the letter may have arrived and goes out again under the same Message-ID" in answer,
                         f"{who}: and the doubt is said: {answer!r}")
            house.wait_for_mail(who, 1)
            farm.round(TWO_MINUTES_LATER)
        mails = house.wait_for_mail(who, copies)
        checks.same([row[2] for row in farm.outbox()], ["sent"], f"{who}: the second time it is told so")
        checks.same(house.queued_for(who), 2, f"{who}: the server has had it twice")
        checks.same(len(mails), copies, f"{who}: mails in the box")
        for mail in mails:
            check_mail(checks, f"{who}, cut off", mail, farm, who)


def all_at_once(checks, house, folder):
    farm = Farm(folder / "crowd", CROWD, smtp(house.starttls, "starttls"))
    farm.round(authority=house.authority)
    checks.same({row[2:4] for row in farm.outbox()}, {("sent", 1)}, "forty at once: all sent at the first try")
    ids = set()
    for who in CROWD:
        mails = house.wait_for_mail(who, 1)
        checks.same(len(mails), 1, f"forty at once: one for {who}")
        check_mail(checks, f"forty at once, {who}", mails[0], farm, who)
        ids.update(str(BytesParser(policy=policy.default).parsebytes(mail)["Message-ID"]) for mail in mails)
    checks.same(len(ids), len(CROWD), "forty at once: each with a Message-ID of its own")


def main():
    need_root()
    checks = Checks("mailserver")
    with tempfile.TemporaryDirectory(dir="/tmp") as folder:
        folder = Path(folder)
        folder.chmod(0o755)
        with MailHouse(folder / "mail", ["letters", "uma", "twice", *PEOPLE], doubles=["twice"]) as house:
            for case in (ways_in, own_authority, wrong_password, unknown_recipient, greylisting, cut_after_data, all_at_once):
                case(checks, house, folder)
    checks.finish()


if __name__ == "__main__":
    sys.exit(main())
