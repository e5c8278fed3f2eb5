"""The files of a nursery, and the warmth of its sites, read and reckoned without the program."""

import csv
import math
import tomllib
from datetime import date, timedelta
from pathlib import Path

LONGEST_FILLED_GAP = 2
WEEK = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
DAY = timedelta(days=1)


# ---- heat ----

def above(low, high, threshold):
    """Mean over the day of what a sine wave from `low` to `high` has above `threshold`."""
    middle, half = (low + high) / 2, (high - low) / 2
    if low >= threshold:
        return middle - threshold
    if high <= threshold:
        return 0.0
    angle = math.asin((threshold - middle) / half)
    return ((middle - threshold) * (math.pi / 2 - angle) + half * math.cos(angle)) / math.pi


def heat_of_day(model, low, high):
    assert model["method"] == "single-sine"
    base, upper = model["base"], model["upper"]
    taken_away = {"horizontal": 1.0, "intermediate": 2.0}[model["cutoff"]]
    return max(0.0, above(low, high, base) - taken_away * above(low, high, upper))


class Known:
    """The temperatures of a site as they are known on the morning of `today`: measured days before it, small gaps filled
    by a line, longer ones by the mean of the years before."""

    def __init__(self, readings, past, today):
        days = {day: pair for day, pair in readings.items() if day < today}
        dates = sorted(days)
        for left, right in zip(dates, dates[1:]):
            gap = (right - left).days - 1
            if 1 <= gap <= LONGEST_FILLED_GAP:
                for k in range(1, gap + 1):
                    share = k / (gap + 1)
                    days[left + k * DAY] = tuple(a + (b - a) * share for a, b in zip(days[left], days[right]))
        self.days, self.today = days, today
        self.first = dates[0] if dates else today
        day = self.first
        while past and day < today:
            before = past.get((day.month, day.day))
            if day not in days and before:
                days[day] = tuple(sum(values) / len(before) for values in zip(*before))
            day += DAY
        self.totals = {}

    def total(self, model_name, model):
        """For the end of each day from the first on: heat so far, and how many days are unknown so far."""
        if model_name not in self.totals:
            heat, unknown, rows = 0.0, 0, {}
            day = self.first
            while day < self.today:
                if day in self.days:
                    heat += heat_of_day(model, *self.days[day])
                else:
                    unknown += 1
                rows[day] = (heat, unknown)
                day += DAY
            self.totals[model_name] = rows
        return self.totals[model_name]

    def week_mean(self, last):
        """Mean temperature of the seven days that end with `last`; none where one is unknown."""
        days = [self.days.get(last - k * DAY) for k in range(7)]
        return None if None in days else sum((low + high) / 2 for low, high in days) / 7

    def first_week_below(self, limit, start):
        day = start
        while day < self.today:
            mean = self.week_mean(day)
            if mean is not None and mean < limit:
                return day
            day += DAY
        return None


# ---- files ----

def rows(path):
    with open(path, newline="", encoding="utf-8-sig") as file:
        return list(csv.DictReader(file))


class Nursery:
    def __init__(self, config_path, plan_folder):
        folder = Path(config_path).parent
        config = tomllib.loads(Path(config_path).read_text(encoding="utf-8"))
        house = config["nursery"]
        self.zone = house["zone"]
        self.plans = {}
        for path in sorted(Path(plan_folder).glob("*.toml")):
            plan = tomllib.loads(path.read_text(encoding="utf-8"))
            self.plans[plan["name"]] = plan
        self.sites = {site["id"]: site for site in config["site"]}
        self.readings, self.past = {}, {}
        for site in config["site"]:
            (source,) = site["weather"]
            self.readings[site["id"]] = {
                date.fromisoformat(row["date"]): (float(row["tmin_c"]), float(row["tmax_c"]))
                for row in rows(folder / source["path"])
            }
            past = self.past.setdefault(site["id"], {})
            for row in rows(folder / site["past_years"]):
                day = date.fromisoformat(row["date"])
                past.setdefault((day.month, day.day), []).append((float(row["tmin_c"]), float(row["tmax_c"])))
        self.working_days = {WEEK.index(name) for name in house["working_days"]}
        self.days_off = []
        for off in house["days_off"]:
            first, _, last = str(off).partition("..")
            self.days_off.append((date.fromisoformat(first), date.fromisoformat(last or first)))
        self.batches = rows(folder / house["batches"])
        for batch in self.batches:
            batch["grafted_on"] = date.fromisoformat(batch["grafted_on"])
            batch["grafts"] = int(batch["grafts"])
        self.records = rows(folder / house["records"])
        for record in self.records:
            record["date"] = date.fromisoformat(record["date"])
        self._known = {}

    def works(self, day):
        return day.weekday() in self.working_days and not any(a <= day <= b for a, b in self.days_off)

    def known(self, site, today):
        if (site, today) not in self._known:
            self._known[site, today] = Known(self.readings[site], self.past[site], today)
        return self._known[site, today]
