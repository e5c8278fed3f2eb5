//! The risk of over-callusing, over-callusing that was seen, and risks that are over.

use super::{in_heat, site_of};
use crate::care::{BatchCare, Stretch};
use crate::letters::letter::{Context, Section, care_of, is_done};
use crate::letters::places::{
    act_before, at_their_days, is_foreseen, places, places_named, rows, totals, undated,
};
use crate::letters::words::{about, capital, count_of, day_near, day_short, list, span};
use crate::notices::{Kind, Notice};
use crate::nursery::{Repeat, What};
use chrono::NaiveDate;

pub(super) fn risk(notices: &[&Notice], context: &Context<'_>) -> Section {
    let places = places(notices, context);
    let soonest = notices.iter().map(|n| n.on).min().unwrap_or(context.today);
    let (risk, work, say) = limit_words(notices[0], context);
    let passed = soonest < context.today;
    let foreseen = is_foreseen(notices[0], context);
    let when = match foreseen {
        Some(_) => format!("by about {}", day_near(soonest, context.today)),
        None if passed => format!("since {}", day_near(soonest, context.today)),
        None => format!("by {}", day_near(soonest, context.today)),
    };
    let lead = if let Some(rough) = foreseen {
        foreseen_words(notices, (soonest, rough), risk, context)
    } else if passed {
        format!(
            "The warmth at which {risk} becomes a risk was reached on {}. Not all written down as done: {work}.",
            day_near(soonest, context.today)
        )
    } else {
        let in_hand = match (soonest - context.today).num_days() {
            0 => "today".into(),
            1 => "tomorrow".into(),
            days => format!("in {}", count_of(days as u32, "day")),
        };
        format!(
            "By the forecast the warmth at which {risk} becomes a risk is reached {in_hand}, {}.{}",
            day_near(soonest, context.today),
            last_to_act(notices, soonest, context)
        )
    };
    Section {
        heading: format!("Risk of {risk} {when}"),
        subject: format!(
            "{}: risk of {risk} {when} ({})",
            places_named(&places),
            totals(&places)
        ),
        places: at_their_days(places, notices, context),
        paragraphs: [
            Some(lead),
            what_moves_it(notices, soonest, context),
            Some(say.to_owned()),
        ]
        .into_iter()
        .flatten()
        .chain(in_heat::said(notices, context))
        .collect(),
        rows: rows(notices, context),
        ..Section::default()
    }
}

/// When a limit is to be reckoned with that no forecast reaches: one date, on the careful side.
fn foreseen_words(
    notices: &[&Notice],
    (soonest, rough): (NaiveDate, bool),
    risk: &str,
    context: &Context<'_>,
) -> String {
    let first = day_near(soonest, context.today);
    let certain = notices.iter().filter(|n| n.on == soonest);
    let certain = certain
        .filter_map(|n| n.until)
        .all(|middle| middle == soonest);
    let by = match (rough, certain) {
        (true, true) => "If it stays as warm as it has been",
        (true, false) => "If it is a little warmer than it has been",
        (false, true) => "Judging by the years before",
        (false, false) => "In one of ten years before",
    };
    format!(
        "No forecast reaches so far. {by}, the warmth at which {risk} becomes a risk is reached by {first}: reckon with that day.{}",
        last_to_act(notices, soonest, context)
    )
}

/// The heat of the days to come against what is usual for them.
fn what_moves_it(notices: &[&Notice], soonest: NaiveDate, context: &Context<'_>) -> Option<String> {
    let first = notices.iter().find(|n| n.on == soonest)?;
    let (care, ground) = (care_of(first, context)?, site_of(first, context)?);
    if soonest < context.today {
        return None;
    }
    let stretch = Stretch::new(ground, care.plan, context.today, soonest);
    let (heat, usual) = (stretch.heat()?, stretch.usual());
    let days = match stretch.days() {
        1 => "today brings".to_owned(),
        n => format!("the {} up to then bring", count_of(n as u32, "day")),
    };
    let (brought, usual_heat) = (context.units.heat(heat), context.units.heat(usual));
    let same = (heat.0 - usual.0).abs() <= 0.1 * usual.0;
    let against = match (same, stretch.is_by_years()) {
        (true, true) => "about what is usual for these dates".to_owned(),
        (false, true) => format!("where {usual_heat} is usual for these dates"),
        (true, false) => "about what days of usual weather bring".to_owned(),
        (false, false) => format!("where days of usual weather bring {usual_heat}"),
    };
    Some(format!("What moves it: {days} {brought}, {against}."))
}

/// What the limit is called, the work that ends the risk, and what to tell people.
fn limit_words<'a>(notice: &Notice, context: &Context<'a>) -> (&'a str, &'a str, &'a str) {
    let care = care_of(notice, context);
    let Some((care, limit)) = care.and_then(|care| Some((care, care.limit?.limit))) else {
        return ("trouble", "the work", "");
    };
    let work = care.plan.step(&limit.until);
    (
        &limit.title,
        work.map_or("the work", |step| &step.title),
        &limit.say,
    )
}

