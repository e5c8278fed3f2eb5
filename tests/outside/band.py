"""How honest the 80 % band is, on thirty years of real days (Clemson, NOAA GHCN-Daily).

Batches are grafted on fixed days of twenty summers. Each has a requirement of its own from a log-normal law, taken on a
fixed grid that is not the program's. The program is asked on fixed days what it would have said: it knows the days up to
then, the next seven with a fixed table of errors, and the years before. Then the true days tell when each batch got
there. Nothing in the program was fitted to this series.

Then the same by the program's whole way, `due` over a config, register and files: when lines will show, and when the first
look opens, whose need is certain and only the weather unsure.
"""

import json
import math
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from functools import lru_cache
from pathlib import Path

from scipy.stats import norm

from arrival import write
from common import Checks, graftwarden, json_lines
from heat_sums import DATA, heat_of_day, read

DAY = timedelta(days=1)
NEED, GROUP_SD, BATCH_SD = 210.0, 0.13, 0.09  # fourteen standard days of 15; the spreads the program begins with
SD = math.hypot(GROUP_SD, BATCH_SD)
TRUE = [NEED * math.exp(SD * norm.ppf((i + 0.5) / 10)) for i in range(10)]
YEARS = range(2001, 2021)
GRAFTED = [(5, 20), (6, 25), (8, 1)]
ASKED_AFTER = [-7, 0, 5]  # days after grafting; before it, as when a grafting day is being chosen
# What a forecast is off by, in °C, one to seven days ahead: growing with the days, some years too warm, some too cold.
OFF = [(0.5, -0.8, 1.0, -1.2, 1.8, -2.0, 2.5), (-0.6, -0.9, -1.1, -0.4, -1.9, -2.2, -1.4),
       (0.2, 1.1, 1.4, 1.6, 1.2, 2.4, 2.0), (-0.3, 0.7, -1.3, 1.5, -0.8, 0.6, -2.6), (0.8, 0.3, -0.6, -1.7, -2.1, 1.1, 3.0)]


@lru_cache(maxsize=None)
def heat(low, high):
    return heat_of_day("single-sine", "horizontal", 5.0, 30.0, None, low, high, None)


def came(days, grafted, need):
    """The true day; none where a day is missing on the way."""
    total, day = 0.0, grafted
    while total < need:
        day += DAY
        if day not in days:
            return None
        total += heat(*days[day])
    return day


def cases(days, folder):
    for year in YEARS:
        for month, number in GRAFTED:
            grafted = date(year, month, number)
            if any(grafted + i * DAY not in days for i in range(-7, 40)):
                continue
            for after in ASKED_AFTER:
                today = grafted + after * DAY
                off = OFF[(year + month + after) % len(OFF)]
                foretold = {}
                for i, error in enumerate(off, 1):
                    low, high = days[today + i * DAY]
                    foretold[today + i * DAY] = (round(low + error, 1), round(high + error, 1))
                path = folder / f"{grafted}-{after}.csv"
                write(path, foretold)
                yield grafted, today, path


def band(grafted, today, forecast, sd):
    found = json.loads(graftwarden(
        "heat", "--arrival", "--temps", DATA / "clemson_1991_2020.csv", "--from", grafted + DAY, "--today", today,
        "--horizon", grafted + 90 * DAY, "--need", NEED, "--need-sd", sd, "--base", 5, "--upper", 30, "--cutoff",
        "horizontal", "--forecast", forecast, "--json"))
    return [date.fromisoformat(found[key]) for key in ("p10", "p50", "p90")]


# ---- by the whole way ----

LINES = [17.15 * 15.0 * math.exp(SD * norm.ppf((i + 0.5) / 10)) for i in range(10)]  # standard days until lines, of 15
CONFIG = """[nursery]
name = "Alder Fold Nursery"
zone = "UTC"

[[site]]
id = "home"
latitude = 34.7
longitude = -82.8
past_years = "past.csv"

[[site.weather]]
source = "file"
path = "temps.csv"
"""


