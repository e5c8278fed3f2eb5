"""What is known of one batch on one morning, and which of its windows have opened.

Written from the rules of the trade (config/README.md), not from the program. A morning knows the temperatures and the
records of the days before it.
"""

from bisect import bisect_left
from datetime import date

from nursery import DAY, heat_of_day

# Growers look, and what they find answers a look; it cannot answer one that was not yet asked for.
ONLY_AFTER_OPENING = {"no-lines", "looked"}
WORK = {"headed-back", "headed-back-again", "tape-off", "tied-in", "suckers-rubbed", "regrafted", "stumped", "docked"}


class Morning:
    """What is known of one batch on the morning of `today`."""

    def __init__(self, nursery, batch, today, records):
        self.batch, self.today = batch, today
        self.plan = nursery.plans[batch["plan"]]
        self.grafted = batch["grafted_on"]
        self.known = nursery.known(batch["site"], today)
        model = self.plan["heat"]
        self.totals = self.known.total(batch["plan"], model)
        reference = model["reference"]
        site = nursery.sites[batch["site"]]
        self.standard_day = site.get("standard_day", heat_of_day(model, reference, reference))
        self.days = [day for day in sorted(self.totals) if day > self.grafted]
        self.s_values = [self.s(day) for day in self.days]
        self.records = self.taken_back(records)
        lost = sum(float(r["count"]) for r in self.records if r["what"] in ("lost", "dead") and r["count"])
        self.alive = batch["grafts"] - lost

    @staticmethod
    def taken_back(records):
        """The records less those that a `retract` takes back: the newest of that word before it."""
        kept = []
        for record in records:
            if record["what"] != "retract":
                kept.append(record)
                continue
            alike = [r for r in kept if r["what"] == record["remarks"]]
            if alike:
                kept.remove(max(alike, key=lambda r: r["date"]))
        return kept

    # warmth

    def heat(self, day):
        start = self.totals.get(self.grafted, (0.0, 0))[0]
        return self.totals[day][0] - start if day in self.totals else 0.0

    def unknown(self, day):
        start = self.totals.get(self.grafted, (0.0, 0))[1]
        return self.totals[day][1] - start if day in self.totals else 0

    def s(self, day):
        """Standard days since grafting at the end of `day`."""
        return self.heat(day) / self.standard_day if day > self.grafted else 0.0

    def day_of(self, s):
        """The first day at whose end `s` standard days since grafting are reached."""
        place = bisect_left(self.s_values, s - 1e-9)
        return self.days[place] if place < len(self.days) else None

    # records

    def of(self, *words):
        return sorted((r for r in self.records if r["what"] in words), key=lambda r: r["date"])

    def first(self, *words):
        found = self.of(*words)
        return found[0]["date"] if found else None

    def last(self, *words):
        found = self.of(*words)
        return found[-1]["date"] if found else None

    def complete(self, word):
        """The day on which work of that word had been done on every living graft."""
        done = 0.0
        for record in self.of(word):
            if not record["count"]:
                return record["date"]
            done += float(record["count"])
            if done >= self.alive:
                return record["date"]
        return None

    def over(self, word):
        return self.complete(word) if word in WORK else self.last(word)

    # windows

    def occurrences(self, step):
        """The openings of a step so far, as (day, what opened it); a step that comes again has its newest turn only."""
        opens = step["opens"]
        if "again" in opens:
            turn = self.newest_turn(step)
            return [(turn, "heat")] if turn else []
        if "every_days" in opens:
            turn = self.newest_round_of_the_calendar(step)
            return [(turn, "calendar")] if turn else []
        found = []
        by_record = self.first(*opens["at_once"]) if "at_once" in opens else None
        if by_record:
            found.append((by_record, 0, "record"))
        by_rule = self.by_rule(opens)
        if by_rule and not self.ruled_out(opens, by_rule[0]):
            found.append((by_rule[0], 1, by_rule[1]))
        if not found:
            return []
        day, _, by = min(found)
        return [(day, by)]

    def ruled_out(self, opens, day):
        return any(r["date"] <= day for r in self.of(*opens.get("unless", [])))

    def by_rule(self, opens):
        if "needs" in opens:
            return None  # nothing of the demo season is two years old
        if "week_below" in opens:
            start = max(self.grafted, season_day(opens["from"], self.grafted))
            day = self.known.first_week_below(opens["week_below"], start)
            return (day, "heat") if day else None
        if "months" in opens:
            day = add_months(self.grafted, opens["months"]) if opens["after"] == "grafted" else None
            if day and "from" in opens:
                day = season_day(opens["from"], day)
            return (day, "calendar") if day else None
        anchor = self.grafted if opens["after"] == "grafted" else self.over(opens["after"])
        if anchor is None:
            return None  # not done yet; and midwinter, which is nobody's record, lies beyond the season
        need = opens["standard_days"] if "standard_days" in opens else opens["heat"] / self.standard_day
        need += self.s(anchor)
        if "held" in opens:
            lines = self.first("lines")
            holding = [r["date"] for r in self.of(opens["held"]["by"]) if lines is None or r["date"] < lines]
            if holding:
                need = max(need, self.s(holding[-1]) + opens["held"]["standard_days"])
        day = self.day_of(need)
        if day and "min_days" in opens:
            day = max(day, self.grafted + opens["min_days"] * DAY)
        if "max_days" in opens:
            last = self.grafted + opens["max_days"] * DAY
            if last < self.today and (day is None or last < day):
                return (last, "calendar")
        return (day, "heat") if day else None

    def newest_turn(self, step):
        """The newest look that came round, of all the rules of the step."""
        turns = [self.turn_of(rule, step["brings"]) for rule in step["opens"]["again"]]
        return max((turn for turn in turns if turn), default=None)

    def turn_of(self, rule, answers):
        begun = self.of(rule["after"])
        if rule.get("under_half"):
            begun = [r for r in begun if is_under_half(r["count"])]
        if not begun:
            return None
        begin = begun[-1]["date"]
        if any(self.over(word) for word in rule["until"]):
            return None
        answered = [r["date"] for r in self.of(*answers) if r["date"] > begin]
        newest = None
        if rule.get("once"):
            # Looking before its time does not do away with a look that was asked for.
            newest = self.day_of(self.s(begin) + rule["standard_days"])
            if newest is not None and any(answer >= newest for answer in answered):
                return None  # the one look was made
        else:
            start = max([begin, *answered])
            k = 1
            while True:
                turn = self.day_of(self.s(start) + k * rule["standard_days"])
                if turn is None:
                    break
                newest, k = turn, k + 1
        end = rule.get("until_standard_days")
        if newest and end is not None and self.s(newest) >= end:
            return None
        return newest

    def newest_round_of_the_calendar(self, step):
        opens = step["opens"]
        begin = self.complete(opens["after"])
        if begin is None or self.of(*opens.get("unless", [])):
            return None
        start = max([begin, *(r["date"] for r in self.of(*step["brings"]))])
        season_end = self.known.first_week_below(opens["season_above"], season_day("08-01", date(begin.year, 1, 1)))
        turns = (self.today - DAY - start).days // opens["every_days"]
        for k in range(turns, 0, -1):
            turn = start + k * opens["every_days"] * DAY
            if season_end is None or turn < season_end:
                return turn
        return None

    def closes(self, step):
        """The last day on which the work is in time, where that is known already."""
        closes = step.get("closes")
        if not closes:
            return None
        occurrences = self.occurrences(step)
        if closes["after"] == "opening":
            return occurrences[0][0] + closes["days"] * DAY if occurrences and "days" in closes else None
        need = closes["standard_days"]
        if closes["after"] == "callus-lines":
            need += self.callus_lines()
        if "held" in closes and self.last(closes["held"]["by"]):
            need = max(need, self.s(self.last(closes["held"]["by"])) + closes["held"]["standard_days"])
        return self.day_of(need)

    def callus_lines(self):
        callus = self.plan["callus"]
        seen, unseen = self.first(callus["seen"]), self.last(callus["unseen"])
        assumed = callus["assumed"]["standard_days"]
        reckoned = min(assumed, self.s(seen)) if seen else assumed
        return max(reckoned, self.s(unseen)) if unseen else reckoned

    # done

    def answered_on(self, step, opened):
        if "again" in step["opens"] or "every_days" in step["opens"]:
            return None  # an answer starts the next turn, so an open turn is unanswered
        days = []
        for word in step["brings"]:
            if word in WORK:
                days.append(self.complete(word))
            elif word in ONLY_AFTER_OPENING:
                days.append(min((r["date"] for r in self.of(word) if r["date"] >= opened), default=None))
            else:
                days.append(self.first(word))
        return min((day for day in days if day), default=None)

    def passed_over(self, step):
        if step.get("aside"):
            return False
        later = self.plan["step"][self.plan["step"].index(step) + 1:]
        for other in later:
            if other.get("aside"):
                continue
            opened = self.occurrences(other)
            if self.answered_on(other, opened[0][0] if opened else date.max):
                return True
        return False


def is_under_half(count):
    seen, _, of = count.partition("/")
    return bool(of) and 2 * int(seen) < int(of)


def season_day(month_day, on_or_after):
    month, day = map(int, month_day.split("-"))
    this_year = date(on_or_after.year, month, day)
    return this_year if this_year >= on_or_after else date(on_or_after.year + 1, month, day)


def add_months(day, months):
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, 28))
