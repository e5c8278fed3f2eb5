#!/usr/bin/env python3
"""Invents the temperatures of Alder Fold Nursery, always the same ones.

No measurements and no chance are in it: a day is a yearly wave, three shorter waves, a daily range that follows the
season, and the spells in the tables below. Run it in this folder to write the four files again:

    python3 make_temperatures.py [FOLDER]

temperatures-home.csv and temperatures-hill.csv hold one season; past-home.csv and past-hill.csv the ten years before.
"""

import math
import sys
from datetime import date, timedelta
from pathlib import Path

SEASON = (date(2026, 6, 1), date(2026, 11, 15))
PAST = (date(2016, 1, 1), date(2025, 12, 31))

# The hill is cooler, and its nights and days differ less.
COOLER = {"home": 0.0, "hill": 2.0}
RANGE = {"home": 1.0, "hill": 0.9}

# (period in days, height in °C, days by which it is shifted)
WAVES = [(7.3, 1.5, 2.0), (11.9, 1.2, 5.0), (23.7, 0.9, 8.0)]

# What the season of 2026 has besides: first day, then for each day what is added to the minimum and to the maximum.
SPELLS = [
    # A heat wave over a weekend, from Friday 7 to Monday 10 August; the Thursday leads into it.
    (date(2026, 8, 6), [(3.0, 6.0), (6.0, 12.0), (8.0, 15.5), (9.5, 18.5), (7.5, 14.0), (2.0, 1.5)]),
    # A cold spell from Wednesday 26 August to Sunday 6 September.
    (date(2026, 8, 26), [(-1.0, -4.0), (-2.0, -5.5), (-2.0, -6.0), (-2.5, -6.0), (-2.0, -5.5), (-1.5, -5.0),
                         (-1.5, -5.0), (-2.0, -5.5), (-2.5, -6.0), (-2.5, -6.0), (-2.0, -5.0), (-1.0, -3.5)]),
    # A dull and windy week.
    (date(2026, 9, 18), [(-0.5, -2.5), (-0.5, -3.5), (-0.5, -3.5), (-0.5, -3.5), (-0.5, -3.5), (-0.5, -3.0)]),
    # First frosts.
    (date(2026, 11, 3), [(-2.0, -1.5), (-4.5, -3.0), (-5.0, -3.5), (-5.0, -3.5), (-4.5, -3.0), (-4.0, -3.0),
                         (-3.0, -2.5), (-2.0, -1.5)]),
]

# The logger on the hill was flat on these days.
MISSING = {"home": [], "hill": [date(2026, 8, 15), date(2026, 8, 16)]}


def past_spells(year):
    """The spells of a year before: one hot, one cold, one late frost, moved from year to year by a fixed step."""
    hot = date(year, 7, 1) + timedelta(days=37 * year % 53)
    cold = date(year, 7, 20) + timedelta(days=23 * year % 41)
    frost = date(year, 4, 10) + timedelta(days=17 * year % 31)
    heat = 5.0 + 11 * year % 7
    return [
        (hot, [(heat / 2, heat), (heat / 2 + 1, heat + 2), (heat / 2 + 1, heat + 1), (heat / 3, heat / 2)]),
        (cold, [(-2.0, -5.0)] * (4 + 5 * year % 6)),
        (frost, [(-4.0, -2.0)] * 3),
    ]


def spells_by_day(spells):
    added = {}
    for first, days in spells:
        for number, (low, high) in enumerate(days):
            day = first + timedelta(days=number)
            before = added.get(day, (0.0, 0.0))
            added[day] = (before[0] + low, before[1] + high)
    return added


def temperatures(site, day, added):
    """Minimum and maximum of a day in °C, to one decimal."""
    turn = 2 * math.pi * (day.timetuple().tm_yday - 203) / 365.25
    summer = (1 + math.cos(turn)) / 2  # 1 in late July, 0 in late January
    number = (day - PAST[0]).days
    year = 0.5 * math.sin(2.1 * day.year) if day <= PAST[1] else 0.0
    waves = sum(height * math.sin(2 * math.pi * (number + shift) / period) for period, height, shift in WAVES)
    mean = 2.4 + 16.4 * summer + year + waves - COOLER[site]
    width = RANGE[site] * (6.0 + 4.5 * summer + 1.8 * math.sin(2 * math.pi * number / 5.3))
    low, high = added.get(day, (0.0, 0.0))
    share = 0.85 if site == "hill" else 1.0
    low, high = mean - width / 2 + share * low, mean + width / 2 + share * high
    return round(low, 1) + 0.0, round(max(high, low + 1.0), 1) + 0.0


def write(path, site, first, last, spells, missing=()):
    added = spells_by_day(spells)
    lines = ["date,tmin_c,tmax_c"]
    day = first
    while day <= last:
        if day not in missing:
            low, high = temperatures(site, day, added)
            lines.append(f"{day},{low:.1f},{high:.1f}")
        day += timedelta(days=1)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")


def main():
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent
    past = [spell for year in range(PAST[0].year, PAST[1].year + 1) for spell in past_spells(year)]
    for site in ("home", "hill"):
        write(folder / f"temperatures-{site}.csv", site, *SEASON, SPELLS, MISSING[site])
        write(folder / f"past-{site}.csv", site, *PAST, past)


if __name__ == "__main__":
    main()
