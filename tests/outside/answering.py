"""Answers end to end: a letter, a reply as a phone writes it, a field record, a receipt, all by a real mail server.

`graftwarden watch` runs as it would on a farm. Its letters go out through Postfix into Dovecot's mailboxes; replies come
back through Postfix, and are found in the Maildir or, the second time, fetched by IMAP over TLS.
"""

import csv
import re
import shutil
import signal
import subprocess
import sys
import tempfile
from datetime import date, timedelta
from email import policy
from email.message import EmailMessage
from email.parser import BytesParser
from email.utils import formatdate, make_msgid
from pathlib import Path
from urllib.parse import parse_qs, unquote, urlsplit

from common import BINARY, Checks
from farm import Farm, environment, smtp
from mailhouse import DOMAIN, MailHouse, need_root

MAILDIR = '[answers]\naddress = "answers@{domain}"\nmaildir = "{maildir}"\n'
IMAP = ('[answers]\naddress = "answers@{domain}"\n[answers.imap]\nhost = "localhost"\nport = {port}\n'
        'user = "answers@{domain}"\npassword_file = "password"\n')
EACH_MINUTE = '[rounds]\nat = ["* * * * *"]\n'

# As a phone sends it that knows nothing but HTML: the answer on top, what was answered below.
PHONE = """<html><head><meta http-equiv="Content-Type" content="text/html; charset=utf-8"></head><body dir="auto">
<div dir="ltr">{said}</div><div dir="ltr"><br></div><div dir="ltr">Sent from the rows</div>
<div dir="ltr"><blockquote type="cite">On Monday, Alder Fold Nursery wrote:<br><br></blockquote></div>
<blockquote type="cite"><div dir="ltr">{quoted}<br>C-14 lost 90<br></div></blockquote></body></html>"""


def parse(data):
    return BytesParser(policy=policy.default).parsebytes(data)


def words(mail):
    return " ".join(mail.get_body(("plain",)).get_content().split())


def is_receipt(mail):
    return mail["Auto-Submitted"] == "auto-replied"


class Talk:
    """A farm whose program is running, and the people who write to it."""

    def __init__(self, house, folder, more, people, trouble):
        grafted = date.today() - timedelta(days=21)
        self.house = house
        self.farm = Farm(folder, people, smtp(house.starttls, "starttls", user="answers"), more=more + EACH_MINUTE, grafted=grafted,
                         batches=("C-14", "C-15"), trouble=trouble)
        self.farm.trust(house.authority)

    def __enter__(self):
        said = open(self.farm.folder / "said", "wb")
        self.watch = subprocess.Popen([BINARY, "watch", "--config", self.farm.config], stdout=said, stderr=said,
                                      env=environment(None))
        said.close()
        return self

    def __exit__(self, *_):
        self.watch.terminate()
        try:
            self.watch.wait(20)
        except subprocess.TimeoutExpired:
            self.watch.kill()

    def mails(self, who):
        return [parse(data) for data in self.house.mailbox(who)]

    def receipts(self, who):
        return [mail for mail in self.mails(who) if is_receipt(mail)]

    def wait_for(self, holds, otherwise, seconds=30):
        said = self.farm.folder / "said"
        self.house.wait_for(lambda: holds() or self.watch.poll() is not None, otherwise, seconds)
        if self.watch.poll() is not None:
            sys.exit(f"the program ended with {self.watch.returncode}: {said.read_text()[-2000:]}")

    def first_letter(self, who):
        """The first letter that asks somebody for something."""
        asking = lambda: [mail for mail in self.mails(who) if "C-14" in words(mail)]
        self.wait_for(asking, f"no letter for {who}")
        return asking()[0]

    def send(self, mail):
        """Hands a mail in and has the program look for it; returns once it is done with all there is."""
        self.house.hand_in(mail["From"].addresses[0].addr_spec, mail["To"].addresses[0].addr_spec, mail.as_bytes())
        self.house.settle()
        self.watch.send_signal(signal.SIGHUP)
        self.wait_for(self.all_read, "mails to answers@ stay unread", 90)
        self.house.settle()

    def all_read(self):
        """Whoever looks into the mailbox sees that each mail is done with; none is thrown away."""
        box = self.house.maildir("answers")
        new = list((box / "new").glob("*"))
        return not new and all("S" in path.name.rpartition(":2,")[2] for path in (box / "cur").glob("*"))

    def accepted(self):
        """What was written down, as it stands in the file that keeps it."""
        path = self.farm.folder / "state" / "accepted.csv"
        if not path.exists():
            return []
        with open(path, newline="", encoding="utf-8") as file:
            return [(row["batch"], row["what"], row["count"], row["by"]) for row in csv.DictReader(file)]


