//! The weekly letter: all is well, or what is not, and the fortnight to come.

use super::away::weather;
use super::lists::{coming, errands, hours_of, things};
use crate::care::{DayLoad, FORTNIGHT, IfGrafted};
use crate::letters::grafting::advice;
use crate::letters::letter::{Context, List, Section};
use crate::letters::words::{count_of, crew_time, day_near, from_to, grouped, span};
use crate::notices::{Errand, Weekly};
use crate::units::Celsius;
use chrono::NaiveDate;

pub(super) fn weekly(digest: &Weekly, context: &Context<'_>) -> Section {
    let word = if digest.well {
        "All is well"
    } else {
        "The week"
    };
    let batches = match digest.batches {
        0 => "no batch is open".to_owned(),
        n => format!(
            "{}, {}",
            count_of(n, "batch"),
            count_of(digest.grafts, "graft")
        ),
    };
    let mut paragraphs = vec![standing(digest, context)];
    if let Some(next) = &digest.next {
        let first = coming(std::slice::from_ref(next), context);
        paragraphs.push(format!("Next comes {}.", first.concat()));
    } else if digest.batches > 0 && digest.coming.is_empty() && digest.due.is_empty() {
        paragraphs.push("No opening is in sight.".into());
    }
    let mut lists = vec![
        List {
            title: "At the limit or near it:".into(),
            lines: pressing(digest, context),
        },
        List {
            title: "The last days:".into(),
            lines: digest
                .sites
                .iter()
                .map(|site| weather(site, context))
                .collect(),
        },
        List {
            title: "Within two weeks:".into(),
            lines: coming(&digest.coming, context),
        },
        List {
            title: "The work of two weeks (a graft counts once a day; half the time no more than the first figure, nine times in ten than the second):".into(),
            lines: work(&digest.work, context.today),
        },
    ];
    paragraphs.extend(digest.soft.iter().map(|(site, spell)| {
        let days = span(spell.first, spell.last);
        let max = context.units.temperature(Celsius(spell.hottest));
        format!("{site}: up to {max} on {days}, no spell, but callus is soft then: touch no union that need not be touched.")
    }));
    paragraphs.extend(grafting(digest, context));
    lists.retain(|list| !list.lines.is_empty());
    Section {
        heading: word.into(),
        subject: format!("{word}: {batches}, {}", due(digest, context)),
        paragraphs,
        lists,
        ..Section::default()
    }
}

/// "over-callusing, block C: C-14, since Sat 25 Jul", and "by" for what is still to come.
fn pressing(digest: &Weekly, context: &Context<'_>) -> Vec<String> {
    let (passed, near): (Vec<Errand>, Vec<Errand>) = digest
        .pressing
        .iter()
        .cloned()
        .partition(|errand| errand.on < context.today);
    let mut lines = errands(&passed, "since", context);
    lines.extend(errands(&near, "by", context));
    lines
}

/// "Mon 10 Aug: 900 - 1,030 grafts, 14 h - 16 h", the days with work.
fn work(loads: &[DayLoad], today: NaiveDate) -> Vec<String> {
    let line = |load: &DayLoad| {
        let (few, many) = (load.grafts_p50, load.grafts_p90);
        let grafts = if few == many {
            count_of(many, "graft")
        } else {
            format!("{} - {}", grouped(few), count_of(many, "graft"))
        };
        let time = |hours: f64| match hours * 60.0 {
            0.0 => "0".to_owned(),
            minutes => crew_time(minutes),
        };
        let hours = match load.hours_p90 {
            0.0 => String::new(),
            most => format!(", {}", from_to(&time(load.hours_p50), &time(most))),
        };
        format!("{}: {grafts}{hours}", day_near(load.date, today))
    };
    let some = loads.iter().filter(|load| load.grafts_p90 > 0);
    some.map(line).collect()
}

/// Where grafting goes on, which day of the fortnight is best for it.
fn grafting(digest: &Weekly, context: &Context<'_>) -> Vec<String> {
    let sentence = |(site, plan): &(String, String)| {
        let ground = context.grounds.iter().find(|g| g.site.id == *site)?;
        let care = context
            .cares
            .iter()
            .find(|c| c.batch.site == *site && c.plan.name == *plan)?;
        let asked = IfGrafted {
            ground,
            past: context.outlook.past(site)?,
            plan: care.plan,
            workdays: context.workdays,
            grafts: 100,
            beside: &digest.work,
        };
        let days = asked.days(context.today, FORTNIGHT);
        let place = if context.grounds.len() > 1 {
            format!("Where grafting goes on, {site}. ")
        } else {
            String::new()
        };
        (!days.is_empty()).then(|| place + &advice(&days, context.units))
    };
    digest.grafting.iter().filter_map(sentence).collect()
}

fn due(digest: &Weekly, context: &Context<'_>) -> String {
    let late = digest.due.iter().filter(|e| e.on < context.today);
    let late: Vec<Errand> = late.cloned().collect();
    let late = match things(&late, context) {
        0 => String::new(),
        n => format!(", {n} of them late"),
    };
    match things(&digest.due, context) {
        0 => "nothing is due".to_owned(),
        n => format!("{} due{late}", count_of(n, "thing")),
    }
}

/// How things stand, in a few sentences.
fn standing(digest: &Weekly, context: &Context<'_>) -> String {
    let text = match digest.batches {
        0 => "No batch is open.".to_owned(),
        n => format!(
            "{} with {} {} followed: {}{}.",
            count_of(n, "batch"),
            count_of(digest.grafts, "graft"),
            if n == 1 { "is" } else { "are" },
            due(digest, context),
            hours_of(&digest.due, context)
        ),
    };
    let say = |n: u32, one: &str, many: &str| match n {
        0 => String::new(),
        1 => format!(" 1 {one}."),
        n => format!(" {n} {many}."),
    };
    text + &say(
        digest.pressing.len() as u32,
        "batch is at its limit or near it",
        "batches are at their limit or near it",
    ) + &say(
        digest.troubles,
        "trouble stands: graftwarden check tells of it",
        "troubles stand: graftwarden check tells of them",
    )
}
