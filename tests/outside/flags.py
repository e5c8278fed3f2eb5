"""The quality flags of NOAA's daily values, honoured in all three of its forms.

Three months of Seattle (NOAA GHCN-Daily, as in the npm package vega-datasets) are written as a fixed-width file, as rows by
station and as the answer of the access service, with flags of measurement, quality and source in their columns as the readme
of GHCN-Daily has them, rain, and values missing. Each is read again here by its form alone, and what the program took from it
must be the days whose minimum and maximum both have a blank quality flag.
"""

import csv
import json
import random
import sys
import tempfile
from collections import defaultdict
from datetime import date, timedelta
from pathlib import Path

from common import Checks, graftwarden, json_lines
from heat_sums import DATA, read
from service import Service, nursery

DAY = timedelta(days=1)
STATION = "USW00099001"
FIRST, LAST = date(2014, 5, 1), date(2014, 7, 31)
AT, GRAFTED = "2014-08-02T06:00:00-04:00", "2014-06-10"
QUALITY = "DGIKLMNORSTWXZ"


def invented():
    """Element and date to tenths and flags; without a value the day has none."""
    chance = random.Random(1)
    series, values = read(DATA / "seattle.csv"), {}
    for n in range((LAST - FIRST).days + 1):
        day = FIRST + n * DAY
        low, high = series[day]
        for element, tenths in (("TMAX", round(high * 10)), ("TMIN", round(low * 10)), ("PRCP", chance.randrange(300))):
            if chance.random() < 0.04:
                continue
            quality = chance.choice(QUALITY) if chance.random() < 0.12 else " "
            # Values that failed a check are mostly wrong.
            tenths += 400 if quality != " " and element == "TMAX" else 0
            values[element, day] = (tenths, chance.choice("   BDHT"), quality, chance.choice("70WSU"))
    return values


def write_fixed_width(path, values):
    with open(path, "w", encoding="ascii") as file:
        for year, month in sorted({(day.year, day.month) for _, day in values}):
            for element in ("TMAX", "TMIN", "PRCP", "SNWD"):
                line = f"{STATION}{year}{month:02}{element}"
                for number in range(1, 32):
                    try:
                        tenths, measured, quality, source = values[element, date(year, month, number)]
                        line += f"{tenths:5}{measured}{quality}{source}"
                    except (KeyError, ValueError):
                        line += "-9999   "
                file.write(line + "\n")


def write_rows(path, values):
    with open(path, "w", newline="", encoding="ascii") as file:
        writer = csv.writer(file)
        for (element, day), (tenths, measured, quality, source) in sorted(values.items(), key=lambda item: item[0][1]):
            writer.writerow([STATION, f"{day:%Y%m%d}", element, tenths, measured.strip(), quality.strip(), source, ""])


def service_rows(values):
    rows = defaultdict(dict)
    for (element, day), (tenths, measured, quality, source) in values.items():
        rows[day] |= {"DATE": str(day), "STATION": STATION, element: f"{tenths / 10:6.1f}",
                      f"{element}_ATTRIBUTES": f"{measured.strip()},{quality.strip()},{source}"}
    return [rows[day] for day in sorted(rows)]


def read_fixed_width(path):
    """By the columns of the readme: ID 1-11, year, month 16-17, element 18-21, then value, MFLAG, QFLAG, SFLAG."""
    for line in Path(path).read_text(encoding="ascii").splitlines():
        for number in range(31):
            value, quality = line[21 + 8 * number:26 + 8 * number], line[27 + 8 * number]
            if int(value) != -9999 and quality == " ":
                yield date(int(line[11:15]), int(line[15:17]), number + 1), line[17:21], int(value) / 10


def read_rows(path):
    with open(path, newline="", encoding="ascii") as file:
        for _, day, element, value, _, quality, _, _ in csv.reader(file):
            if quality == "":
                yield date(int(day[:4]), int(day[4:6]), int(day[6:])), element, int(value) / 10


def read_service(rows):
    for row in json.loads(json.dumps(rows)):
        for element in ("TMAX", "TMIN", "PRCP"):
            if element in row and row[f"{element}_ATTRIBUTES"].split(",")[1] == "":
                yield date.fromisoformat(row["DATE"]), element, float(row[element])


def days_of(readings):
    days = defaultdict(dict)
    for day, element, value in readings:
        days[day][element] = value
    return {day: (found["TMIN"], found["TMAX"], found.get("PRCP")) for day, found in days.items()
            if "TMIN" in found and "TMAX" in found}


def taken(folder, weather):
    """What the program took, date by date, and what it said."""
    config = nursery(folder, weather, GRAFTED)
    told = graftwarden("round", "--config", config, "--at", AT, ok=False)
    out = graftwarden("days", "--config", config, "--site", "hill", "--from", FIRST, "--to", LAST, "--json")
    days = {}
    for day in json_lines(out):
        for raw in day["raw"]:
            rain = day["rain_mm"] if raw["used"] else "?"
            days[date.fromisoformat(day["date"])] = (raw["tmin_c"], raw["tmax_c"], rain)
    return days, told.stderr


def main():
    checks = Checks("flags")
    values = invented()
    flagged = sorted((day, element, flag[2]) for (element, day), flag in values.items() if flag[2] != " ")
    checks.check({flag for _, _, flag in flagged} >= set("GIST") and len(flagged) > 20, f"{len(flagged)} values are flagged")
    with Service() as service, tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_fixed_width(folder / "station.dly", values)
        write_rows(folder / "station.csv", values)
        service.documents["/v1"] = rows = service_rows(values)
        forms = {
            "fixed width": (f'path = "{folder}/station.dly"', read_fixed_width(folder / "station.dly")),
            "by station": (f'path = "{folder}/station.csv"', read_rows(folder / "station.csv")),
            "service": (f'url = "{service.url}/v1"\ncontact = "office@alderfold.example"', read_service(rows)),
        }
        for number, (form, (where, readings)) in enumerate(forms.items()):
            weather = f'source = "noaa-daily"\nstation = "{STATION}"\n{where}'
            found, said = taken(folder / f"n{number}", weather)
            expected = days_of(readings)
            checks.check(40 < len(expected) < (LAST - FIRST).days, f"{form}: {len(expected)} whole days, some left out")
            checks.same(sorted(found), sorted(expected), f"{form}: the days")
            for day in sorted(set(found) & set(expected)):
                for got, want, what in zip(found[day], expected[day], ("minimum", "maximum", "rain")):
                    checks.near(got, want, 1e-9, f"{form}, {day}: {what}")
            first_day = flagged[0][0]
            named = [(element, flag) for day, element, flag in flagged if day == first_day]
            checks.check(any(f"{element} of {first_day}: it failed a check of NOAA's (flag {flag}" in said
                             for element, flag in named), f"{form}: {first_day} is named: {said}")
            checks.check(f"and {len(flagged) - 3} more; left out" in said, f"{form}: all {len(flagged)} are counted: {said}")
    checks.finish()


if __name__ == "__main__":
    sys.exit(main())
