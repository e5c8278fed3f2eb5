"""The spells of heat of two real series, worked out once more from the words of the rule, against `graftwarden rehearse`.

A day is hot from 32 °C on, or from what 90 of 100 days of the grafting seasons before did not exceed where that is more,
but from 38 °C on everywhere. Adjoining hot days are a spell from the second on, a day of 38 °C alone is one. It is told
when it is there and again for each level that it reaches (hot; very hot from 35 °C; injury from 38 °C), and once when it
is over, with the heat it brought against what the years before had on these dates, and by how much dates moved.
Nothing is foretold here: each morning knows the days before it.
"""

import csv
import email
import email.policy
import re
import sys
import tempfile
from datetime import date, timedelta
from pathlib import Path

from common import ROOT, Checks, graftwarden, json_lines
from nursery import heat_of_day

DATA = ROOT / "tests" / "data" / "checks" / "data"
DAY = timedelta(days=1)
SITES = {"clemson_1991_2020.csv": ("America/New_York", 34.7), "seattle.csv": ("America/Los_Angeles", 47.6)}
MODEL = {"method": "single-sine", "cutoff": "horizontal", "base": 5.0, "upper": 30.0}
STANDARD_DAY = 15.0
# Heat from the first of June at which windows open or close: far enough apart, and enough for a summer.
NEEDS = [15.0 * s for s in (1, 40, 60, 80, 100, 120, 140, 160, 180, 200)]
LEVELS = [("hot", 32.0), ("very hot", 35.0), ("injury", 38.0)]

PLAN = """version = 1
name = "always soft"
[heat]
method = "single-sine"
cutoff = "horizontal"
base = 5.0
upper = 30.0
reference = 20.0
[callus]
assumed = { standard_days = 1 }
seen = "lines"
unseen = "no-lines"
[sensitive]
from = "look-1"
until = "tape-off"
"""
STEP = """[[step]]
id = "look-{n}"
title = "look {n}"
opens = {{ after = "grafted", standard_days = {s} }}
brings = ["looked"]
say = "Look."
"""
LAST = """[[step]]
id = "tape-off"
title = "tape off"
opens = { after = "grafted", standard_days = 400 }
brings = ["tape-off"]
say = "Off."
"""


def read(name):
    with open(DATA / name, newline="", encoding="utf-8") as file:
        return {date.fromisoformat(row["date"]): (float(row["tmin_c"]), float(row["tmax_c"]))
                for row in csv.DictReader(file) if row["tmin_c"] and row["tmax_c"]}