def reply(to, who, html=None, text=None, subject=None, headers=(), fresh=False):
    """A mail of that person; in answer to `to` unless it is a fresh one."""
    mail = EmailMessage()
    mail["From"] = f"{who.capitalize()} Holt <{who}@{DOMAIN}>"
    mail["Date"] = formatdate(localtime=True)
    mail["Message-ID"] = make_msgid(domain="phone.alderfold.example")
    mail["To"] = f"answers@{DOMAIN}" if fresh else str(to["Reply-To"])
    mail["Subject"] = subject or (f"Re: {to['Subject']}" if to is not None else "from the rows")
    if to is not None and not fresh:
        mail["In-Reply-To"] = mail["References"] = str(to["Message-ID"])
    for name, value in headers:
        mail[name] = value
    if html:
        mail.set_content(PHONE.format(said=html, quoted="Block C: look for callus lines"), subtype="html")
    else:
        mail.set_content(text)
    return mail


def tapped(letter, label, who):
    """The mail that a button of the letter opens, sent as it is."""
    page = letter.get_body(("html",)).get_content()
    links = re.findall(r'<a\b[^>]*\bhref="(mailto:[^"]+)"[^>]*>(.*?)</a>', page, re.S)
    found = [link for link, inside in links if re.sub(r"<[^>]+>", "", inside).strip() == label]
    if not found:
        return None
    link = urlsplit(found[0].replace("&amp;", "&"))
    asked = {name: values[0] for name, values in parse_qs(link.query.replace("+", "%2B")).items()}
    mail = reply(None, who, text=asked["body"].replace("\r\n", "\n") + "\n", subject=asked["subject"], fresh=True)
    mail.replace_header("To", unquote(link.path))
    return mail


def by_phone(checks, talk, label):
    """A reply that is HTML only, with what it answers quoted below."""
    letter = talk.first_letter("maren")
    token = str(letter["Message-ID"]).strip("<>").split("@")[0]
    checks.same(letter["Reply-To"].addresses[0].addr_spec, f"answers+{token}@{DOMAIN}", f"{label}: where answers go")
    mail = reply(letter, "maren", html="c14 lines 3/10")
    talk.send(mail)
    talk.wait_for(lambda: talk.receipts("maren"), f"{label}: no receipt")
    (receipt,) = talk.receipts("maren")
    checks.same(talk.accepted(), [("C-14", "lines", "3/10", "Maren Holt")], f"{label}: one record, nothing of what was quoted")
    checks.check("Written down" in str(receipt["Subject"]) and "C-14" in words(receipt), f"{label}: the receipt says it: {words(receipt)!r}")
    checks.same(str(receipt["In-Reply-To"]), str(mail["Message-ID"]), f"{label}: the receipt answers the mail")
    kept = talk.farm.ask("SELECT what, count, done_by FROM record WHERE gone IS NULL OR gone = 0")
    checks.check(any(row[0] == "lines" for row in kept), f"{label}: and it counts: {kept!r}")
    return mail, receipt


def no_loop(checks, talk, mail, receipt, label):
    """Absence notes, and the same mail once more: nothing is written, nobody is answered."""
    before = talk.accepted(), len(talk.receipts("maren"))
    absent = [("Auto-Submitted", "auto-replied"), ("Precedence", "bulk")]
    talk.send(reply(receipt, "maren", text="I am away until Monday. C-14 done\n", headers=absent))
    checks.same((talk.accepted(), len(talk.receipts("maren"))), before, f"{label}: a program's mail is not answered")
    talk.send(mail)
    checks.same((talk.accepted(), len(talk.receipts("maren"))), before, f"{label}: a mail that comes twice is recorded once")


def by_button(checks, talk):
    letter = talk.first_letter("jory")
    mail = tapped(letter, "Lines showing", "jory")
    if checks.check(mail is not None, "the letter has a button for lines"):
        talk.send(mail)
        talk.wait_for(lambda: talk.receipts("jory"), "no receipt for a button")
        found = [row for row in talk.accepted() if row[3] == "Jory Holt"]
        checks.same(sorted(row[:2] for row in found), [("C-14", "lines"), ("C-15", "lines")], "a tap: what the letter asked for")


