//! What is new: findings against the ledger.
//!
//! Work is decided on working days only, so that a letter never tells of Saturday what Monday's records have answered;
//! what is urgent is decided on any day. The same findings and ledger give the same notices, and none twice.

use super::notice::{About, Kind, Ledger, Notice, Told};
use crate::care::{BatchCare, Ground, LimitCare, Moment, Spell, State, StepCare, spells, touches};
use crate::nursery::{What, Workdays};
use crate::problem::Problem;
use chrono::{DateTime, Days, LocalResult, NaiveDate, NaiveTime, TimeDelta, TimeZone, Utc};

/// E within this many days is an urgent risk, even with a working day left.
const RISK_WITHIN: i64 = 3;
/// A risk is told again when its day has come nearer by this many days.
const RISK_NEARER: i64 = 2;
/// After the limit, for so many days the question is asked; then the weekly `late` speaks for it.
const ASKED_FOR: i64 = 14;
/// Without temperatures for this long, it is told.
const WITHOUT_TEMPERATURES: TimeDelta = TimeDelta::hours(36);

/// Everything there is to tell of at one moment.
#[derive(Clone, Copy, Debug)]
pub struct View<'a> {
    /// The moment.
    pub now: DateTime<Utc>,
    /// The nursery's local date.
    pub today: NaiveDate,
    /// When somebody is in the field.
    pub workdays: &'a Workdays,
    /// Every site.
    pub grounds: &'a [Ground<'a>],
    /// Every batch in force.
    pub cares: &'a [BatchCare<'a>],
    /// What could not be read, fetched or sent.
    pub problems: &'a [Problem],
}

/// The news, the most pressing first.
pub fn decide(view: &View<'_>, ledger: &Ledger) -> Vec<Notice> {
    let working = view.workdays.works(view.today);
    let mut notices = Vec::new();
    for care in view.cares {
        notices.extend(over_callus_risk(view, care, ledger, working));
        if working {
            notices.extend(withdrawn(care, ledger));
            notices.extend(
                care.steps
                    .iter()
                    .filter_map(|step| work(care, step, ledger)),
            );
        }
    }
    for ground in view.grounds {
        notices.extend(heat_spikes(view, ground, ledger));
        if working {
            notices.extend(no_temperatures(view, ground, ledger));
        }
    }
    if working {
        notices.extend(trouble(view, ledger));
    }
    notices.sort_by_key(|n| n.kind);
    notices
}

fn about(care: &BatchCare<'_>) -> About {
    let batch = &care.batch;
    About::Batch {
        name: batch.name.clone(),
        site: batch.site.clone(),
        block: batch.block.clone(),
    }
}

/// A notice about a batch, with its figures at the end of `on`.
fn of_batch(
    care: &BatchCare<'_>,
    kind: Kind,
    step: &str,
    anchor: String,
    n: u32,
    on: NaiveDate,
) -> Notice {
    let heat = care.warmth.at(on);
    Notice {
        step: Some(step.to_owned()),
        heat,
        standard_days: heat.map(|h| care.warmth.standard(h)),
        days: Some((on - care.batch.grafted_on).num_days()),
        ..Notice::plain(kind, about(care), anchor, n, on)
    }
}

/// What a window hangs on: the grafting and, for a step that comes again, its turn.
fn anchor(care: &BatchCare<'_>, step: Option<&StepCare<'_>>) -> String {
    let grafting = grafting(care);
    match step.and_then(|s| s.turn) {
        Some(turn) => {
            let after = turn.after.map_or("calendar", What::name);
            format!("{after} {} +{} of {grafting}", turn.base, turn.count)
        }
        None => grafting,
    }
}

fn grafting(care: &BatchCare<'_>) -> String {
    format!("{} by {}", care.batch.grafted_on, care.batch.plan)
}

/// Whether an anchor is that of this grafting, with a turn or without.
fn hangs_on(anchor: &str, grafting: &str) -> bool {
    anchor == grafting || anchor.ends_with(&format!(" of {grafting}"))
}

