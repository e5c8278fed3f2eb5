"""The committed temperatures of the demo are the ones their generator writes, and they tell the season they promise."""

import csv
import subprocess
import sys
import tempfile
from datetime import date, timedelta
from pathlib import Path

from common import DEMO, Checks

FILES = ["temperatures-home.csv", "temperatures-hill.csv", "past-home.csv", "past-hill.csv"]


def read(path):
    with open(path, newline="", encoding="utf-8") as file:
        return {date.fromisoformat(row["date"]): (float(row["tmin_c"]), float(row["tmax_c"]))
                for row in csv.DictReader(file)}


def main():
    checks = Checks("temperatures")
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run([sys.executable, DEMO / "make_temperatures.py", folder], check=True)
        for name in FILES:
            checks.same((Path(folder) / name).read_bytes() == (DEMO / name).read_bytes(), True,
                        f"{name} is what make_temperatures.py writes")
    for name in FILES:
        checks.check(all(-60 <= low < high <= 55 for low, high in read(DEMO / name).values()), f"{name}: plain days")
    home, hill = read(DEMO / FILES[0]), read(DEMO / FILES[1])
    weekend = [date(2026, 8, 7) + k * timedelta(days=1) for k in range(4)]
    checks.same((weekend[0].strftime("%a"), weekend[-1].strftime("%a")), ("Fri", "Mon"), "the heat wave's days")
    checks.check(all(home[day][1] >= 32 for day in weekend), "a heat wave at home from Friday to Monday")
    checks.check(max(home[day][1] for day in weekend) >= 38, "with one day of 38 °C")
    cold = [date(2026, 8, 28) + k * timedelta(days=1) for k in range(9)]
    checks.check(all(sum(hill[day]) / 2 < 12.5 for day in cold), "a cold spell on the hill: means under 12.5 °C")
    days = (date(2026, 11, 15) - date(2026, 6, 1)).days + 1
    checks.same((len(home), len(hill)), (days, days - 2), "days at home, and on the hill with two missing")
    past = read(DEMO / FILES[2])
    checks.same(sorted({day.year for day in past}), list(range(2016, 2026)), "ten past years")
    checks.finish()


if __name__ == "__main__":
    sys.exit(main())
