"""Three years of four rounds a day in simulated time for each of ten seeds, while everything around the program fails.

The walk and what must hold are in tests/it/soak.rs; it prints a row a seed. Here they are counted, and it is seen that
memory and disk stay flat: a leak would make the later seeds heavier than the first ones. SOAK_SEEDS=100 walks a hundred.
"""

import os
import subprocess
import sys

from common import Checks

YEARS = 3
COLUMNS = ["seed", "rounds", "killed", "off", "no-sky", "register", "no-mail", "ahead", "mended", "records", "notices", "letters",
           "doubles", "repeats", "db-kB", "wrong"]


def main():
    checks = Checks("soak")
    seeds = int(os.environ.get("SOAK_SEEDS", "10"))
    done = subprocess.run(["cargo", "test", "--locked", "--release", "--test", "it", "soak::", "--", "--nocapture"],
                          env=os.environ | {"SOAK_SEEDS": str(seeds)}, stdout=subprocess.PIPE, text=True)
    print(done.stdout)
    checks.same(done.returncode, 0, "the walks end well")
    rows = [list(map(int, line.split())) for line in done.stdout.splitlines()
            if line.split() and all(word.isdigit() for word in line.split())]
    checks.same(sorted(row[0] for row in rows), list(range(seeds)), "a row for each seed")
    for row in rows:
        found = dict(zip(COLUMNS, row))
        seed = found["seed"]
        checks.same(found["wrong"], 0, f"seed {seed}: nothing wrong")
        for fault in ("killed", "off", "no-sky", "register", "no-mail", "ahead", "mended", "doubles"):
            checks.check(found[fault] > 0, f"seed {seed}: {fault} came to pass")
        checks.check(found["letters"] > 100, f"seed {seed}: {found['letters']} letters went out")
        checks.check(found["db-kB"] < 20_000, f"seed {seed}: the memory's file has {found['db-kB']} kB")
        resident = row[len(COLUMNS):]
        checks.same(len(resident), YEARS, f"seed {seed}: its years")
    # Not every loss of a memory comes between a letter and the next backup.
    checks.check(sum(row[COLUMNS.index("repeats")] for row in rows) > 0, "something was told again, with a word of it")
    # The seeds share a process, two at a time: what it holds is compared between the first of them and the last.
    if rows:
        some = max(len(rows) // 3, 1)
        first, last = (max(max(row[len(COLUMNS):]) for row in part) for part in (rows[:some], rows[-some:]))
        checks.check(last <= first * 1.25 + 8_000, f"resident kB with the first seeds {first}, with the last {last}")
    checks.finish()


if __name__ == "__main__":
    sys.exit(main())
