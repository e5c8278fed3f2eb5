"""Readings in UTC grouped by local dates, against Python's zoneinfo: five zones, three years.

The years have the changes of clocks of both halves of the globe, half-hour zones, and a date that one zone left out (30
December 2011 in Samoa). And the hourly New York file, whose missing hours are its own.
"""

import csv
import math
import tempfile
from collections import defaultdict
from datetime import date, datetime, timedelta, timezone
from pathlib import Path
from zoneinfo import ZoneInfo

from common import ROOT, Checks, graftwarden, json_lines

HOUR = timedelta(hours=1)
ZONES = ["Europe/Brussels", "America/New_York", "Australia/Adelaide", "Asia/Kolkata", "Pacific/Apia"]
NEW_YORK = ROOT / "tests" / "data" / "checks" / "data" / "nyc_hourly_ewr.csv"

CONFIG = """[nursery]
name = "Alder Fold Nursery"
zone = "UTC"
"""
SITE = """
[[site]]
id = "{id}"
latitude = 10
longitude = {longitude}
zone = "{zone}"
[[site.weather]]
source = "file"
path = "{path}"
"""


def invented():
    """Three years of hours; no two days alike."""
    at, end, n = datetime(2010, 1, 1, tzinfo=timezone.utc), datetime(2013, 1, 1, tzinfo=timezone.utc), 0
    while at < end:
        wave = 8 * math.sin(2 * math.pi * (at.hour - 9) / 24)
        yield at, round(12 + wave + (n * 7919 % 1000) / 300, 2)
        at, n = at + HOUR, n + 1


def recorded():
    with NEW_YORK.open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            if row["temp_c"]:
                yield datetime.fromisoformat(row["datetime"].replace("Z", "+00:00")), float(row["temp_c"])


def torn():
    """The same with the first hours of some UTC dates lost, a few or nearly all."""
    for at, t in recorded():
        if at.toordinal() % 5 or at.hour >= at.toordinal() // 5 % 22:
            yield at, t


def write(path, readings):
    with path.open("w", encoding="utf-8") as file:
        file.write("time,temp_c\n")
        file.writelines(f"{at:%Y-%m-%dT%H:%M:%SZ},{t}\n" for at, t in readings)


def by_date(readings, zone):
    days = defaultdict(list)
    for at, t in readings:
        days[at.astimezone(ZoneInfo(zone)).date()].append(t)
    return days


def shown(folder, site, days):
    first, last = min(days), max(days)
    out = graftwarden("days", "--config", folder / "graftwarden.toml", "--site", site, "--from", first, "--to", last, "--json")
    return {date.fromisoformat(day["date"]): day for day in json_lines(out)}


def compare(checks, name, found, days):
    """Every date with three quarters of 24 readings is there and right; no other date is measured, nor has raw values."""
    ends = {min(days), max(days)}  # the first and the last date may be cut short
    for day in sorted(set(found) - ends):
        readings = days.get(day, [])
        pair = (min(readings), max(readings)) if len(readings) >= 18 else None
        got = found[day]
        measured = (got["tmin_c"], got["tmax_c"]) if got["origin"] == "measured" else None
        checks.same(measured, pair, f"{name}, {day} of {len(readings)} readings")
        checks.same(len(got["raw"]), int(pair is not None), f"{name}, {day}: raw values")


def main():
    checks = Checks("zones")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        hours = list(invented())
        write(folder / "hours.csv", hours)
        (folder / "new-york.csv").write_bytes(NEW_YORK.read_bytes())
        offsets = {zone: ZoneInfo(zone).utcoffset(datetime(2012, 1, 1)).total_seconds() / 240 for zone in ZONES}
        sites = [SITE.format(id=f"s{n}", longitude=min(offsets[zone], 180), zone=zone, path="hours.csv") for n, zone in enumerate(ZONES)]
        sites.append(SITE.format(id="ny", longitude=-74, zone="America/New_York", path="new-york.csv"))
        (folder / "graftwarden.toml").write_text(CONFIG + "".join(sites), encoding="utf-8")
        (folder / "batches.csv").write_text("batch,block,plan,grafts,grafted_on,site\n", encoding="utf-8")
        for n, zone in enumerate(ZONES):
            days = by_date(hours, zone)
            compare(checks, zone, shown(folder, f"s{n}", days), days)
        left_out = date(2011, 12, 30)
        checks.check(left_out not in by_date(hours, "Pacific/Apia"), "Python knows of no 30 December 2011 in Samoa")
        days = by_date(recorded(), "America/New_York")
        compare(checks, "the New York file", shown(folder, "ny", days), days)
        days = by_date(torn(), "America/New_York")
        short = sum(len(readings) < 18 for readings in days.values())
        partly = sum(18 <= len(readings) < 23 for readings in days.values())
        checks.check(short > 20 and partly > 10, f"New York, torn, has {short} dates of too few readings, {partly} of few")
        write(folder / "new-york.csv", torn())
        compare(checks, "the New York file, torn", shown(folder, "ny", days), days)
    checks.finish()


main()