def forged(checks, talk):
    """A fresh mail with a known address: anybody can write that. It waits for a yes in answer to its receipt."""
    before = talk.accepted()
    receipts = len(talk.receipts("maren"))
    talk.send(reply(None, "maren", text="C-15 lost 5\n", fresh=True))
    talk.wait_for(lambda: len(talk.receipts("maren")) > receipts, "no receipt for a mail that is held")
    receipt = talk.receipts("maren")[-1]
    checks.same(talk.accepted(), before, "forged: nothing is written down")
    checks.check("confirm" in str(receipt["Subject"]).lower(), f"forged: the receipt asks: {receipt['Subject']!r}")
    talk.send(reply(receipt, "maren", text="yes\n"))
    talk.wait_for(lambda: len(talk.receipts("maren")) > receipts + 1, "no receipt for a yes")
    added = [row for row in talk.accepted() if row not in before]
    checks.same(added, [("C-15", "lost", "5", "Maren Holt")], "confirmed: now it is written down")


def stranger(checks, talk):
    before = talk.accepted()
    mail = reply(None, "maren", text="C-14 lost 50\n", fresh=True)
    mail.replace_header("From", "Somebody <somebody@elsewhere.example>")
    talk.send(mail)
    checks.same(talk.accepted(), before, "a stranger: nothing is written down")
    log = (talk.house.folder / "maillog").read_text(errors="replace")
    checks.check("from=<somebody@elsewhere.example>" in log, "a stranger: the mail did come")
    checks.check("to=<somebody@elsewhere.example>" not in log, "a stranger: is not answered")
    telling = lambda: [mail for mail in talk.mails("maren") if "somebody@elsewhere.example" in words(mail)]
    talk.wait_for(telling, "nobody is told of a stranger's mail", 100)
    checks.check(not is_receipt(telling()[0]), "a stranger: whoever takes trouble is told")


def large(checks, talk, label):
    """Thirty megabytes of pictures: said, and nothing of it is read."""
    before = talk.accepted()
    mail = reply(talk.first_letter("maren"), "maren", text="C-14 lost 7\n")
    mail.add_attachment(b"\x89PNG" + bytes(22_000_000), maintype="image", subtype="png", filename="row.png")
    checks.check(len(mail.as_bytes()) > 29_000_000, f"{label}: the mail is large")
    receipts = len(talk.receipts("maren"))
    talk.send(mail)
    talk.wait_for(lambda: len(talk.receipts("maren")) > receipts, f"{label}: no receipt for a large mail")
    text = words(talk.receipts("maren")[-1])
    checks.same(talk.accepted(), before, f"{label}: nothing of a large mail is written down")
    checks.check(re.search(r"\b(29|30|31) MB", text), f"{label}: and it is said how large it is: {text[:400]!r}")


def bounced(checks, talk):
    """Ilse has no mailbox, which the server finds out after it has taken her letter: the others are told, for once."""
    telling = lambda: [mail for mail in talk.mails("maren") if f"ilse@{DOMAIN}" in words(mail)]
    talk.wait_for(telling, "nobody is told that a letter came back", 100)
    text = words(telling()[0])
    checks.check("come back" in text and "gets no mail" in text, f"a bounce: what is told: {text[:600]!r}")
    checks.same(len(talk.house.mailbox("ilse")), 0, "a bounce: she got nothing")
    talk.watch.send_signal(signal.SIGHUP)
    checks.same(len(telling()), 1, "a bounce: told once")


def open_mailbox(house):
    """The Maildir, as the mail server would make it at the first mail."""
    box = house.maildir("answers")
    for path in (box, box / "new", box / "cur", box / "tmp"):
        path.mkdir()
        shutil.chown(path, "mail", "mail")


def main():
    need_root()
    checks = Checks("answering")
    users = ["answers", "maren", "jory"]
    with tempfile.TemporaryDirectory(dir="/tmp") as folder:
        folder = Path(folder)
        folder.chmod(0o755)
        for way in ("maildir", "imap"):
            with MailHouse(folder / f"mail-{way}", users, {"letters": "answers"}, doubles=["answers"],
                           homeless=["ilse"]) as house:
                open_mailbox(house)
                config = {"maildir": MAILDIR, "imap": IMAP}[way].format(
                    domain=DOMAIN, maildir=house.maildir("answers"), port=house.imaps)
                with Talk(house, folder / f"farm-{way}", config, ["maren", "jory", "ilse"], trouble=["maren"]) as talk:
                    mail, receipt = by_phone(checks, talk, way)
                    no_loop(checks, talk, mail, receipt, way)
                    if way == "maildir":
                        by_button(checks, talk)
                        forged(checks, talk)
                        stranger(checks, talk)
                        bounced(checks, talk)
                    large(checks, talk, way)
    checks.finish()


if __name__ == "__main__":
    sys.exit(main())