/// The last day on which somebody can act before `day`, from today on; where the window of the work closes sooner, that day.
fn last_to_act(notices: &[&Notice], day: NaiveDate, context: &Context<'_>) -> String {
    let closes = |notice: &&Notice| {
        let care = care_of(notice, context)?;
        let step = care.step(&care.limit?.limit.until)?;
        act_before(care, step, context).filter(|_| step.left() > 0)
    };
    let close = notices.iter().filter_map(closes).min();
    if let Some(close) = close.filter(|&close| context.today <= close && close < day) {
        let (_, work, _) = limit_words(notices[0], context);
        let last = match context.workdays.last_within(context.today, close) {
            Some(last) if last == context.today => " Today is the last working day for it.".into(),
            Some(last) if last == close => String::new(),
            Some(last) => format!(
                " The last working day for it is {}.",
                day_near(last, context.today)
            ),
            None => " No working day is left for it.".into(),
        };
        return format!(
            " The time to {work} runs out before that, on {}.{last}",
            day_near(close, context.today)
        );
    }
    let before = day.pred_opt().unwrap_or(day);
    match context.workdays.last_within(context.today, before) {
        _ if before < context.today => String::new(),
        Some(last) if last == context.today => " Today is the last working day before it.".into(),
        Some(last) => format!(
            " The last working day before it is {}.",
            day_near(last, context.today)
        ),
        None => " No working day is left before it.".into(),
    }
}

/// Callus was seen to grow over scions: what to do that day.
pub(super) fn over_callused(notices: &[&Notice], context: &Context<'_>) -> Section {
    let places = places(notices, context);
    let (_, work, _) = limit_words(notices[0], context);
    let seen: Vec<NaiveDate> = notices.iter().map(|n| n.on).collect();
    let seen = seen.iter().min().zip(seen.iter().max());
    let when = seen.map_or_else(String::new, |(first, last)| span(*first, *last));
    let again = care_of(notices[0], context).and_then(|care| look_again(care, context.today));
    let done = is_done(notices[0], context);
    let task = if done { "ease the tape" } else { work };
    let today = if done {
        format!(
            "Today: {work} is written down as done; where the stock still drives, shorten it once more."
        )
    } else {
        format!(
            "Today: {work} where that is not done; where it is and the stock still drives, shorten it once more."
        )
    };
    Section {
        heading: format!("Over-callused: {task} today"),
        subject: format!(
            "{}: over-callused, {task} today ({})",
            places_named(&places),
            totals(&places)
        ),
        paragraphs: [
            Some(format!(
                "Callus was seen to grow over scions of {} (written down for {when}). Left alone it strangles them.",
                list(&super::batches(notices))
            )),
            Some(format!(
                "{today} Ease the tape: slit it opposite the scion, bind again loosely, and write down tape-eased."
            )),
            again,
        ]
        .into_iter()
        .flatten()
        .chain(in_heat::said(notices, context))
        .collect(),
        places: undated(places),
        rows: rows(notices, context),
        ..Section::default()
    }
}

/// When to look again after over-callusing, where the plan says so.
fn look_again(care: &BatchCare<'_>, today: NaiveDate) -> Option<String> {
    let rules = |repeat: &Option<Repeat>| match repeat {
        Some(Repeat::Warmth(rules)) => rules
            .iter()
            .find(|r| r.after == What::OverCallused)
            .cloned(),
        _ => None,
    };
    let (step, rule) = care
        .steps
        .iter()
        .find_map(|s| Some((s, rules(&s.step.opens.repeat)?)))?;
    let days = care.warmth.standard(care.warmth.heat_of(rule.each)).0;
    let turn = step.turn.filter(|t| t.after == Some(What::OverCallused));
    // Of what was written down late the day may have come: then the look is due.
    let turn = turn.filter(|t| t.opened.on > today);
    let about = turn.map_or_else(String::new, |t| {
        format!(", about {}", day_short(t.opened.on))
    });
    Some(format!(
        "Look again after {days:.0} days of usual warmth{about}."
    ))
}

/// Risks that were told and are not there any more: a line for each.
pub(super) fn over(notices: &[&Notice], context: &Context<'_>) -> Section {
    let lines: Vec<String> = notices.iter().map(|n| over_line(n, context)).collect();
    let subject = match notices {
        [one] => format!("Not any more: {}", risk_named(one, context)),
        _ => "Risks that are over".into(),
    };
    Section {
        heading: "Not any more".into(),
        subject,
        paragraphs: lines,
        ..Section::default()
    }
}

/// "risk of over-callusing of C-14", "hot spell at home, Fri 7 - Sun 9 Aug".
fn risk_named(notice: &Notice, context: &Context<'_>) -> String {
    if let Some(batch) = notice.about.batch() {
        let (risk, ..) = limit_words(notice, context);
        return format!("risk of {risk} of {batch}");
    }
    let kind = notice.step.as_deref().and_then(Kind::named);
    let what = match kind {
        Some(Kind::HeatSpike) => "hot spell",
        Some(Kind::Wind) => "strong wind",
        Some(Kind::Frost) => "frost",
        _ => "rain",
    };
    let first = notice.anchor.parse().unwrap_or(notice.on);
    let days = span(first, notice.until.unwrap_or(first));
    format!("{what} at {}, {days}", notice.about.subject())
}

fn over_line(notice: &Notice, context: &Context<'_>) -> String {
    let what = capital(&risk_named(notice, context));
    if notice.about.batch().is_none() {
        let last = notice.until.unwrap_or(notice.on);
        return if last < context.today {
            format!("{what}: it did not come.")
        } else {
            format!("{what}: by the forecast of today it does not come.")
        };
    }
    let care = care_of(notice, context);
    let by = care.and_then(|care| context.outlook.act_before_limit(care));
    let when = match by.map(|by| (by.on, by.foreseen)) {
        None => "is not in sight now".to_owned(),
        Some((day, None)) => format!("comes about {} now", day_near(day, context.today)),
        Some((_, Some(foreseen))) => format!("comes {} now", about(&foreseen, context.today)),
    };
    format!(
        "{what} by {}: by what is known today it {when} and does not press.",
        day_near(notice.on, context.today)
    )
}
