"""The letters of a rehearsal, read by Python's own mail reader."""

import shutil
import sys
import tempfile
from collections import Counter
from email import policy
from email.parser import BytesParser
from email.utils import parseaddr
from pathlib import Path

from common import DEMO, Checks, graftwarden, json_lines

REQUIRED = ["Date", "From", "To", "Subject", "Message-ID", "Auto-Submitted", "MIME-Version", "Content-Type"]
ALLOWED = {name.lower() for name in REQUIRED} | {"content-transfer-encoding", "in-reply-to", "references"}


def rehearse(config, letters, *more):
    notices = json_lines(graftwarden("rehearse", "--config", config, "--letters", letters, "--json", *more))
    files = sorted(letters.rglob("*.eml"))
    return notices, {path.relative_to(letters): path.read_bytes() for path in files}


def parse(data):
    return BytesParser(policy=policy.default).parsebytes(data)


def text_of(letter):
    return letter.get_body(("plain",)).get_content()


def check_letter(checks, name, data):
    """One letter on its own; its address and Message-ID."""
    letter = parse(data)
    names = [header.lower() for header in letter.keys()]
    for header in REQUIRED:
        checks.check(header in letter, f"{name}: has a {header}")
    checks.same([n for n, times in Counter(names).items() if times > 1], [], f"{name}: headers that stand twice")
    checks.same(sorted(set(names) - ALLOWED), [], f"{name}: headers nobody asked for")
    defects = list(letter.defects) + [d for _, value in letter.items() for d in value.defects]
    checks.same(defects, [], f"{name}: defects")
    checks.same(letter["Auto-Submitted"], "auto-generated", f"{name}: Auto-Submitted")
    checks.same(letter["MIME-Version"], "1.0", f"{name}: MIME-Version")
    for kind in ("plain", "html"):
        part = letter.get_body((kind,))
        checks.check(part is not None and part.get_content_charset() == "utf-8", f"{name}: its {kind}")
    checks.check(letter["Date"].datetime.tzinfo is not None, f"{name}: the date has a zone")
    subject = str(letter["Subject"])
    checks.check(subject.strip() and not set(subject) & set("\r\n\x0b\x0c\x85\u2028\u2029"), f"{name}: subject {subject!r}")
    text = text_of(letter)
    checks.check(len(text.strip()) > 40 and "\ufffd" not in text, f"{name}: a text to read")
    bare = data.replace(b"\r\n", b"")
    checks.check(b"\n" not in bare and b"\r" not in bare, f"{name}: lines end in CR LF")
    checks.check(max(map(len, data.split(b"\r\n"))) <= 998, f"{name}: no line over 998 bytes")
    return parseaddr(str(letter["To"]))[1], str(letter["Message-ID"])


def bare_id(text):
    return text.strip().strip("<>")


def demo(checks, folder):
    config = DEMO / "graftwarden.toml"
    notices, files = rehearse(config, folder / "first")
    checks.check(len(files) > 20, "the season has letters")
    pairs = [check_letter(checks, name, data) for name, data in files.items()]
    ids = [message_id for _, message_id in pairs]
    checks.same(len(set(ids)), len(ids), "Message-IDs are unique")
    told = {(to, bare_id(letter)) for notice in notices for to, letter in zip(notice["to"], notice["letter"])}
    checks.check(all(len(n["to"]) == len(n["letter"]) for n in notices), "`to` and `letter` have equal lengths")
    found = {(to, bare_id(letter)) for to, letter in pairs}
    checks.same(sorted(found - told), [], "letters of which --json says nothing")
    checks.same(sorted(told - found), [], "letters that --json names and nobody wrote")
    again, files_again = rehearse(config, folder / "second")
    checks.same(again == notices, True, "a second rehearsal tells the same")
    checks.same(files_again == files, True, "a second rehearsal writes the same letters, byte for byte")


HOSTILE = ["Bcc: x@y.example", '"Row\r\nBcc: x@y.example"', '"Row\nBcc: x@y.example\n\nText"', "Row\u2028Bcc: x@y.example",
           "Row\x0bBcc: x@y.example", "Row\x85Bcc: x@y.example", "Row =?utf-8?q?=0D=0ABcc:_x@y.example?="]


def hostile(checks, folder):
    """Names that try to become headers, each in the batch and in the block of a nursery of its own."""
    nursery = folder / "hostile"
    shutil.copytree(DEMO, nursery, ignore=shutil.ignore_patterns("state"))
    (nursery / "records.csv").write_text("date,batch,what,count,by,remarks\n", encoding="utf-8")
    named = 0
    for number, hostile_name in enumerate(HOSTILE):
        row = f"{hostile_name},home,{hostile_name},maple field T-graft,Ember Lace,Acer palmatum,usual,90,2026-07-06\n"
        head = "batch,site,block,plan,scion,understock,vigour,grafts,grafted_on\n"
        (nursery / "batches.csv").write_bytes((head + row).encode("utf-8"))
        _, files = rehearse(nursery / "graftwarden.toml", folder / f"hostile-{number}", "--to", "2026-07-31")
        for name, data in files.items():
            letter, label = parse(data), f"batch and block {hostile_name!r}, {name.name[:15]}"
            checks.same(len(letter.get_all("To")[0].addresses), 1, f"{label}: one address in To")
            check_letter(checks, label, data)
            named += "x@y.example" in text_of(letter) and "x@y.example" in str(letter["Subject"])
    checks.check(named > 0, "letters do name such a batch, as text")


def main():
    checks = Checks("letters")
    with tempfile.TemporaryDirectory() as folder:
        demo(checks, Path(folder))
        hostile(checks, Path(folder))
    checks.finish()


if __name__ == "__main__":
    sys.exit(main())
