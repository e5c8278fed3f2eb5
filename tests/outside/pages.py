"""Letters and pages as people see them: in a headless browser, at the width of a phone and of a small tablet, light and dark.

HTML by the Nu validator, accessibility (WCAG 2 A and AA) by axe, and what neither looks at: nothing that is wider than
the screen, nothing asked of elsewhere, text and buttons that are large enough, a letter that is whole without its
pictures. The sheet for the field is printed on A4 and on Letter and read back. The machine needs Debian's Chromium.
"""

import base64
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from datetime import date, datetime, timedelta
from email import policy
from email.parser import BytesParser
from pathlib import Path
from urllib.parse import unquote

from icalendar import Calendar
from playwright.sync_api import sync_playwright
from pypdf import PdfReader

from calendars import AGAIN, batches, check_calendar, step_titles, what
from common import Checks, graftwarden, json_lines
from kill import at, lay_out
from letters import DEMO, rehearse

NPM = Path(os.environ["OUTSIDE_NPM"])
AXE = NPM / "axe-core" / "axe.min.js"
VALIDATOR = NPM / "vnu-jar" / "build" / "dist" / "vnu.jar"
CHROMIUM = "/usr/bin/chromium"
FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
         "--disable-background-networking", "--disable-component-update", "--host-resolver-rules=MAP * ~NOTFOUND"]
WIDTHS, SCHEMES = (360, 700), ("light", "dark")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
# Mondays of the demo with much to do, and the day on which two weeks of heat end.
MORNINGS = ["2026-08-10", "2026-08-17"]
INCHES = {"A4": (210 / 25.4, 297 / 25.4), "Letter": (8.5, 11)}
BODY, SMALL, THUMB = 16, 14, 44

LOOK = """() => {
  const seen = element => element.checkVisibility() && element.getClientRects().length > 0;
  const found = {small: [], buttons: [], pictures: [], wide: document.scrollingElement.scrollWidth - innerWidth};
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const text = walker.currentNode.data.trim(), element = walker.currentNode.parentElement;
    if (!text || !seen(element) || element.closest("svg, style, script, title")) continue;
    found.small.push([parseFloat(getComputedStyle(element).fontSize), !!element.closest("footer"), text.slice(0, 40)]);
  }
  for (const link of document.querySelectorAll("a[href^='mailto:'], button, summary")) {
    if (seen(link)) found.buttons.push([link.getBoundingClientRect().height, link.textContent.trim().slice(0, 40)]);
  }
  for (const image of document.images) {
    const canvas = Object.assign(document.createElement("canvas"), {width: image.naturalWidth || 1, height: image.naturalHeight || 1});
    const paint = canvas.getContext("2d");
    if (image.naturalWidth) paint.drawImage(image, 0, 0);
    const colours = new Set(new Uint32Array(paint.getImageData(0, 0, canvas.width, canvas.height).data.buffer));
    found.pictures.push([image.naturalWidth, colours.size]);
  }
  return found;
}"""


# How far a page reaches beyond the paper, whose margins at the left and right are 24 mm together; and boxes that are drawn.
MARGINS = 24 / 25.4
WIDEST = """() => Math.max(...[...document.querySelectorAll("body *")].filter(element => element.checkVisibility())
  .map(element => element.getBoundingClientRect().right)) - innerWidth"""
BOXES = """() => [...document.querySelectorAll("tbody td")].map(cell => getComputedStyle(cell, "::before"))
  .filter(box => box.content !== "none" && parseFloat(box.width) >= 12 && parseFloat(box.height) >= 12 && parseFloat(box.borderTopWidth) > 0).length"""


# ---- what is looked at ----

class Letter:
    """A letter's page: as it is sent, and with its pictures put in as a mail program would."""

    def __init__(self, path):
        self.bytes = path.read_bytes()
        self.mail = BytesParser(policy=policy.default).parsebytes(self.bytes)
        self.id = str(self.mail["Message-ID"]).strip("<>")
        self.name = path.stem[:60]
        self.text = self.mail.get_body(("plain",)).get_content()
        self.html = self.mail.get_body(("html",)).get_content()
        pictures = {str(part["Content-ID"]).strip("<>"): part.get_content() for part in self.mail.walk()
                    if part.get_content_type() == "image/png"}
        self.asked_for = set(re.findall(r'"cid:([^"]+)"', self.html))
        self.pictures = pictures
        self.shown = re.sub(r'"cid:([^"]+)"', lambda match: self.as_data(match[1]), self.html)

    def as_data(self, cid):
        return f'"data:image/png;base64,{base64.b64encode(self.pictures.get(cid, b"")).decode()}"'


