//! `[[step]]` of a care plan: one thing to do, when its window opens and closes, and what answers it.
//!
//! Knows only its own step; what it means beside the others is `plan`'s.

use super::raw::Section;
use super::report::Complaint;
use super::warmth::{held, need_under, needed_warmth, warmth, what, whats, whole};
use crate::nursery::{Again, Anchor, Closing, MonthDay, Need, Opening, Repeat, Step, What};
use crate::units::{Celsius, DegreeDays};

/// Reads one step.
pub(super) fn step(s: Section<'_>) -> Option<Step> {
    let id = s.need(
        "id",
        s.line("id"),
        "write a short name, as in id = \"head-back\"",
    );
    let title = s.need(
        "title",
        s.line("title"),
        "write what is done, as in title = \"head back\"",
    );
    let opens = s.need(
        "opens",
        s.section("opens"),
        "say when it opens: opens = { after = \"grafted\", standard_days = 14 }",
    );
    let opens = opens.and_then(opening);
    let closes = s.section("closes").map(closing);
    let brings = whats(&s, "brings");
    if brings.is_empty() {
        let place = s.place("brings");
        let complaint = Complaint::new(
            "no record could answer this step",
            "name some under brings, as in brings = [\"looked\"]",
        );
        s.findings().error(place, complaint);
    }
    let say = s.need(
        "say",
        s.text("say"),
        "write what the letter should tell people to do",
    );
    let (say_unseen, say_calendar) = (s.text("say_unseen"), s.text("say_calendar"));
    let say_frost = s.text("say_frost");
    let aside = s.flag("aside").unwrap_or(false);
    let minutes_per_100 = s.number("minutes_per_100", 0.1..=100_000.0);
    let caution = s.choice("caution", &["cut"], |word| {
        (word == "cut").then(|| word.to_owned())
    });
    s.finish();
    Some(Step {
        id: id?,
        title: title?,
        opens: opens?,
        closes: whole(closes)?,
        brings,
        aside,
        say: say?,
        say_unseen,
        say_calendar,
        say_frost,
        minutes_per_100,
        caution,
    })
}

fn anchor(s: &Section<'_>) -> Option<Anchor> {
    let mut words = vec!["grafted", "callus-lines", "midwinter", "opening"];
    words.extend(What::ALL.map(What::name));
    s.choice("after", &words, |word| match word {
        "grafted" => Some(Anchor::Grafted),
        "callus-lines" => Some(Anchor::CallusLines),
        "midwinter" => Some(Anchor::Midwinter),
        "opening" => Some(Anchor::Opening),
        record => What::named(record).map(Anchor::Record),
    })
}

fn month_day(s: &Section<'_>, key: &'static str) -> Option<MonthDay> {
    s.parsed(key, |text| {
        let parts = text.split_once('-');
        parts
            .and_then(|(month, day)| MonthDay::new(month.parse().ok()?, day.parse().ok()?))
            .ok_or_else(|| {
                Complaint::new(
                    format!("'{text}' is not a date that every year has"),
                    "write month and day, as in \"11-01\" for 1 November (it moves six months in the south)",
                )
            })
    })
}

fn opening(s: Section<'_>) -> Option<Opening> {
    let again = s.sections("again");
    let after = anchor(&s);
    let after = if s.has("again") {
        Some(after.unwrap_or(Anchor::Grafted))
    } else {
        let remedy = "write from where it counts, as in after = \"grafted\"";
        s.need("after", after, remedy)
    };
    if after == Some(Anchor::Opening) {
        let complaint = Complaint::new(
            "a window cannot open after its own opening",
            "use \"opening\" under closes only",
        );
        s.findings().error(s.place("after"), complaint);
    }
    let opening = Opening {
        after: after.unwrap_or(Anchor::Grafted),
        at_once: whats(&s, "at_once"),
        warmth: warmth(&s),
        min_days: s.whole("min_days", 1..=3650),
        max_days: s.whole("max_days", 1..=3650),
        months: s.whole("months", 1..=120),
        held: held(&s),
        unless: whats(&s, "unless"),
        needs: needs(&s),
        week_below: s.number("week_below", -30.0..=40.0).map(Celsius),
        from: month_day(&s, "from"),
        repeat: repeat(&s, again),
    };
    can_open(&s, &opening);
    s.finish();
    after.map(|_| opening)
}

