"""A season worked out once more from files and care plans alone: which opening is told on which morning."""

from morning import Morning
from nursery import DAY


def records_for(nursery, batch, today):
    """The records of a batch before `today`; a record of a block counts where the batch has such a step open."""
    found = []
    for record in nursery.records:
        if record["date"] >= today:
            continue
        target = record["batch"]
        if target == batch["batch"]:
            found.append(record)
        elif target == f"block:{batch['block']}" and record["date"] >= batch["grafted_on"]:
            morning = Morning(nursery, batch, today, list(found))
            for step in morning.plan["step"]:
                if record["what"] not in step["brings"]:
                    continue
                opened = [day for day, _ in morning.occurrences(step) if day <= record["date"]]
                if opened and not morning.answered_on(step, opened[0]) and not morning.passed_over(step):
                    found.append(record)
                    break
    return found


def batches_on(nursery, today):
    """The batches known on a morning: those of the register, and what was grafted anew as batches of their own."""
    found = []
    for batch in nursery.batches:
        found.append(batch)
        again = [r for r in nursery.records if r["batch"] == batch["batch"] and r["what"] == "regrafted"
                 and r["date"] < today and r["count"]]
        for number, record in enumerate(sorted(again, key=lambda r: r["date"]), start=2):
            found.append({**batch, "batch": f"{batch['batch']}/{number}", "grafted_on": record["date"],
                          "grafts": int(record["count"])})
    return found


def told(nursery, first, last):
    """Every notice of an opening that the rounds from `first` to `last` tell, in their order."""
    notices, open_told = [], {}
    today = first
    while today <= last:
        if nursery.works(today):
            for batch in batches_on(nursery, today):
                if batch["grafted_on"] < today:
                    notices += told_of_batch(nursery, batch, today, open_told)
        today += DAY
    return notices


def told_of_batch(nursery, batch, today, open_told):
    morning = Morning(nursery, batch, today, records_for(nursery, batch, today))
    if morning.of("closed"):
        return []
    notices = []
    for step in morning.plan["step"]:
        comes_again = "again" in step["opens"] or "every_days" in step["opens"]
        occurrences = [(day, by) for day, by in morning.occurrences(step) if day < today]
        place = (batch["batch"], step["id"])
        if not occurrences:
            open_told.pop(place, None)
            continue
        day, by = occurrences[0]
        if morning.answered_on(step, day) or morning.passed_over(step):
            continue
        if place in open_told and (not comes_again or day in open_told[place]):
            continue
        open_told.setdefault(place, set()).add(day)
        closed = morning.closes(step)
        # Grafting anew that opens after its last safe day waits for the next season.
        if step["brings"] == ["regrafted"] and closed and day > closed:
            continue
        known = morning.unknown(day) == 0
        notices.append({
            "kind": "late" if closed and closed < today else "opens",
            "round": today,
            "batch": batch["batch"],
            "step": step["id"],
            "on": day,
            "by": by,
            "heat_cday": morning.heat(day) if known else None,
            "standard_days": morning.s(day) if known else None,
            "days": (day - batch["grafted_on"]).days,
        })
    return notices
