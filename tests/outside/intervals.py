"""Spans of time as ISO 8601 writes them, read by the program and by the library aniso8601 (PyPI).

Invented forecasts of the shape of the weather service of the United States: rain and gusts over spans that follow each
other, written in every form and with every kind of offset. What falls on a date shows how each span was read: an hour
more or less in one of them changes the rain of a date, or leaves it open. Spans with `NOW` are left away: the library
does not know it. Years and months are the program's to refuse.
"""

import random
import sys
import tempfile
from datetime import datetime, timedelta, timezone
from pathlib import Path
from zoneinfo import ZoneInfo

import aniso8601

from common import Checks, graftwarden, json_lines
from service import Service, nursery

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
ZONE = ZoneInfo("America/New_York")
# The clocks change on 3 November 2024: a date of 25 hours is among the days.
NOW = datetime(2024, 11, 1, 15, tzinfo=timezone.utc)
LONG = [1, 2, 3, 6, 12, 13, 24, 30, 72, 159]
OFFSETS = [0, 0, -5 * 60, -4 * 60, 60, 13 * 60, 330, -210]
CELL = "/gridpoints/ABC/12,34"
ALWAYS = ["2024-11-02T06:00:00+00:00/P1DT6H", "2024-11-03T12:00:00+00:00/P6DT15H", "2024-11-02T12:00:00-04:00/PT72H"]


def instant(at, chance):
    minutes = chance.choice(OFFSETS)
    local = at.astimezone(timezone(timedelta(minutes=minutes)))
    text = local.strftime("%Y-%m-%dT%H:%M:%S")
    if minutes == 0:
        return text + chance.choice(["Z", "+00:00"])
    return text + local.strftime("%z")[:3] + ":" + local.strftime("%z")[3:]


def length(hours, chance):
    """The same length in different words."""
    days, rest = divmod(hours, 24)
    forms = [f"PT{hours}H", f"PT{hours * 60}M", f"PT{hours * 3600}S", f"PT{hours - 1}H60M"]
    if days:
        forms += [f"P{days}D" + (f"T{rest}H" if rest else ""), f"P{days}DT{rest}H0M"] * 3
    if hours % 168 == 0:
        forms.append(f"P{hours // 168}W")
    return chance.choice(forms)


def written(start, hours, chance):
    end = start + hours * HOUR
    return chance.choice([
        lambda: f"{instant(start, chance)}/{length(hours, chance)}",
        lambda: f"{instant(start, chance)}/{instant(end, chance)}",
        lambda: f"{length(hours, chance)}/{instant(end, chance)}",
    ])()


def partition(chance):
    """Spans from some hour of today on, one after the other, for about ten days, with an amount each."""
    start = NOW - chance.randrange(20) * HOUR
    values = []
    while start < NOW + 9 * DAY:
        hours = chance.choice(LONG + [168])
        values.append((written(start, hours, chance), round(chance.uniform(0.1, 40), 2)))
        start += hours * HOUR
    return values


def read(text):
    """By the library. Where the duration stands first, it gives the end first."""
    return sorted(aniso8601.parse_interval(text))


def hours_of(date):
    def starts(day):
        return datetime(day.year, day.month, day.day, tzinfo=ZONE).astimezone(timezone.utc)
    return starts(date), starts(date + DAY)


def of_date(date, values):
    """The amounts that fall on a date with the share of their span that does; none where more than an hour is open."""
    begin, end = hours_of(date)
    shares, covered = [], timedelta()
    for text, value in values:
        start, stop = read(text)
        part = min(stop, end) - max(start, begin)
        if part > timedelta():
            covered += part
            shares.append((value, part / (stop - start)))
    return shares if covered >= end - begin - HOUR else None


def layer(unit, values):
    return {"uom": f"wmoUnit:{unit}", "values": [{"validTime": text, "value": value} for text, value in values]}


def temperatures(first_hour, hours, base, chance):
    """A span each day from a local hour on."""
    spans = []
    for n in range(9):
        day = NOW.astimezone(ZONE).date() + n * DAY
        local = datetime(day.year, day.month, day.day, tzinfo=ZONE) + first_hour * HOUR
        spans.append((written(local.astimezone(timezone.utc), hours, chance), base + n))
    return spans


