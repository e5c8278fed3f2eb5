"""The heat sums of `graftwarden heat` once more, by numerical integration with scipy on the same files.

Nothing here knows a closed form: each day's curve is integrated between the places where the rule has a corner.
"""

import csv
import math
import sys
import tempfile
from datetime import date, timedelta
from functools import lru_cache
from pathlib import Path

from scipy.integrate import quad

from common import ROOT, Checks, graftwarden
import json

DATA = ROOT / "tests" / "data" / "checks" / "data"
DAY = timedelta(days=1)
CURVES = {"single-sine": "sine", "double-sine": "sine", "single-triangle": "line", "double-triangle": "line",
          "beta": "sine", "growing-degree-hours": "sine"}
DEGREES = ["average", "clamped-average", "single-triangle", "double-triangle", "single-sine", "double-sine"]
CUTOFFS = ["none", "horizontal", "intermediate", "vertical"]
TOLERANCE = 2e-4  # the sums are printed to at least 4 decimals


# ---- what a temperature gives ----

def degrees(cutoff, base, upper):
    def rule(t):
        if cutoff == "vertical" and t > upper:
            return 0.0
        gained = max(0.0, t - base)
        if cutoff == "horizontal":
            gained = max(0.0, min(t, upper) - base)
        if cutoff == "intermediate":
            gained -= 2.0 * max(0.0, t - upper)
        return gained
    return rule


def beta(base, optimum, upper):
    def rule(t):
        if not base < t < upper:
            return 0.0
        power = (optimum - base) / (upper - optimum)
        return (upper - t) / (upper - optimum) * ((t - base) / (optimum - base)) ** power
    return rule


def degree_hours(base, optimum, upper):
    def rule(t):
        if not base < t < upper:
            return 0.0
        full = optimum - base
        if t <= optimum:
            return full / 2.0 * (1.0 + math.cos(math.pi + math.pi * (t - base) / full))
        return full * (1.0 + math.cos(math.pi / 2 + math.pi / 2 * (t - optimum) / (upper - optimum)))
    return rule


# ---- a day ----

def half_day(curve, low, high, rule, corners):
    """Mean of the rule while the temperature goes from `low` to `high` (down is the same by mirror)."""
    if high == low:
        return rule(low)
    if curve == "sine":
        middle, half = (low + high) / 2, (high - low) / 2
        temperature = lambda u: middle + half * math.sin(math.pi * (u - 0.5))
        place = lambda t: 0.5 + math.asin((t - middle) / half) / math.pi
    else:
        temperature = lambda u: low + (high - low) * u
        place = lambda t: (t - low) / (high - low)
    cuts = [0.0] + sorted(place(t) for t in corners if low < t < high) + [1.0]
    total = 0.0
    for left, right in zip(cuts, cuts[1:]):
        if right > left:
            total += quad(lambda u: rule(temperature(u)), left, right, epsabs=1e-10, epsrel=1e-10)[0]
    return total


@lru_cache(maxsize=None)
def heat_of_day(method, cutoff, base, upper, optimum, low, high, next_low):
    if method == "beta":
        return half_day("sine", low, high, beta(base, optimum, upper), (base, optimum, upper))
    if method == "growing-degree-hours":
        return 24.0 * half_day("sine", low, high, degree_hours(base, optimum, upper), (base, optimum, upper))
    rule = degrees(cutoff, base, upper)
    if method == "average":
        heat = rule((low + high) / 2)
    elif method == "clamped-average":
        heat = (rule(low) + rule(high)) / 2
    else:
        curve = CURVES[method]
        corners = (base,) if cutoff == "none" else (base, upper)
        heat = half_day(curve, low, high, rule, corners)
        if method.startswith("double") and next_low is not None:
            second = half_day(curve, min(high, next_low), max(high, next_low), rule, corners)
            heat = (heat + second) / 2
    return max(0.0, heat)


# ---- a span ----

def read(path):
    with open(path, newline="", encoding="utf-8") as file:
        return {date.fromisoformat(row["date"]): (float(row["tmin_c"]), float(row["tmax_c"]))
                for row in csv.DictReader(file)}