/// The opening of a window, or its being late: once when it closed, then weekly.
fn work(care: &BatchCare<'_>, step: &StepCare<'_>, ledger: &Ledger) -> Option<Notice> {
    if !care.is_open() || !step.state.is_due() {
        return None;
    }
    let id = step.step.id.as_str();
    let anchor = anchor(care, Some(step));
    if let (State::Late, Some(closed)) = (step.state, step.closes_on) {
        let weeks = (care.warmth.moment.today - closed)
            .num_days()
            .saturating_sub(1)
            / 7;
        let on = closed + Days::new(weeks as u64 * 7);
        let told = last(ledger.of(Kind::Late, &care.batch.name), id, &anchor);
        if told.is_some_and(|t| t.on > on - Days::new(7)) {
            return None;
        }
        return Some(of_batch(
            care,
            Kind::Late,
            id,
            anchor,
            told.map_or(1, |t| t.n + 1),
            on,
        ));
    }
    let told = last(ledger.of(Kind::Opens, &care.batch.name), id, &anchor);
    if told.is_some_and(|t| !is_withdrawn(ledger, care, t)) {
        return None;
    }
    let opened = step.opened?;
    let mut notice = of_batch(
        care,
        Kind::Opens,
        id,
        anchor,
        told.map_or(1, |t| t.n + 1),
        opened.on,
    );
    notice.by = Some(opened.by);
    Some(notice)
}

fn last<'a>(told: &'a [Told], step: &str, anchor: &str) -> Option<&'a Told> {
    told.iter().rfind(|t| t.step == step && t.anchor == anchor)
}

fn is_withdrawn(ledger: &Ledger, care: &BatchCare<'_>, opens: &Told) -> bool {
    let withdrawals = ledger.of(Kind::NoLongerDue, &care.batch.name);
    withdrawals
        .iter()
        .any(|w| w.step == opens.step && w.anchor == opens.anchor && w.n == opens.n)
}

/// Windows that were told of and are not open after all: a day or record was corrected, or the grafting moved.
fn withdrawn(care: &BatchCare<'_>, ledger: &Ledger) -> Vec<Notice> {
    if !care.is_open() {
        return Vec::new();
    }
    let grafting = grafting(care);
    let told = told_of(care, ledger);
    let stands = |at: usize, told_later: &[Told]| {
        let told = &told[at];
        let Some(step) = care.step(&told.step) else {
            return false;
        };
        if !hangs_on(&told.anchor, &grafting) {
            // Due by the new grafting too, or told of anew since.
            return step.state != State::Ahead || told_later.iter().any(|t| t.step == told.step);
        }
        // A step that comes again has moved on to another turn when its anchor differs: it was answered.
        step.state != State::Ahead || anchor(care, Some(step)) != told.anchor
    };
    told.iter()
        .enumerate()
        .filter(|(at, t)| !stands(*at, &told[at + 1..]) && !is_withdrawn(ledger, care, t))
        .map(|(_, t)| {
            of_batch(
                care,
                Kind::NoLongerDue,
                &t.step,
                t.anchor.clone(),
                t.n,
                t.on,
            )
        })
        .collect()
}

/// The openings that were told, and under the number 0 those of which only lateness was.
fn told_of(care: &BatchCare<'_>, ledger: &Ledger) -> Vec<Told> {
    let opens = ledger.of(Kind::Opens, &care.batch.name);
    let late = ledger.of(Kind::Late, &care.batch.name);
    let only = late
        .iter()
        .filter(|l| l.n == 1 && last(opens, &l.step, &l.anchor).is_none())
        .map(|l| Told { n: 0, ..l.clone() });
    opens.iter().cloned().chain(only).collect()
}

/// The risk of over-callusing: told at once, again when it has come nearer, then asked about on working days.
fn over_callus_risk(
    view: &View<'_>,
    care: &BatchCare<'_>,
    ledger: &Ledger,
    working: bool,
) -> Option<Notice> {
    let risk = care.limit.filter(|l| l.running && care.is_open())?;
    let day = risk.reached_on?;
    let anchor = anchor(care, None);
    let told = last(
        ledger.of(Kind::OverCallusRisk, &care.batch.name),
        &risk.limit.id,
        &anchor,
    );
    let urgent = match told {
        None => presses(view, care.warmth.moment, day),
        Some(told) => day >= view.today && (told.on - day).num_days() >= RISK_NEARER,
    };
    let asked = told.is_some_and(|t| t.told_on < view.today)
        && working
        && is_asked(risk, care.warmth.moment);
    if !(urgent || asked) {
        return None;
    }
    let mut notice = of_batch(
        care,
        Kind::OverCallusRisk,
        &risk.limit.id,
        anchor,
        told.map_or(1, |t| t.n + 1),
        day,
    );
    notice.urgent = urgent;
    Some(notice)
}

