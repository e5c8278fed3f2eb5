"""Counting checks, and running the program. Each section ends with `finish`, whose last line `run` reads."""

import json
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
BINARY = os.environ.get("GRAFTWARDEN", str(ROOT / "target" / "debug" / "graftwarden"))
DEMO = ROOT / "demo-data"


class Checks:
    """The checks of one section."""

    def __init__(self, section):
        self.section, self.passed, self.failed = section, 0, 0

    def check(self, holds, what):
        """Counts one check; says what was wrong where it does not hold."""
        if holds:
            self.passed += 1
        else:
            self.failed += 1
            print(f"FAILED {self.section}: {what}")
        return bool(holds)

    def same(self, found, expected, what):
        return self.check(found == expected, f"{what}: found {found!r}, expected {expected!r}")

    def near(self, found, expected, tolerance, what):
        if found is None or expected is None:
            return self.same(found, expected, what)
        return self.check(abs(found - expected) <= tolerance, f"{what}: found {found!r}, expected {expected!r}")

    def finish(self):
        print(f"section {self.section}: {self.passed + self.failed} checks, {self.failed} failed")
        sys.exit(0 if self.failed == 0 and self.passed > 0 else 1)


def graftwarden(*arguments, ok=True, **options):
    """Runs the program; its standard output. Stops the section when it fails, unless `ok` is false."""
    command = [BINARY, *map(str, arguments)]
    done = subprocess.run(command, capture_output=True, text=True, encoding="utf-8", **options)
    if ok and done.returncode != 0:
        sys.exit(f"{' '.join(command)} ended with {done.returncode}:\n{done.stderr}{done.stdout}")
    return done.stdout if ok else done


def json_lines(text):
    return [json.loads(line) for line in text.split("\n") if line.strip()]