def span(days, first, last, need, method, cutoff, base, upper, optimum=None):
    """Heat (none where a day is missing), the day on which `need` is reached, and by how much that is certain."""
    total, missing, reached, margin = 0.0, 0, None, math.inf
    day = first
    while day <= last:
        if day not in days:
            missing += 1
        else:
            low, high = days[day]
            next_low = days[day + DAY][0] if day + DAY in days else None
            if not method.startswith("double"):
                next_low = None
            total += heat_of_day(method, cutoff, base, upper, optimum, low, high, next_low)
            if need is not None and missing == 0:
                margin = min(margin, abs(total - need))
                if reached is None and total >= need:
                    reached = day
        day += DAY
    return {"heat": None if missing else total, "reached": reached, "missing": missing,
            "days": (last - first).days + 1, "certain": margin > TOLERANCE}


def d(text):
    return date.fromisoformat(text)


SEATTLE_SPANS = [(d("2012-03-01"), d("2012-06-30"), 210.0), (d("2013-06-20"), d("2013-08-31"), 400.0),
                 (d("2014-02-28"), d("2014-03-01"), 5.0), (d("2015-07-01"), d("2015-07-01"), 3.0),
                 (d("2015-10-01"), d("2015-12-31"), 5000.0)]
WARM_SPANS = [(d("1995-06-01"), d("1995-08-31"), 300.0), (d("2010-07-04"), d("2010-07-31"), 210.0)]


def gaps_of(days):
    """A span that ends right before a gap, and one over it."""
    dates = sorted(days)
    for left, right in zip(dates, dates[1:]):
        if (right - left).days > 1 and left.month in (6, 7, 8, 9) and left - 10 * DAY in days:
            return [(left - 10 * DAY, left, 100.0), (left - 10 * DAY, right + 5 * DAY, 60.0),
                    (left - 10 * DAY, right + 5 * DAY, 900.0)]
    return []


def run_heat(path, first, last, method, *more):
    return json.loads(graftwarden("heat", "--temps", path, "--method", method, "--from", first, "--to", last,
                                  *more, "--json"))


def check_answer(checks, found, expected, label):
    checks.same((found["days"], found["missing"]), (expected["days"], expected["missing"]), f"{label}: days, missing")
    tolerance = TOLERANCE + 1e-9 * abs(expected["heat"] or 0.0)
    checks.near(found["heat_cday"], expected["heat"], tolerance, f"{label}: heat_cday")
    if expected["certain"]:
        reached = expected["reached"] and str(expected["reached"])
        checks.same(found["reached_on"], reached, f"{label}: reached_on")


def one_by_one(checks, files):
    """Each method and cutoff by its own call of the program."""
    path, days = files["seattle"]
    first, last, need = SEATTLE_SPANS[0]
    for method in DEGREES:
        for cutoff in CUTOFFS:
            base, upper = 5.0, 24.0
            more = ["--base", base, "--cutoff", cutoff, "--need", need]
            if cutoff != "none":
                more += ["--upper", upper]
            found = run_heat(path, first, last, method, *more)
            label = f"seattle {method} {cutoff}"
            checks.same((found["method"], found["cutoff"], found["unit"]), (method, cutoff, "degree-days"), label)
            checks.near(found["base_c"], base, 1e-9, f"{label}: base_c")
            check_answer(checks, found, span(days, first, last, need, method, cutoff, base, upper), label)
    for method, unit in (("beta", "optimum-days"), ("growing-degree-hours", "degree-hours")):
        for first, last, need in SEATTLE_SPANS[:2]:
            base, optimum, upper = 4.0, 25.0, 36.0
            need = 20.0 if method == "beta" else 3000.0
            found = run_heat(path, first, last, method, "--base", base, "--optimum", optimum, "--upper", upper,
                             "--need", need)
            label = f"seattle {method} {first}"
            checks.same((found["method"], found["unit"]), (method, unit), label)
            check_answer(checks, found, span(days, first, last, need, method, "none", base, upper, optimum), label)