def some_of_each(notices, letters):
    """Letters that together carry every kind of notice, and the longest ones."""
    kinds = {}
    for notice in notices:
        for letter in notice["letter"]:
            kinds.setdefault(letter.strip("<>"), set()).add(notice["kind"])
    chosen, told = [], set()
    for letter in sorted(letters, key=lambda letter: -len(letter.html)):
        if len(chosen) < 3 or kinds.get(letter.id, set()) - told:
            chosen.append(letter)
            told |= kinds.get(letter.id, set())
    return chosen, told


def morning(folder, day):
    """The pages of one round of the demo, and what `due` says on that morning."""
    nursery = folder / day
    lay_out(nursery, day)
    config = nursery / "graftwarden.toml"
    with open(config, "a", encoding="utf-8") as file:
        file.write('\n[pages]\nfolder = "pages"\n')
    graftwarden("round", "--config", config, *at(day))
    due = json_lines(graftwarden("due", "--config", config, "--on", day, "--json"))
    return nursery / "pages", due


# ---- by other programs ----

def validate(checks, files):
    """Every page by the Nu validator, in one run."""
    command = ["java", "-Xss1m", "-jar", str(VALIDATOR), "--format", "json", "--exit-zero-always", *map(str, files)]
    done = subprocess.run(command, capture_output=True, text=True)
    messages = json.loads(done.stderr)["messages"]
    complaints = {}
    for message in messages:
        if message["type"] != "info" or message.get("subType") == "warning":
            complaints.setdefault(Path(unquote(message["url"])).name, []).append(f"{message['message']} at {message.get('extract', '')!r}")
    for file in files:
        checks.same(complaints.pop(file.name, [])[:3], [], f"valid HTML: {file.name}")
    checks.same(complaints, {}, "what is said of no page of ours")


class Browser:
    """Chromium, which asks nobody; what it would have asked is counted."""

    def __init__(self, playwright):
        self.browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        self.axe, self.asked = AXE.read_text(encoding="utf-8"), []

    def context(self, **options):
        context = self.browser.new_context(**options)
        context.route("**/*", self.judge)
        return context

    def judge(self, route):
        url = route.request.url
        if url.startswith(("file:", "data:", "about:")):
            route.continue_()
        else:
            self.asked.append(url)
            route.abort()

    def pages(self, urls):
        """Each page in each width and scheme: label, scheme, and the open page."""
        for scheme in SCHEMES:
            for width in WIDTHS:
                context = self.context(viewport={"width": width, "height": 800}, color_scheme=scheme)
                page = context.new_page()
                for name, url in urls.items():
                    page.goto(url)
                    yield f"{name}, {width} px, {scheme}", name, page
                context.close()

    def violations(self, page):
        page.evaluate(self.axe)
        found = page.evaluate("rules => axe.run(document, {runOnly: rules, resultTypes: ['violations']})", RULES)
        return [f"{one['id']}: {one['help']}: {node['html'][:120]}" for one in found["violations"] for node in one["nodes"][:2]]


def look(checks, browser, urls, body=BODY):
    """Everything that is measured on an open page; how many buttons were found."""
    buttons = 0
    for label, _, page in browser.pages(urls):
        checks.same(browser.violations(page), [], f"{label}: accessible")
        found = page.evaluate(LOOK)
        checks.check(found["wide"] <= 0, f"{label}: {found['wide']} px wider than the screen")
        tiny = [(size, text) for size, footer, text in found["small"] if size < (SMALL if footer else body)]
        checks.same(tiny, [], f"{label}: text that is too small")
        checks.check(len(found["small"]) > 3, f"{label}: has text")
        buttons += len(found["buttons"])
        low = [(height, text) for height, text in found["buttons"] if height < THUMB]
        checks.same(low, [], f"{label}: too low for a thumb")
        # Ground, ink, a window and a track at least, sharp on a phone.
        poor = [picture for picture in found["pictures"] if picture[0] < 640 or picture[1] < 8]
        checks.same(poor, [], f"{label}: pictures that are not there, blank or coarse")
        scripts = page.evaluate("document.querySelectorAll('script, [onclick], [onload], link[rel=stylesheet], iframe, form').length")
        checks.same(scripts, 0, f"{label}: nothing that runs, and nothing to be fetched")
    checks.same(browser.asked, [], "nothing is asked of elsewhere")
    return buttons


# ---- what a person would see ----

def words(text):
    return " ".join(text.split())