/// No working day is left between today and the day of the limit, or that is near.
fn presses(view: &View<'_>, moment: Moment, day: NaiveDate) -> bool {
    let (tomorrow, eve) = (moment.today + Days::new(1), day - Days::new(1));
    (day - moment.today).num_days() <= RISK_WITHIN
        || view.workdays.last_within(tomorrow, eve).is_none()
}

fn is_asked(risk: LimitCare<'_>, moment: Moment) -> bool {
    risk.reached_on
        .is_some_and(|day| day <= moment.through && (moment.today - day).num_days() <= ASKED_FOR)
}

/// One notice for each spell and level. A spell stays the same while any day adjoins one told.
fn heat_spikes(view: &View<'_>, ground: &Ground<'_>, ledger: &Ledger) -> Vec<Notice> {
    let told = ledger.of(Kind::HeatSpike, &ground.site.id);
    let news = |spell: &Spell| {
        let same = |t: &&Told| {
            let first: NaiveDate = t.anchor.parse().unwrap_or(t.on);
            spell.first <= t.until.unwrap_or(t.on) + Days::new(1)
                && first - Days::new(1) <= spell.last
        };
        let highest = told.iter().filter(same).filter_map(|t| t.level).max();
        highest.is_none_or(|level| level < spell.level)
    };
    let mut notices = Vec::new();
    for mut spell in spells(&ground.series, ground.moment.today)
        .into_iter()
        .filter(news)
    {
        let here = view
            .cares
            .iter()
            .filter(|care| care.batch.site == ground.site.id);
        spell.batches = here
            .filter(|care| touches(&spell, care))
            .map(|care| care.batch.name.clone())
            .collect();
        if !spell.batches.is_empty() {
            notices.push(spike(ground, spell));
        }
    }
    notices
}

fn spike(ground: &Ground<'_>, spell: Spell) -> Notice {
    let about = About::Site(ground.site.id.clone());
    Notice {
        until: Some(spell.last),
        level: Some(spell.level),
        urgent: true,
        batches: spell.batches,
        ..Notice::plain(Kind::HeatSpike, about, spell.first.to_string(), 1, spell.on)
    }
}

/// No measured or modelled day has come in for too long, at a site where that matters.
fn no_temperatures(view: &View<'_>, ground: &Ground<'_>, ledger: &Ledger) -> Option<Notice> {
    let site = &ground.site.id;
    let last = ground.series.last_known();
    let matters = view
        .cares
        .iter()
        .any(|care| care.batch.site == *site && care.is_open());
    let since = last
        .and_then(|day| day.succ_opt())
        .and_then(|midnight| start_of(ground, midnight));
    let long = since.is_none_or(|since| view.now - since > WITHOUT_TEMPERATURES);
    let anchor = last.map_or_else(|| "never".to_owned(), |day| day.to_string());
    let told = ledger
        .of(Kind::NoTemperatures, site)
        .iter()
        .any(|t| t.anchor == anchor);
    (matters && long && !told).then(|| {
        let on = last
            .and_then(|day| day.succ_opt())
            .unwrap_or(ground.moment.today);
        Notice {
            until: last,
            ..Notice::plain(
                Kind::NoTemperatures,
                About::Site(site.clone()),
                anchor,
                1,
                on,
            )
        }
    })
}

fn start_of(ground: &Ground<'_>, day: NaiveDate) -> Option<DateTime<Utc>> {
    match ground
        .site
        .zone
        .from_local_datetime(&day.and_time(NaiveTime::MIN))
    {
        LocalResult::Single(start) | LocalResult::Ambiguous(start, _) => Some(start.to_utc()),
        LocalResult::None => ground
            .site
            .zone
            .from_local_datetime(&day.and_hms_opt(1, 0, 0)?)
            .earliest()
            .map(|t| t.to_utc()),
    }
}

/// Each problem once.
fn trouble(view: &View<'_>, ledger: &Ledger) -> Vec<Notice> {
    let told = ledger.of(Kind::Trouble, "");
    let mut news: Vec<Notice> = Vec::new();
    for problem in view.problems {
        let known = told.iter().any(|t| t.anchor == problem.key)
            || news.iter().any(|n| n.anchor == problem.key);
        if !known {
            let notice = Notice::plain(
                Kind::Trouble,
                About::Nursery,
                problem.key.clone(),
                1,
                view.today,
            );
            news.push(Notice {
                say: problem.to_string(),
                ..notice
            });
        }
    }
    news
}

#[cfg(test)]
pub(crate) mod tests;