def by_date(values, end):
    """A maximum is of the date on which its span begins, a minimum of the one on which it ends."""
    return {read(text)[end].astimezone(ZONE).date(): value for text, value in values}


def one(checks, service, folder, seed):
    chance = random.Random(seed)
    rains, gusts = partition(chance), partition(chance)
    maxima, minima = temperatures(7, 13, 12.0, chance), temperatures(-5, 14, 1.0, chance)
    service.documents[CELL] = {"properties": {
        "updateTime": NOW.isoformat(), "maxTemperature": layer("degC", maxima), "minTemperature": layer("degC", minima),
        "quantitativePrecipitation": layer("mm", rains), "windGust": layer("km_h-1", gusts)}}
    config = nursery(folder, f'source = "us-weather-service"\nurl = "{service.url}"\ncontact = "office@alderfold.example"',
                     "2024-10-20")
    told = graftwarden("round", "--config", config, "--at", NOW.isoformat(), ok=False)
    checks.same(told.returncode, 0, f"seed {seed}: the round")
    checks.check("interval" not in told.stderr, f"seed {seed}: it refuses none: {told.stderr}")
    highs, lows = by_date(maxima, 0), by_date(minima, 1)
    days = sorted(set(highs) & set(lows))
    out = graftwarden("days", "--config", config, "--site", "hill", "--from", days[0], "--to", days[-1], "--json")
    found = {day["date"]: day for day in json_lines(out)}
    open_dates = 0
    for date in days:
        day = found[str(date)]
        checks.same((day["tmin_c"], day["tmax_c"]), (lows[date], highs[date]), f"seed {seed}, {date}: temperatures")
        shares = of_date(date, rains)
        rain = None if shares is None else sum(value * share for value, share in shares)
        checks.near(day["rain_mm"], rain, 1e-6, f"seed {seed}, {date}: rain of {rains}")
        shares = of_date(date, gusts)
        gust = None if shares is None else max(value for value, _ in shares)
        checks.same(day["gust_kmh"], gust, f"seed {seed}, {date}: gust of {gusts}")
        open_dates += (rain is None) + (gust is None)
    return len(days), open_dates


def known(checks, service, folder):
    """The spans that the service itself is known to write, one document each: rain of its dates and no other."""
    for n, text in enumerate(ALWAYS):
        chance = random.Random(n)
        maxima, minima = temperatures(7, 13, 12.0, chance), temperatures(-5, 14, 1.0, chance)
        service.documents[CELL] = {"properties": {
            "updateTime": NOW.isoformat(), "maxTemperature": layer("degC", maxima),
            "minTemperature": layer("degC", minima), "windGust": layer("km_h-1", [(text, 33.0)])}}
        config = nursery(folder / f"known-{n}",
                         f'source = "us-weather-service"\nurl = "{service.url}"\ncontact = "office@alderfold.example"',
                         "2024-10-20")
        graftwarden("round", "--config", config, "--at", NOW.isoformat())
        out = graftwarden("days", "--config", config, "--site", "hill", "--from", "2024-11-01", "--to", "2024-11-09", "--json")
        for day in json_lines(out):
            date = datetime.fromisoformat(day["date"]).date()
            gust = 33.0 if of_date(date, [(text, 33.0)]) else None
            checks.same(day["gust_kmh"], gust, f"{text} on {date}")


def main():
    checks = Checks("intervals")
    with Service() as service, tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        service.documents["/points/42.5,-74"] = {"properties": {"forecastGridData": service.url + CELL}}
        known(checks, service, folder)
        counts = [one(checks, service, folder / f"n{seed}", seed) for seed in range(30)]
        days, open_dates = (sum(column) for column in zip(*counts))
        checks.check(days >= 200 and 20 <= open_dates <= days, f"{days} days, {open_dates} amounts left open")
    checks.finish()


if __name__ == "__main__":
    sys.exit(main())
