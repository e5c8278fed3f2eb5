//! Before days off and after them.

use super::lists::{coming, ending, errands, hours_of, one_date, things, walk};
use crate::letters::letter::{Context, List, Section};
use crate::letters::words::{count_of, day_near, day_short, list, moment, span};
use crate::notices::{CatchUp, Coming, Errand, LookAhead, SiteSpan, Unsent};
use crate::units::Celsius;
use std::fmt::Write;

/// What will be due before this person is back.
pub(super) fn look_ahead(digest: &LookAhead, context: &Context<'_>) -> Section {
    let back = day_near(digest.back, context.today);
    let (closing, limits) = one_date(&digest.closing, &digest.limits);
    let mut lists = Vec::new();
    let mut add = |title: String, lines: Vec<String>| {
        if !lines.is_empty() {
            lists.push(List { title, lines });
        }
    };
    let (today, later): (Vec<Coming>, Vec<Coming>) = closing.into_iter().partition(|c| {
        let last = c.foreseen.band.p90;
        last.is_some_and(|last| last <= context.today)
    });
    add("Runs out today:".into(), ending(&today, context));
    add("May run out:".into(), ending(&later, context));
    add(
        "Past the limit, if nothing is done:".into(),
        ending(&limits, context),
    );
    add("May open:".into(), coming(&digest.opening, context));
    let counts = [
        (
            today.len(),
            "window runs out today",
            "windows run out today",
        ),
        (later.len(), "window may run out", "windows may run out"),
        (
            limits.len(),
            "batch may come to its limit",
            "batches may come to their limit",
        ),
        (digest.opening.len(), "window may open", "windows may open"),
    ];
    let counted: Vec<String> = counts
        .iter()
        .filter(|(n, ..)| *n > 0)
        .map(|(n, one, many)| format!("{n} {}", if *n == 1 { one } else { many }))
        .collect();
    let (first, last) = (context.today.succ_opt(), digest.back.pred_opt());
    let off = first.zip(last).map(|(first, last)| span(first, last));
    let off = off.map_or_else(|| format!("until {back}"), |days| format!("on {days}"));
    let lead = if digest.others_work {
        format!(
            "You are away {off}. This may fall due meanwhile, by what is known today; the others are told of it day by day."
        )
    } else {
        format!(
            "Nobody works {off}. This may fall due meanwhile, by what is known today. What can be done today need not wait; who is at hand in between may be told."
        )
    };
    Section {
        heading: format!("Before {back}"),
        subject: format!("Before {back}: {}", list(&counted)),
        paragraphs: vec![lead],
        lists,
        ..Section::default()
    }
}

/// What happened since this person last worked.
pub(super) fn catch_up(digest: &CatchUp, context: &Context<'_>) -> Section {
    let mut paragraphs: Vec<String> = digest
        .sites
        .iter()
        .map(|site| weather(site, context))
        .collect();
    paragraphs.extend(digest.down.iter().map(|&(from, to)| {
        format!(
            "This program did not run from {} to {}; what it missed is made up for in this letter.",
            moment(from),
            moment(to)
        )
    }));
    if !digest.unsent.is_empty() {
        paragraphs.push(unsent(&digest.unsent));
    }
    let mut lists = Vec::new();
    let mut add = |title: &str, lines: Vec<String>| {
        if !lines.is_empty() {
            let title = title.to_owned();
            lists.push(List { title, lines });
        }
    };
    add("Ran out:", errands(&digest.late, "on", context));
    add(
        "Reached the limit with the stock not headed back:",
        errands(&digest.limits, "on", context),
    );
    add("Opened:", errands(&digest.opened, "since", context));
    let since = day_short(digest.since);
    let things = things(&digest.today, context);
    let hours = hours_of(&digest.today, context);
    let work = match things {
        0 => "nothing is due".to_owned(),
        _ => format!("{} to do today{hours}", count_of(things, "thing")),
    };
    Section {
        heading: format!("Since {since}"),
        subject: format!("Since {since}: {work}"),
        paragraphs,
        lists,
        ..Section::default()
    }
}

/// Today's list, which ends the letter after days off and the weekly one.
pub(super) fn today(due: &[Errand], context: &Context<'_>) -> Section {
    let hours = hours_of(due, context);
    Section {
        heading: "Today, in the order to walk it".into(),
        paragraphs: vec![format!(
            "{}{hours}.",
            count_of(things(due, context), "thing")
        )],
        lists: walk(due, context),
        ..Section::default()
    }
}

/// "home: 10.2 standard days in 3 days, up to 38 °C on Sun 9 Aug. 1 day is not known."
pub(super) fn weather(site: &SiteSpan, context: &Context<'_>) -> String {
    let at_least = if site.unknown > 0 { "at least " } else { "" };
    let mut text = format!(
        "{}: {at_least}{:.1} standard days of warmth in {}",
        site.site,
        site.standard_days.0,
        count_of(site.days, "day")
    );
    if let Some((day, max)) = site.hottest {
        let max = context.units.temperature(Celsius(max));
        let _ = write!(text, ", up to {max} on {}", day_short(day));
    }
    text.push('.');
    let of = |n: u32, one: &str, many: &str| match n {
        0 => String::new(),
        1 => format!(" 1 day {one}."),
        n => format!(" {n} days {many}."),
    };
    text.push_str(&of(site.filled, "is put in", "are put in"));
    text.push_str(&of(site.unknown, "is not known", "are not known"));
    text
}

fn unsent(letters: &[Unsent]) -> String {
    let named = |u: &Unsent| {
        let state = if u.waiting { "still tried" } else { "given up" };
        format!("'{}' to {} ({state})", u.subject, u.recipient)
    };
    let names: Vec<String> = letters.iter().map(named).collect();
    match letters.len() {
        1 => format!("1 letter did not get out: {}.", names[0]),
        n => format!("{n} letters did not get out: {}.", list(&names)),
    }
}
