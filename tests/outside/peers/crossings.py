"""What a user would write in place of the program's core, measured beside it on the same machine, with every answer compared.

The question comes from benches/crossings.rs: one site of three years, 100,000 batches of three windows, sixteen ways of
reckoning heat. Answered by numpy (cumulative sums and searchsorted, all batches of a model at once), and by pandas (one
batch after the other), whose first batches are measured and reckoned up. The heat of a day is the single sine of Baskerville
and Emin 1969 (Ecology 50: 514-517) with a horizontal cutoff, in closed form.
"""

import sys
import time
from pathlib import Path

import numpy as np
import pandas as pd

WINDOWS = 3
TRIES = 15
# Batches that pandas is measured by.
LOOPED = 300


def numbers(folder, name, kind):
    return np.fromfile(folder / name, dtype=kind)


def above(low, high, base):
    """Heat above one temperature: the area of a sine from `low` to `high` over it, in degree-days a day."""
    mean, half = (low + high) / 2, (high - low) / 2
    inside = np.clip((base - mean) / half, -1, 1)
    angle = np.arcsin(inside)
    part = ((mean - base) * (np.pi / 2 - angle) + half * np.cos(angle)) / np.pi
    return np.where(low >= base, mean - base, np.where(high <= base, 0.0, part))


def heat(low, high, base, upper):
    found = above(low, high, base)
    return found if np.isinf(upper) else found - above(low, high, upper)


def by_numpy(low, high, base, upper, members, grafted, needs):
    reached = np.empty(needs.shape, dtype=np.int32)
    for model, batches in enumerate(members):
        sums = np.concatenate(([0.0], np.cumsum(heat(low, high, base[model], upper[model]))))
        # Heat counts the days after the grafting.
        wanted = sums[grafted[batches] + 1][:, None] + needs[batches] * (1 - 1e-9)
        day = np.searchsorted(sums, wanted, side="left") - 1
        reached[batches] = np.where(day < len(low), day, -1)
    return reached


def by_pandas(low, high, base, upper, model, grafted, needs):
    days = pd.DataFrame({f"m{m}": heat(low, high, base[m], upper[m]) for m in range(len(base))})
    reached = np.empty((LOOPED, WINDOWS), dtype=np.int32)
    for batch in range(LOOPED):
        since = days[f"m{model[batch]}"].iloc[grafted[batch] + 1:].cumsum()
        for window in range(WINDOWS):
            enough = since[since >= needs[batch, window] * (1 - 1e-9)]
            reached[batch, window] = enough.index[0] if len(enough) else -1
    return reached


def fastest(tries, work):
    best, answer = float("inf"), None
    for _ in range(tries):
        begun = time.perf_counter()
        answer = work()
        best = min(best, time.perf_counter() - begun)
    return best, answer


def main(folder):
    low, high, base, upper, needs = (numbers(folder, name, "<f8") for name in ("min", "max", "base", "upper", "needs"))
    model, grafted, ours = (numbers(folder, name, "<i4") for name in ("model", "grafted", "reached"))
    needs, ours = needs.reshape(-1, WINDOWS), ours.reshape(-1, WINDOWS)
    seconds = numbers(folder, "seconds", "<f8")[0]
    members = [np.flatnonzero(model == m) for m in range(len(base))]
    vectorised, theirs = fastest(TRIES, lambda: by_numpy(low, high, base, upper, members, grafted, needs))
    looped, first = fastest(1, lambda: by_pandas(low, high, base, upper, model, grafted, needs))
    looped *= len(model) / LOOPED
    wrong = int((ours != theirs).sum()) + int((ours[:LOOPED] != first).sum())
    reached = (ours >= 0).mean()
    print(f"{len(model)} batches of {WINDOWS} windows, {len(low)} days, {len(base)} models; {reached:.0%} are reached; {wrong} answers differ")
    print(f"graftwarden {seconds * 1e3:8.2f} ms")
    print(f"numpy       {vectorised * 1e3:8.2f} ms, {vectorised / seconds:.1f} times that; the goal is 2")
    print(f"pandas      {looped * 1e3:8.0f} ms by its first {LOOPED} batches, {looped / seconds:.0f} times that; the goal is 1000")
    return 1 if wrong or vectorised < 2 * seconds or looped < 1000 * seconds else 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
