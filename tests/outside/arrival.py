"""`graftwarden heat --arrival` once more, by the rule of the years before written down a second time, on real series.

Each year is laid out day by day as a list and added up from the first day; days go by the numerical integration of
heat_sums. Cases whose answer hangs on less than the last digits are counted as not certain and must be few.
"""

import csv
import json
import math
import sys
import tempfile
from datetime import date, timedelta
from pathlib import Path

from common import Checks, graftwarden
from heat_sums import DATA, heat_of_day, read

DAY = timedelta(days=1)
CERTAIN = 1e-6


def d(text):
    return date.fromisoformat(text)


def same_date(day, back):
    """The date that stands for `day` in the year so many years before."""
    if (day.month, day.day) == (2, 29):
        leap = day.year - back
        if leap % 4 or (leap % 100 == 0 and leap % 400):
            return date(leap, 2, 28)
    return date(day.year - back, day.month, day.day)


def expected(days, first, today, horizon, need, model, foretold=None):
    """Members, years left out, and the three dates."""
    method, cutoff, base, upper = model
    foretold = foretold or {}
    dates = [first + i * DAY for i in range((horizon - first).days + 1)]
    reached, left_out, margin = [], 0, math.inf
    for back in range(1, horizon.year - min(days).year + 1):
        laid_out, borrowed, lacking = [], 0, 0
        for day in dates:
            warm = (days.get(day) if day <= today else None) or foretold.get(day)
            if warm is None:
                then = same_date(day, back)
                warm = days.get(then) if then <= today else None
                borrowed, lacking = borrowed + 1, lacking + (warm is None)
            laid_out.append(warm)
        if lacking:
            left_out += lacking < borrowed
            continue
        total, hit = 0.0, None
        for i, (low, high) in enumerate(laid_out):
            after = laid_out[i + 1][0] if i + 1 < len(laid_out) and method.startswith("double") else None
            total += heat_of_day(method, cutoff, base, upper, None, low, high, after)
            margin = min(margin, abs(total - need))
            if hit is None and total >= need:
                hit = dates[i]
        reached.append(hit or date.max)
    reached.sort()
    quantile = lambda percent: reached[-(-percent * len(reached) // 100) - 1]
    three = [None if q == date.max else str(q) for q in map(quantile, (10, 50, 90))]
    return {"members": len(reached), "left_out": left_out, "three": three, "certain": margin > CERTAIN}


SINE = ("single-sine", "horizontal", 5.0, 30.0)
CASES = [
    # series, from, today, horizon, need, model
    ("clemson", "2016-01-15", "2016-02-20", "2016-07-31", 250, SINE),  # over a leap day
    ("clemson", "2016-01-15", "2016-02-28", "2016-07-31", 250, SINE),
    ("clemson", "2016-02-28", "2016-02-29", "2016-07-31", 120, SINE),
    ("clemson", "2019-02-10", "2019-02-20", "2019-06-30", 90, SINE),  # leap days of years before passed over
    ("clemson", "2019-02-28", "2019-02-28", "2019-06-30", 5, SINE),
    ("clemson", "2012-02-20", "2012-02-25", "2012-03-03", 60, SINE),  # some never
    ("clemson", "2012-02-20", "2012-02-25", "2012-03-31", 60, SINE),
    ("clemson", "2018-06-20", "2018-06-20", "2018-09-30", 210, SINE),
    ("clemson", "2018-07-01", "2018-07-09", "2018-08-31", 210, SINE),
    ("clemson", "2018-07-01", "2018-07-20", "2018-08-31", 210, SINE),  # reached already
    ("clemson", "2005-05-10", "2005-05-20", "2005-08-31", 420, SINE),
    ("clemson", "2005-05-10", "2005-05-20", "2005-06-05", 420, SINE),
    ("clemson", "2000-08-15", "2000-09-01", "2000-12-31", 900, SINE),
    ("clemson", "2014-10-01", "2014-11-15", "2015-06-30", 700, SINE),  # over a new year
    ("clemson", "2015-11-20", "2015-12-31", "2016-05-31", 400, SINE),  # and a leap day
    ("clemson", "2010-03-01", "2010-03-31", "2010-08-31", 800, ("double-sine", "vertical", 7.0, 32.0)),
    ("clemson", "2010-07-01", "2010-07-10", "2010-09-30", 500, ("double-triangle", "intermediate", 10.0, 28.0)),
    ("clemson", "2016-02-20", "2016-02-28", "2016-06-30", 150, ("double-sine", "none", 4.0, None)),
    ("clemson", "2017-04-01", "2017-04-20", "2017-08-31", 600, ("average", "horizontal", 5.0, 25.0)),
    ("clemson", "2017-04-01", "2017-04-20", "2017-08-31", 600, ("clamped-average", "horizontal", 10.0, 30.0)),
    ("clemson", "2013-06-01", "2013-06-30", "2013-10-31", 1200, ("single-triangle", "horizontal", 6.0, 29.0)),
    ("clemson", "1993-06-01", "1993-06-10", "1993-09-30", 300, SINE),  # few years
    ("clemson", "1992-06-01", "1992-06-10", "1992-09-30", 300, SINE),  # one
    ("seattle", "2015-06-15", "2015-06-20", "2015-09-30", 210, ("single-sine", "horizontal", 5.0, 25.0)),
    ("seattle", "2014-06-15", "2014-07-01", "2014-09-30", 310, ("single-triangle", "vertical", 6.0, 26.0)),
    ("seattle", "2013-02-10", "2013-02-27", "2013-06-30", 150, SINE),
    ("seattle", "2015-09-01", "2015-10-01", "2015-12-31", 900, SINE),  # never in most years
    ("seattle", "2014-11-01", "2014-12-10", "2015-05-31", 350, SINE),
    ("seattle", "2013-12-20", "2014-01-10", "2014-04-30", 120, ("double-triangle", "none", 3.0, None)),
    ("seattle", "2015-07-20", "2015-07-10", "2015-09-30", 150, SINE),  # from a day to come
    ("seattle", "2015-07-01", "2015-07-01", "2015-07-02", 500, SINE),  # never
]


def ask(path, case, *more):
    _, first, today, horizon, need, (method, cutoff, base, upper) = case
    if upper is not None:
        more += ("--upper", upper)
    return json.loads(graftwarden("heat", "--arrival", "--temps", path, "--from", first, "--today", today, "--horizon",
                                  horizon, "--need", need, "--method", method, "--cutoff", cutoff, "--base", base,
                                  "--json", *more))


def compare(checks, found, want, label):
    checks.same((found["members"], found["left_out"]), (want["members"], want["left_out"]), f"{label}: years")
    if want["certain"]:
        checks.same([found["p10"], found["p50"], found["p90"]], want["three"], f"{label}: dates")
    return want["certain"]


def by_years(checks, files):
    certain = 0
    for case in CASES:
        name, first, today, horizon, need, model = case
        path, days = files[name]
        want = expected(days, d(first), d(today), d(horizon), need, model)
        certain += compare(checks, ask(path, case), want, " ".join(map(str, case)))
    checks.check(certain >= len(CASES) - 2, f"{certain} of {len(CASES)} cases are certain")


def with_forecast(checks, files, folder):
    """Seven days foretold, each somewhat off; later days of the file itself must not be seen."""
    path, days = files["clemson"]
    off = [0.5, -0.8, 1.2, -1.5, 2.0, -2.4, 2.9]
    for year in (2003, 2008, 2011, 2016):
        case = ("clemson", f"{year}-07-01", f"{year}-07-04", f"{year}-08-31", 210, SINE)
        today = d(case[2])
        foretold = {}
        for i, error in enumerate(off):
            day = today + (i + 1) * DAY
            low, high = days[day]
            foretold[day] = (round(low + error, 1), round(high + error, 1))
        file = folder / f"foretold-{year}.csv"
        write(file, foretold)
        want = expected(days, d(case[1]), today, d(case[3]), case[4], SINE, foretold)
        compare(checks, ask(path, case, "--forecast", file), want, f"forecast {year}")


def with_gaps(checks, files, folder):
    """Days missing this year are taken from each year before; a year that lacks one of them too is left out."""
    _, days = files["clemson"]
    torn = {day: warm for day, warm in days.items()
            if day not in (d("2018-07-05"), d("2018-07-06"), d("2009-07-06"), d("2012-06-30"))}
    file = folder / "torn.csv"
    write(file, torn)
    case = ("clemson", "2018-07-01", "2018-07-09", "2018-08-31", 210, SINE)
    found = ask(file, case)
    want = expected(torn, d(case[1]), d(case[2]), d(case[3]), case[4], SINE)
    compare(checks, found, want, "gaps")
    checks.same((found["missing"], found["heat_cday"]), (2, None), "gaps: heat so far is unknown")
    whole = ask(files["clemson"][0], case)
    checks.same(found["left_out"], whole["left_out"] + 1, "gaps: the year with the same gap is left out")


def without_history(checks, folder):
    """The mean of the last 14 days, called rough."""
    days = {d("2026-06-01") + i * DAY: (10.0 + i % 7, 20.0 + i % 7) for i in range(40)}
    file = folder / "young.csv"
    write(file, days)
    today = d("2026-07-10")
    model = ("average", "none", 5.0, None)
    found = ask(file, ("young", "2026-07-01", str(today), "2026-09-30", 400, model))
    heat = lambda day: sum(days[day]) / 2 - 5
    mean = sum(heat(today - i * DAY) for i in range(14)) / 14
    so_far = sum(heat(today - i * DAY) for i in range(10))
    day = today + math.ceil((400 - so_far) / mean) * DAY
    checks.same([found[key] for key in ("members", "left_out", "rough", "p10", "p50", "p90")],
                [0, 0, True, str(day), str(day), str(day)], "no history")


def write(path, days):
    with open(path, "w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(["date", "tmin_c", "tmax_c"])
        writer.writerows([day, low, high] for day, (low, high) in sorted(days.items()))


def main():
    checks = Checks("arrival")
    files = {"clemson": DATA / "clemson_1991_2020.csv", "seattle": DATA / "seattle.csv"}
    files = {name: (path, read(path)) for name, path in files.items()}
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        by_years(checks, files)
        with_forecast(checks, files, folder)
        with_gaps(checks, files, folder)
        without_history(checks, folder)
    checks.finish()


if __name__ == "__main__":
    sys.exit(main())