def threshold(days, year):
    season = sorted(high for day, (_, high) in days.items()
                    if day.year < year and (7, 15) <= (day.month, day.day) <= (8, 31))
    if len(season) < 135:
        return 32.0
    rank = -(-90 * len(season) // 100)
    return min(38.0, max(32.0, season[rank - 1]))


def usual(days, day):
    """The mean heat of the years before on that date; a standard day where fewer than three know it."""
    before = []
    for year in sorted({d.year for d in days if d.year < day.year}):
        if day.replace(year=year) in days:
            before.append(heat_of_day(MODEL, *days[day.replace(year=year)]))
    return sum(before) / len(before) if len(before) >= 3 else STANDARD_DAY


def begun(days, year):
    """The first day from 5 June on that is hot nowhere: a spell that is on when the rounds begin is left out."""
    day = date(year, 6, 5)
    while days[day][1] >= 32.0:
        day += DAY
    return day


def expected(days, year):
    """What is told: (kind, morning, level or last day); and for spells that are over the first and last day."""
    hot = threshold(days, year)
    told, day = [], begun(days, year)
    while day <= date(year, 9, 30):
        if days[day][1] < hot:
            day += DAY
            continue
        first = day
        while days[day + DAY][1] >= hot:
            day += DAY
        last, reached = day, None
        morning = None
        for k in range((last - first).days + 1):
            highs = [days[first + j * DAY][1] for j in range(k + 1)]
            if len(highs) < 2 and max(highs) < 38.0:
                continue
            level = [name for name, least in LEVELS if max(highs) >= least][-1]
            if level != reached:
                reached, morning = level, first + (k + 1) * DAY
                told.append(("heat-spike", morning, level))
        # Over once the day after is known; who was told on that day or later that it has been knows already.
        if morning and morning <= last:
            told.append(("spell-over", last + 2 * DAY, (first, last)))
        day = last + DAY
    return sorted(told, key=lambda t: (t[1], t[0]))


def effect(days, year, first, last, morning):
    """Standard days of the spell, those usual, and by how many days the next date beyond it came sooner."""
    grafted = date(year, 6, 1)
    known = lambda day: heat_of_day(MODEL, *days[day]) if day < morning else usual(days, day)
    before = sum(known(grafted + k * DAY) for k in range(1, (first - grafted).days))
    span = [first + k * DAY for k in range((last - first).days + 1)]
    without = before + sum(usual(days, day) for day in span)
    need = min(n for n in NEEDS if n > without)

    def reached(heat):
        total, day = before, first
        while total + heat(day) < need - 1e-6:
            total += heat(day)
            day += DAY
        return day
    moved = (reached(lambda day: usual(days, day) if day <= last else known(day)) - reached(known)).days
    return sum(map(known, span)) / STANDARD_DAY, sum(usual(days, day) for day in span) / STANDARD_DAY, moved


def rehearse(name, days, year, folder):
    zone, latitude = SITES[name]
    folder.mkdir()
    rows = lambda is_meant: "date,tmin_c,tmax_c\n" + "".join(
        f"{day},{low},{high}\n" for day, (low, high) in sorted(days.items()) if is_meant(day))
    steps = "".join(STEP.format(n=n, s=need / STANDARD_DAY) for n, need in enumerate(NEEDS, start=1))
    files = {
        "plan.toml": PLAN + steps + LAST,
        "batches.csv": f"batch,block,plan,scion,grafts,grafted_on\nA1,A,always soft,Ember Lace,100,{year}-06-01\n",
        "records.csv": "date,batch,what,count\n",
        "past.csv": rows(lambda day: day.year < year),
        "temps.csv": rows(lambda day: day.year == year),
        "graftwarden.toml": f"""version = 1
plans = ["plan.toml"]
[nursery]
name = "Alder Fold Nursery"
zone = "{zone}"
working_days = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
[[site]]
id = "home"
latitude = {latitude}
longitude = -100
past_years = "past.csv"
[[site.weather]]
source = "file"
path = "temps.csv"
[[people]]
name = "Maren Holt"
email = "maren@alderfold.example"
gets = ["work", "urgent", "trouble"]
[post]
from = "Alder Fold Nursery <letters@alderfold.example>"
folder = "letters"
log = false
""",
    }
    for file, text in files.items():
        (folder / file).write_text(text, encoding="utf-8")
    text = graftwarden("rehearse", "--config", folder / "graftwarden.toml", "--letters", folder / "letters",
                       "--from", f"{year}-06-05", "--to", f"{year}-10-02", "--json")
    return [n for n in json_lines(text) if n["kind"] in ("heat-spike", "spell-over", "risk-over")]


def letters_in(folder):
    """The text of every letter by its Message-ID, blanks and line ends made one."""
    found = {}
    for file in folder.glob("*.eml"):
        letter = email.message_from_bytes(file.read_bytes(), policy=email.policy.default)
        found[letter["Message-ID"].strip()] = " ".join(letter.get_body(("plain",)).get_content().split())
    return found


def said(text):
    """The figures of a letter: standard days, days, usual or none, and the days moved."""
    amount = re.search(r"is over: ([\d.]+) standard days in (\d+) days?(?:, where ([\d.]+) are usual)?", text)
    moved = re.search(r"come (\d+) days? (earlier|later)", text)
    way = 0 if moved is None else int(moved[1]) * (1 if moved[2] == "earlier" else -1)
    return float(amount[1]), int(amount[2]), amount[3] and float(amount[3]), way


def main():
    checks = Checks("spells")
    spikes = overs = 0
    with tempfile.TemporaryDirectory() as folder:
        for name in SITES:
            days = read(name)
            for year in sorted({day.year for day in days}):
                summer = [date(year, 5, 25) + k * DAY for k in range(135)]
                if any(day not in days for day in summer):
                    continue
                here = Path(folder) / f"{name[:4]}{year}"
                found = rehearse(name, days, year, here)
                letters = letters_in(here / "letters")
                tells = [(n["kind"], date.fromisoformat(n["round_at"][:10]), n) for n in found
                         if date.fromisoformat(n["on"]) >= begun(days, year)]
                wanted = [t for t in expected(days, year) if t[1] <= date(year, 10, 2)]
                checks.same([t[:2] for t in sorted(tells, key=lambda t: (t[1], t[0]))], [t[:2] for t in wanted],
                            f"{name} {year}: what is told and when")
                for kind, morning, what in wanted:
                    notice = next((n for k, m, n in tells if (k, m) == (kind, morning)), None)
                    label = f"{name} {morning} {kind}"
                    if notice is None:
                        continue
                    if kind == "heat-spike":
                        spikes += 1
                        checks.same(notice["level"], what, f"{label}: level")
                        continue
                    overs += 1
                    first, last = what
                    checks.same(notice["on"], str(last), f"{label}: last day")
                    heat, usually, moved = effect(days, year, first, last, morning)
                    text = letters[notice["letter"][0]]
                    standard, count, usual_said, way = said(text)
                    checks.near(standard, heat, 0.051, f"{label}: standard days")
                    checks.same(count, (last - first).days + 1, f"{label}: days")
                    if usual_said is not None:
                        checks.near(usual_said, usually, 0.051, f"{label}: usual standard days")
                    checks.same(way, moved, f"{label}: days moved")
                print(f"{name[:7]} {year}: from {threshold(days, year):.1f} °C, {len(wanted)} notices")
    checks.check(spikes > 30 and overs > 10, f"enough to compare: {spikes} spells and levels, {overs} ends")
    checks.finish()


if __name__ == "__main__":
    sys.exit(main())
