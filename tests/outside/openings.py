"""Every opening of the demo season, worked out once more in Python, against `graftwarden rehearse`."""

import sys
import tempfile
from collections import Counter
from datetime import date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import season
from nursery import Nursery
from common import DEMO, ROOT, Checks, graftwarden, json_lines

FIRST, LAST = date(2026, 7, 1), date(2026, 11, 16)


def rehearsed(nursery, letters):
    """What the program tells, by kind, with the date of its round in the nursery's zone."""
    text = graftwarden("rehearse", "--config", DEMO / "graftwarden.toml", "--letters", letters,
                       "--from", FIRST, "--to", LAST, "--json")
    notices = json_lines(text)
    for notice in notices:
        moment = datetime.fromisoformat(notice["round_at"].replace("Z", "+00:00"))
        notice["round"] = moment.astimezone(ZoneInfo(nursery.zone)).date()
    return notices


def compare(checks, found, expected):
    label = f"{expected['batch']} {expected['step']} on {expected['on']}"
    checks.same(found["round"], expected["round"], f"{label}: told by the round of")
    checks.same(found["by"], expected["by"], f"{label}: by")
    checks.same(found["days"], expected["days"], f"{label}: days")
    checks.near(found["heat_cday"], expected["heat_cday"], 1e-3, f"{label}: heat_cday")
    checks.near(found["standard_days"], expected["standard_days"], 1e-3, f"{label}: standard_days")


def key(notice):
    return (notice["batch"], notice["step"], str(notice["on"]))


def main():
    checks = Checks("openings")
    nursery = Nursery(DEMO / "graftwarden.toml", ROOT / "config" / "plans")
    told = season.told(nursery, FIRST, LAST)
    expected = [n for n in told if n["kind"] == "opens"]
    with tempfile.TemporaryDirectory() as letters:
        notices = rehearsed(nursery, Path(letters))
    found = [n for n in notices if n["kind"] == "opens"]

    checks.check(len(expected) > 50, "the season has openings to compare")
    repeated = [k for k, times in Counter(map(key, found)).items() if times > 1]
    checks.same(repeated, [], "openings told twice for the same day")
    by_key = {key(n): n for n in found}
    print(f"{'told':10}  {'batch':5} {'step':16} {'open on':10}  {'by':8} {'°C·d':>7} {'std':>6} {'days':>4}")
    for notice in expected:
        heat, standard = notice["heat_cday"], notice["standard_days"]
        figures = f"{heat:7.1f} {standard:6.2f}" if heat is not None else f"{'-':>7} {'-':>6}"
        print(f"{notice['round']}  {notice['batch']:5} {notice['step']:16} {notice['on']}  {notice['by']:8} "
              f"{figures} {notice['days']:4}")
        label = f"{notice['batch']} {notice['step']} opens on {notice['on']}, told {notice['round']}"
        if checks.check(key(notice) in by_key, f"{label}: the program does not tell it"):
            compare(checks, by_key[key(notice)], notice)
    missing = {key(n) for n in expected}
    for notice in found:
        checks.check(key(notice) in missing,
                     f"{' '.join(key(notice))}, told {notice['round']} by {notice['by']}: the rules do not give it")
    # What Python calls late before it was told, the program must call late as well.
    late = {(n["batch"], n["step"]) for n in notices if n["kind"] == "late"}
    for notice in told:
        if notice["kind"] == "late":
            checks.check((notice["batch"], notice["step"]) in late, f"{key(notice)}: told as late")
    checks.finish()


if __name__ == "__main__":
    sys.exit(main())