def over_gaps(checks, files):
    path, days = files["clemson"]
    gaps = gaps_of(days)
    checks.check(len(gaps) == 3, "the Clemson file has a summer gap to ask about")
    for first, last, need in gaps:
        for method in ("single-sine", "double-sine", "double-triangle"):
            found = run_heat(path, first, last, method, "--base", 10.0, "--upper", 30.0, "--cutoff", "horizontal",
                             "--need", need)
            expected = span(days, first, last, need, method, "horizontal", 10.0, 30.0)
            check_answer(checks, found, expected, f"clemson {method} {first} to {last}")


def many_at_once(checks, files, folder):
    """--asks: every method, cutoff and span on one file at once."""
    for name, spans in (("seattle", SEATTLE_SPANS), ("clemson", WARM_SPANS)):
        path, days = files[name]
        asks, out = folder / f"asks-{name}.csv", folder / f"out-{name}.csv"
        questions = [(first, last, need, method, cutoff, base, upper)
                     for first, last, need in spans for method in DEGREES for cutoff in CUTOFFS
                     for base, upper in ((5.0, 30.0), (10.0, 26.5))]
        with open(asks, "w", newline="", encoding="utf-8") as file:
            writer = csv.writer(file)
            writer.writerow(["from", "to", "need", "method", "cutoff", "base", "upper"])
            writer.writerows(questions)
        graftwarden("heat", "--temps", path, "--asks", asks, "--out", out)
        with open(out, newline="", encoding="utf-8") as file:
            answers = list(csv.DictReader(file))
        if not checks.same(len(answers), len(questions), f"{name}: rows of --out"):
            continue
        for question, found in zip(questions, answers):
            expected = span(days, *question)
            label = f"{name} {question[0]} to {question[1]} {question[3]} {question[4]} {question[5]}-{question[6]}"
            checks.near(float(found["heat_cday"]), expected["heat"], TOLERANCE, f"{label}: heat_cday")
            if expected["certain"]:
                reached = str(expected["reached"]) if expected["reached"] else ""
                checks.same(found["reached_on"], reached, f"{label}: reached_on")


def in_fahrenheit(checks, files, folder):
    """The same readings in °F, said so by their headings or by --unit; everything asked and answered stays in °C."""
    _, days = files["seattle"]
    named, plain = folder / "named.csv", folder / "plain.csv"
    for path, head in ((named, "date,tmin_f,tmax_f"), (plain, "day,low,high")):
        with open(path, "w", newline="", encoding="utf-8") as file:
            file.write(head + "\n")
            for day, (low, high) in sorted(days.items()):
                file.write(f"{day},{low * 1.8 + 32:.6f},{high * 1.8 + 32:.6f}\n")
    columns = ["--date-column", "day", "--min-column", "low", "--max-column", "high", "--unit", "F"]
    for path, more in ((named, []), (plain, columns)):
        for method in ("single-sine", "average"):
            for first, last, _ in SEATTLE_SPANS[:2]:
                found = run_heat(path, first, last, method, "--base", 5, "--upper", 30, "--cutoff", "horizontal",
                                 "--need", 210, *more)
                label = f"seattle in °F, {path.name} {method} {first}"
                checks.near(found["base_c"], 5.0, 1e-9, f"{label}: base_c")
                checks.near(found["upper_c"], 30.0, 1e-9, f"{label}: upper_c")
                check_answer(checks, found, span(days, first, last, 210.0, method, "horizontal", 5.0, 30.0), label)


def main():
    checks = Checks("heat-sums")
    files = {"seattle": DATA / "seattle.csv", "clemson": DATA / "clemson_1991_2020.csv"}
    files = {name: (path, read(path)) for name, path in files.items()}
    with tempfile.TemporaryDirectory() as folder:
        one_by_one(checks, files)
        over_gaps(checks, files)
        many_at_once(checks, files, Path(folder))
        in_fahrenheit(checks, files, Path(folder))
    checks.finish()


if __name__ == "__main__":
    sys.exit(main())