def due(days, grafted, today, folder):
    """What `due` says at the end of `today` of a batch: its bands for lines and for the opening of the first look."""
    folder.mkdir()
    (folder / "graftwarden.toml").write_text(CONFIG, encoding="utf-8")
    write(folder / "temps.csv", {day: days[day] for day in days if grafted - 40 * DAY <= day <= today})
    write(folder / "past.csv", {day: days[day] for day in days if day.year < grafted.year})
    (folder / "batches.csv").write_text("batch,block,plan,grafts,grafted_on\n"
                                        f"C1,C,maple field T-graft,100,{grafted}\n", encoding="utf-8")
    answer = graftwarden("due", "--config", folder / "graftwarden.toml", "--on", today, "--json")
    found = next(line for line in json_lines(answer) if "batch" in line)
    look = next(step for step in found["steps"] if step["step"] == "callus-check")
    return [[date.fromisoformat(found[key]) for key in ("p10", "p50", "p90")]
            for found in (found["lines_about"], look["opens_about"])]


def by_the_whole_way(checks, days, folder, pool):
    asked = [(date(year, *on), date(year, *on) + 3 * DAY) for year in YEARS for on in GRAFTED]
    # Later days must not be missing: the truth would not be known.
    asked = [(grafted, today) for grafted, today in asked if all(grafted + i * DAY in days for i in range(-40, 50))]
    bands = list(pool.map(lambda case: due(days, *case, folder / f"due-{case[0]}"), asked))
    inside = {}
    for at, (kind, needs) in enumerate({"due: lines": LINES, "due: the first look": [NEED]}.items()):
        pairs = [(found[at], came(days, grafted, need)) for (grafted, _), found in zip(asked, bands) for need in needs]
        report(kind, pairs)
        inside[kind] = sum(band[0] <= day <= band[2] for band, day in pairs) / len(pairs)
    checks.check(len(asked) >= 40, f"{len(asked)} batches, fewer than 40")
    checks.check(0.70 <= inside["due: lines"] <= 0.90, f"due's band for lines held {inside['due: lines']:.1%}, not 70 to 90 %")
    checks.check(inside["due: the first look"] >= 0.70,
                 f"due's band for the first look held {inside['due: the first look']:.1%}, less than 70 %")


def report(kind, pairs):
    share = lambda holds: sum(holds(*pair) for pair in pairs) / len(pairs)
    inside = share(lambda b, day: b[0] <= day <= b[2])
    before, after = share(lambda b, day: day < b[0]), share(lambda b, day: day > b[2])
    width = sum((b[2] - b[0]).days + 1 for b, _ in pairs) / len(pairs)
    error = sum(abs((b[1] - day).days) for b, day in pairs) / len(pairs)
    print(f"{kind:23}  {len(pairs):8}  {inside:5.0%}  {before:6.0%}  {after:5.0%}  {width:5.1f} days  {error:.1f} days")


def main():
    checks = Checks("band")
    days = read(DATA / "clemson_1991_2020.csv")
    kinds = {"weather and requirement": SD, "weather alone": 0.0}
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(2) as pool:
        asked = list(cases(days, Path(folder)))
        checks.check(len(asked) >= 80, f"{len(asked)} looks ahead, fewer than 80")
        truth = {grafted: [came(days, grafted, need) for need in TRUE] for grafted, _, _ in asked}
        print("80 % band                arrivals  inside  before  after  mean width  mean error of the middle")
        inside = {}
        for kind, sd in kinds.items():
            bands = list(pool.map(lambda case: band(*case, sd), asked))
            pairs = [(found, day) for (grafted, _, _), found in zip(asked, bands) for day in truth[grafted]]
            report(kind, pairs)
            inside[kind] = sum(found[0] <= day <= found[2] for found, day in pairs) / len(pairs)
        by_the_whole_way(checks, days, Path(folder), pool)
    full, alone = inside.values()
    checks.check(0.70 <= full <= 0.90, f"the band held {full:.1%} of the arrivals, not 70 to 90 %")
    checks.check(alone < full, "weather alone is surer of itself than it may be")
    checks.finish()


if __name__ == "__main__":
    sys.exit(main())
