"""What `graftwarden tune --intervals` learns, once more: by the closed form, and by scipy's own integration.

The posterior of a group's mean logarithm is written down here as it stands in the rule and integrated with `quad`; nothing
here knows a grid. Cases are drawn with fixed seeds.
"""

import csv
import math
import random
import sys
import tempfile
from pathlib import Path

from scipy.integrate import quad
from scipy.optimize import minimize_scalar
from scipy.special import log_ndtr
from scipy.stats import norm

from common import Checks, graftwarden, json_lines

LOG_DIGITS = 5e-5  # four digits on the log scale


# ---- the rule ----

def weight(row):
    return 0.5 ** (row[2] / 5)


def closed_form(rows, need, tau, s):
    """Mean and variance with exact observations only."""
    counts = sum(weight(row) for row in rows)
    mean = sum(weight(row) * math.log(row[0]) for row in rows) / counts
    share = counts * tau ** 2 / (counts * tau ** 2 + s ** 2)
    return share * mean + (1 - share) * math.log(need), 1 / (1 / tau ** 2 + counts / s ** 2)


def log_likelihood(row, mean, s):
    above, upto, _ = row
    if above is not None and above == upto:
        return norm.logpdf(math.log(above), mean, s)
    if above is None:
        return log_ndtr((math.log(upto) - mean) / s)
    if upto is None:
        return log_ndtr(-(math.log(above) - mean) / s)
    low, high = (math.log(above) - mean) / s, (math.log(upto) - mean) / s
    if low > 0:
        low, high = -high, -low
    top, bottom = log_ndtr(high), log_ndtr(low)
    return top + math.log(-math.expm1(bottom - top))


def integrated(rows, need, tau, s):
    def log_posterior(mean):
        return norm.logpdf(mean, math.log(need), tau) + sum(weight(row) * log_likelihood(row, mean, s) for row in rows)

    ends = [math.log(bound) for row in rows for bound in row[:2] if bound is not None] + [math.log(need)]
    top = minimize_scalar(lambda mean: -log_posterior(mean), bounds=(min(ends) - 12 * s, max(ends) + 12 * s),
                          method="bounded", options={"xatol": 1e-10}).x
    height = log_posterior(top)
    cuts = [top + sign * reach * tau for sign in (-1, 1) for reach in (1e-9, 0.02, 0.1, 0.3, 1, 3, 9)]

    def moment(power):
        total = 0.0
        for left, right in zip(sorted(cuts), sorted(cuts)[1:]):
            total += quad(lambda m: (m - top) ** power * math.exp(max(-700.0, log_posterior(m) - height)), left, right,
                          epsabs=1e-13, epsrel=1e-11, limit=400)[0]
        return total

    mass, first, second = moment(0), moment(1), moment(2)
    return top + first / mass, second / mass - (first / mass) ** 2


# ---- cases ----

def drawn(seed):
    """Batches of a group with a requirement of its own, looked at every few days."""
    dice = random.Random(seed)
    need, tau, s = dice.choice([(200.0, 0.25, 0.15), (17.15, 0.13, 0.09), (210.0, 0.13, 0.09), (300.0, 0.4, 0.05)])
    group = math.log(need) + dice.gauss(0, tau)
    rows = []
    for _ in range(dice.choice([1, 2, 3, 5, 8, 15])):
        true = math.exp(group + dice.gauss(0, s))
        kind, step = dice.random(), dice.uniform(0.03, 0.4)
        low, high = true * math.exp(-step * dice.random()), true * math.exp(step * dice.random())
        season = dice.choice([0, 0, 0, 1, 3, 7]) if seed % 2 else 0
        if kind < 0.15:
            rows.append((None, high, season))
        elif kind < 0.35:
            rows.append((low, None, season))
        elif kind < 0.5:
            rows.append((true, true, season))
        else:
            rows.append((low, high, season))
    return rows, need, tau, s