def without_pictures(checks, browser, letters):
    """A letter says everything without its pictures: what stands in its text stands on its page too."""
    context = browser.context(viewport={"width": 360, "height": 800})
    page = context.new_page()
    context.route("**/*", lambda route: route.abort() if route.request.resource_type == "image" else route.continue_())
    for letter in letters:
        page.set_content(letter.html)
        seen = words(page.evaluate("document.body.innerText"))
        alts = page.evaluate("[...document.images].map(image => image.alt)")
        checks.same([alt for alt in alts if len(alt) < 30], [], f"{letter.name}: pictures that are not told in words")
        # Batches with their heat: names stand in a table of the text, two spaces from the next column.
        for name in set(re.findall(r"^  ([A-Z]\d[\w/]*)  ", letter.text, re.M)):
            checks.check(name in seen, f"{letter.name}: {name} of the text is on the page without pictures")
        subject = str(letter.mail["Subject"])
        place = re.search(r"[Bb]locks? ([A-Z])\b", subject)
        if place:
            checks.check(re.search(rf"[Bb]locks? {place[1]}\b", seen), f"{letter.name}: block {place[1]} of the subject is on the page")
    context.close()


def with_answers(folder):
    """The demo, where answers are read: its letters have buttons."""
    nursery = folder / "answered"
    shutil.copytree(DEMO, nursery, ignore=shutil.ignore_patterns("state"))
    for part in ("new", "cur"):
        (nursery / "answers" / part).mkdir(parents=True)
    config = nursery / "graftwarden.toml"
    with open(config, "a", encoding="utf-8") as file:
        file.write('\n[answers]\naddress = "answers@alderfold.example"\nmaildir = "answers"\n')
    return config


def check_letters(checks, browser, folder):
    notices, _ = rehearse(with_answers(folder), folder / "letters")
    letters = [Letter(path) for path in sorted((folder / "letters").rglob("*.eml"))]
    checks.check(len(letters) > 50, f"{len(letters)} letters of a season")
    tapped = [letter for letter in letters if 'href="mailto:answers%2B' in letter.html]
    checks.check(len(tapped) > 50, f"{len(tapped)} letters with buttons")
    checks.check(sum(len(letter.pictures) for letter in letters) > 50, "letters have pictures")
    files = []
    for number, letter in enumerate(letters):
        files.append(folder / f"letter-{number:03} {letter.name}.html")
        files[-1].write_text(letter.html, encoding="utf-8")
        checks.check(len(letter.bytes) < 100_000, f"{letter.name}: under 100 kB with its pictures: {len(letter.bytes)}")
        checks.same(letter.asked_for, set(letter.pictures), f"{letter.name}: each picture is there, and is shown")
    validate(checks, files)
    chosen, told = some_of_each(notices, letters)
    checks.same(sorted({notice["kind"] for notice in notices} - told), [], "kinds of letters that are not looked at")
    urls = {}
    for letter in chosen:
        file = folder / f"shown-{len(urls):03}.html"
        file.write_text(letter.shown, encoding="utf-8")
        urls[letter.name] = file.as_uri()
    print(f"pages: {len(letters)} letters validated, {len(chosen)} looked at")
    checks.check(look(checks, browser, urls) >= 8, "letters have buttons")
    without_pictures(checks, browser, letters)


def check_pages(checks, browser, folder):
    for day in MORNINGS:
        pages, due = morning(folder, day)
        files = [pages / "due.html", pages / "field-sheet.html"]
        for file in files:
            checks.check(file.exists(), f"{day}: a round writes {file.name}")
        copies = [folder / f"{day} {file.name}" for file in files]
        for file, copy in zip(files, copies):
            copy.write_bytes(file.read_bytes())
        validate(checks, copies)
        # The tables of a page have second lines in small print.
        look(checks, browser, {f"{day} {file.name}": file.as_uri() for file in files}, body=SMALL)
        headings(checks, browser, {f"{day} {file.name}": file.as_uri() for file in files})
        print_sheet(checks, browser, pages / "field-sheet.html", due, day)
        subscribe(checks, pages / "due.ics", pages.parent / "graftwarden.toml", day)


def headings(checks, browser, urls):
    """Tables say what their columns and rows are, and each page has one first heading."""
    context = browser.context()
    page = context.new_page()
    for label, url in urls.items():
        page.goto(url)
        found = page.evaluate("""() => ({first: document.querySelectorAll("h1").length,
            bare: [...document.querySelectorAll("table")].filter(t => !t.querySelector("th[scope=col]")).length,
            language: document.documentElement.lang})""")
        checks.same(found, {"first": 1, "bare": 0, "language": "en"}, f"{label}: headings and language")
    context.close()