/// Complains about an opening that could never come, or says nothing of when.
fn can_open(s: &Section<'_>, opening: &Opening) {
    const WHEN: [&str; 10] = [
        "standard_days",
        "heat",
        "min_days",
        "max_days",
        "months",
        "at_once",
        "week_below",
        "every_days",
        "again",
        "from",
    ];
    if !WHEN.into_iter().any(|key| s.has(key)) {
        s.error(
            "it says from where it counts, but not when it opens",
            "add standard_days, heat, months, at_once or another",
        );
    }
    if opening
        .min_days
        .zip(opening.max_days)
        .is_some_and(|(min, max)| min > max)
    {
        s.error(
            "min_days lies after max_days",
            "no window could open: make min_days the smaller one",
        );
    }
    if opening.max_days.is_some() && opening.warmth.is_none() {
        s.error(
            "max_days stands in for warmth, but no warmth is given",
            "add standard_days or heat, or take max_days out",
        );
    }
}

fn needs(s: &Section<'_>) -> Option<(What, f64)> {
    let s = s.section("needs")?;
    let record = s.need("record", what(&s, "record"), "name the record");
    let least = s.number("at_least", 0.0..=1_000_000.0);
    let least = s.need("at_least", least, "write the count it must have");
    s.finish();
    record.zip(least)
}

fn repeat(s: &Section<'_>, again: Vec<Section<'_>>) -> Option<Repeat> {
    let rules = s.has("again");
    if rules && again.is_empty() {
        s.error("again has no rule", "add one, or take the line out");
    }
    let again: Vec<Again> = again.into_iter().filter_map(again_rule).collect();
    let days = s.whole("every_days", 1..=366);
    let season = s.number("season_above", -30.0..=40.0);
    match (rules, days, season) {
        (true, None, None) => Some(Repeat::Warmth(again)),
        (false, Some(days), Some(season)) => Some(Repeat::Days(days, Celsius(season))),
        (false, None, None) => None,
        (true, ..) => {
            s.error(
                "again and every_days both say how it comes again",
                "keep one of them",
            );
            None
        }
        (false, ..) => {
            s.error(
                "every_days and season_above come together",
                "write both, as in every_days = 28, season_above = 10.0",
            );
            None
        }
    }
}

fn again_rule(s: Section<'_>) -> Option<Again> {
    let after = s.need("after", what(&s, "after"), "name the record it counts from");
    let each = needed_warmth(&s);
    let rule = Again {
        after: after.unwrap_or(What::Looked),
        each: each.unwrap_or(Need::Heat(DegreeDays(0.0))),
        once: s.flag("once").unwrap_or(false),
        until: whats(&s, "until"),
        until_warmth: need_under(&s, "until_standard_days", "until_heat"),
        under_half: s.flag("under_half").unwrap_or(false),
        season_above: s.number("season_above", -10.0..=30.0).map(Celsius),
    };
    s.finish();
    after.and(each).map(|_| rule)
}

fn closing(s: Section<'_>) -> Option<Closing> {
    let after = s.need(
        "after",
        anchor(&s),
        "write from where it counts, as in after = \"opening\"",
    );
    let closing = Closing {
        after: after.unwrap_or(Anchor::Opening),
        warmth: warmth(&s),
        days: s.whole("days", 1..=3650),
        months: s.whole("months", 1..=120),
        on: month_day(&s, "on"),
        held: held(&s),
    };
    let ways = [
        closing.warmth.is_some(),
        closing.days.is_some(),
        closing.months.is_some(),
        closing.on.is_some(),
    ];
    if ways.into_iter().filter(|way| *way).count() > 1 {
        s.error(
            "it says in more than one way when it closes",
            "keep one of warmth, days, months and on",
        );
    }
    if !["standard_days", "heat", "days", "months", "on"]
        .into_iter()
        .any(|key| s.has(key))
    {
        s.error(
            "it does not say when it closes",
            "add standard_days, heat, days, months or on",
        );
    }
    s.finish();
    after.map(|_| closing)
}

#[cfg(test)]
mod tests {
    use crate::config::plan::tests::check;

    #[test]
    fn openings_must_be_able_to_come() {
        let opens = "opens = { after = \"grafted\", standard_days = 14 }";
        let other =
            |new: &str, words: &[&str]| check(opens, &format!("opens = {{ {new} }}"), words);
        other("after = \"grafted\"", &["not when it opens"]);
        other(
            "after = \"opening\", months = 1",
            &["after its own opening"],
        );
        other(
            "after = \"stumped\", months = 1",
            &["waits for stumped, which no step brings"],
        );
        other(
            "after = \"grafted\", heat = 1, standard_days = 1",
            &["keep one of them"],
        );
        other("after = \"grafted\", max_days = 9", &["no warmth is given"]);
        other(
            "after = \"grafted\", heat = 9, min_days = 9, max_days = 8",
            &["min_days lies after max_days"],
        );
        other(
            "after = \"grafted\", months = 1, from = \"02-29\"",
            &["not a date that every year has"],
        );
        other("after = \"grafted\", every_days = 3", &["come together"]);
        other("again = [{ after = \"lines\" }]", &["no amount of warmth"]);
        other("again = []", &["again has no rule"]);
    }
}