def learned(folder, groups, need, tau, s):
    path = folder / "seen.csv"
    with open(path, "w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(["group", "above", "upto", "seasons_ago"])
        for name, rows in groups.items():
            writer.writerows([name] + ["" if cell is None else repr(cell) for cell in row] for row in rows)
    out = json_lines(graftwarden("tune", "--intervals", path, "--need", need, "--prior-sd", tau, "--batch-sd", s, "--json"))
    return {line["group"]: line for line in out}


def compare(checks, found, rows, expected, s, label):
    mean, variance = expected
    sd = math.sqrt(variance + s ** 2)
    checks.same(found["n"], len(rows), f"{label}: n")
    checks.near(math.log(found["need"]), mean, LOG_DIGITS, f"{label}: ln need")
    checks.near(found["sd"], sd, LOG_DIGITS, f"{label}: sd")
    reach = norm.ppf(0.9) * sd
    checks.near(math.log(found["low80"]), mean - reach, 2 * LOG_DIGITS, f"{label}: ln low80")
    checks.near(math.log(found["high80"]), mean + reach, 2 * LOG_DIGITS, f"{label}: ln high80")


def exact(checks, folder):
    for need, tau, s in ((200.0, 0.25, 0.15), (17.15, 0.13, 0.09)):
        dice = random.Random(1)
        groups = {f"exact {n}": [(need * f, need * f, dice.choice([0, 2, 6])) for f in
                                 (math.exp(dice.gauss(0, 0.3)) for _ in range(n))] for n in (1, 2, 4, 12, 60)}
        found = learned(folder, groups, need, tau, s)
        for name, rows in groups.items():
            compare(checks, found[name], rows, closed_form(rows, need, tau, s), s, f"{name} about {need}")
    # Figures given with the rule itself.
    found = learned(folder, {"three": [(x, x, 0) for x in (240.0, 228.0, 251.0)], "one": [(240.0, 240.0, 0)]},
                    200.0, 0.25, 0.15)
    checks.near(found["three"]["need"], 234.90, 0.005, "three: need")
    checks.near(found["three"]["low80"], 188.7, 0.05, "three: low80")
    checks.near(found["three"]["high80"], 292.4, 0.05, "three: high80")
    checks.near(found["one"]["need"], 228.69, 0.005, "one: need")


def censored(checks, folder):
    for seed in range(40):
        rows, need, tau, s = drawn(seed)
        found = learned(folder, {"g": rows}, need, tau, s)
        compare(checks, found["g"], rows, integrated(rows, need, tau, s), s, f"case {seed}")


def at_the_edges(checks, folder):
    need, tau, s = 200.0, 0.25, 0.15
    cases = {
        "one not yet": [(230.0, None, 0)],
        "one long not yet": [(900.0, None, 0)],
        "one at the first look": [(None, 150.0, 0)],
        "forty not yet": [(260.0, None, 0)] * 40,
        "far narrow": [(500.0, 500.5, 0)],
        "two far apart": [(100.0, 105.0, 0), (400.0, 410.0, 0)],
    }
    found = learned(folder, cases, need, tau, s)
    for name, rows in cases.items():
        compare(checks, found[name], rows, integrated(rows, need, tau, s), s, name)
    # An exact observation is an interval of no width.
    close = {f"width {w}": [(240.0 * (1 - w), 240.0 * (1 + w), 0)] for w in (1e-4, 1e-6, 1e-9)}
    found = learned(folder, close, need, tau, s)
    for name, rows in close.items():
        compare(checks, found[name], rows, closed_form([(240.0, 240.0, 0)], need, tau, s), s, name)
    # What tells nothing leaves what was believed before.
    wide = {"wide": [(1e-3, 1e7, 0)] * 3, "barely begun": [(1e-3, None, 0)], "some time": [(None, 1e7, 0)]}
    found = learned(folder, wide, need, tau, s)
    for name, rows in wide.items():
        compare(checks, found[name], rows, (math.log(need), tau ** 2), s, name)


def bad_rows(checks, folder):
    path = folder / "bad.csv"
    path.write_text("group,above,upto\na,250,240\na,0,\na,x,\na,240,240\n", encoding="utf-8")
    done = graftwarden("tune", "--intervals", path, "--need", 200, "--prior-sd", 0.25, "--batch-sd", 0.15, "--json",
                       ok=False)
    checks.same(done.returncode, 65, "bad rows: exit code")
    found = json_lines(done.stdout)
    checks.same([(line["group"], line["n"]) for line in found], [("a", 1)], "bad rows: the good one is used")
    for row in (2, 3, 4):
        checks.check(f"bad.csv, row {row}" in done.stderr, f"bad rows: row {row} is named")


def main():
    checks = Checks("learning")
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        exact(checks, folder)
        censored(checks, folder)
        at_the_edges(checks, folder)
        bad_rows(checks, folder)
    checks.finish()


if __name__ == "__main__":
    sys.exit(main())