def print_sheet(checks, browser, file, due, day):
    """On either paper every batch of today's list is there to be ticked, on pages of that size, nothing cut off."""
    open_today = {row["batch"] for row in due if "batch" in row
                  if any(step["state"] in ("open", "closing", "late") for step in row["steps"])}
    # The limit stands among the steps of `due`; it is nothing to do, and the sheet names it under what to mind.
    tasks = sum(step["state"] in ("open", "closing", "late") for row in due if row.get("open") for step in row["steps"]
                if step["step"] != "over-callusing")
    checks.check(len(open_today) > 2, f"{day}: there is a list to print: {sorted(open_today)}")
    context = browser.context()
    page = context.new_page()
    page.goto(file.as_uri())
    page.emulate_media(media="print")
    for paper, (width, height) in INCHES.items():
        page.set_viewport_size({"width": int((width - MARGINS) * 96), "height": int(height * 96)})
        checks.check(page.evaluate(WIDEST) <= 1, f"{day}, {paper}: {page.evaluate(WIDEST)} px are cut off at the right")
        checks.same(page.evaluate(BOXES), tasks, f"{day}, {paper}: boxes to tick")
        target = file.with_name(f"{paper}.pdf")
        page.pdf(path=str(target), format=paper)
        sheets = PdfReader(target).pages
        text = words(" ".join(sheet.extract_text() for sheet in sheets))
        missing = [batch for batch in sorted(open_today) if not re.search(rf"(?<!\w){re.escape(batch)}(?!\w)", text)]
        checks.same(missing, [], f"{day}, {paper}: batches that are not on the sheet")
        checks.check(1 <= len(sheets) <= 4, f"{day}, {paper}: {len(sheets)} pages")
        for number, sheet in enumerate(sheets):
            size = float(sheet.mediabox.width) / 72, float(sheet.mediabox.height) / 72
            checks.check(abs(size[0] - width) < 0.02 and abs(size[1] - height) < 0.02,
                         f"{day}, {paper}: page {number + 1} is {size[0]:.2f} by {size[1]:.2f} inches")
            checks.check(sheet.extract_text().strip(), f"{day}, {paper}: page {number + 1} is not empty")
    context.close()


# These wait for a count of what died, and `due` foretells them before anything has.
ANEW = {"re-graft", "bud again"}


def wanted(due, day):
    """The entries of a first round by what `due` says: for each step, place and day of grafting its days and its batches.
    Steps that come again and again are left away, and making anew."""
    titles, groups = step_titles(), {}
    horizon = (date.fromisoformat(day) + timedelta(days=21)).isoformat()
    for batch in due:
        for step in batch["steps"] if batch.get("open") else []:
            # The limit stands among the steps too, and is no window.
            title, state = titles.get((batch["plan"], step["step"])), step["state"]
            opens = step["opens_on"] if state != "ahead" else (step.get("opens_about") or {}).get("p50") or step["opens_on"]
            past = state not in ("open", "closing", "late", "ahead")
            if past or title is None or title in AGAIN or title in ANEW or not opens or opens > horizon:
                continue
            closes = step["closes_on"] or (step.get("closes_about") or {}).get("p50") or opens
            key = title, batch["site"], batch["block"], batch["plan"], batch["grafted_on"]
            groups.setdefault(key, []).append((state == "late", opens, closes, batch["batch"]))
    found = {}
    for (title, *_), rows in groups.items():
        rows = [row for row in rows if not row[0]] or rows
        first = date.fromisoformat(min(row[1] for row in rows))
        last = max(date.fromisoformat(min(row[2] for row in rows)), first)
        if last - first > timedelta(days=35):
            last = first
        if last >= date.fromisoformat(day):
            found[title, frozenset(row[3] for row in rows)] = first, last
    return found


def subscribe(checks, file, config, day):
    """The calendar is one that another program reads, and says what `due` says: no entry more, none less, each on its days."""
    raw = file.read_bytes()
    check_calendar(checks, raw, datetime.fromisoformat(day + "T06:10:00+02:00"), f"{day}: due.ics")
    found = {}
    for event in Calendar.from_ical(raw).walk("VEVENT"):
        checks.same(str(event["STATUS"]), "CONFIRMED", f"{day}: due.ics, {event['SUMMARY']}: status")
        if what(event) not in AGAIN | ANEW:
            days = event["DTSTART"].dt, event["DTEND"].dt - timedelta(days=1)
            found[what(event), frozenset(batches(event))] = days
    # A morning knows the days that are over: what `due` knows by the evening before.
    evening = (date.fromisoformat(day) - timedelta(days=1)).isoformat()
    due = json_lines(graftwarden("due", "--config", config, "--on", evening, "--json"))
    expected = wanted(due, day)
    checks.check(len(expected) > 10, f"{day}: {len(expected)} entries wanted of due.ics")
    for key in sorted(found.keys() | expected.keys(), key=str):
        checks.same(found.get(key), expected.get(key), f"{day}: due.ics, days of {key}")


def main():
    checks = Checks("pages")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        browser = Browser(playwright)
        check_letters(checks, browser, Path(folder))
        check_pages(checks, browser, Path(folder))
        browser.browser.close()
    checks.finish()


if __name__ == "__main__":
    sys.exit(main())
