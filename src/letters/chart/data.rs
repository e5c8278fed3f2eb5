//! What a chart shows, in days and standard days: how warm it has been for each day's grafts, how it may go on, and
//! the windows and limits it is set against.

use super::{Context, is_worth_drawing};
use crate::care::BatchCare;
use crate::letters::places::block_of;
use crate::letters::words::{capital, count_of, day_short, list};
use crate::nursery::{Anchor, Step};
use crate::units::DegreeDays;
use chrono::{Days, NaiveDate};

/// More tracks than this cannot be told apart.
const MOST_TRACKS: usize = 4;
/// So many batches of a day of grafting are named.
const MOST_NAMES: usize = 2;
/// So many days before and after today are drawn.
const BACK: Days = Days::new(21);
const AHEAD: Days = Days::new(14);
/// So many standard days after the last window there is nothing more to see.
const BEYOND: f64 = 5.0;

/// One chart.
#[derive(Debug)]
pub struct Drawn<'a> {
    pub site: &'a str,
    /// "Block C at home".
    pub place: String,
    pub today: NaiveDate,
    pub first: NaiveDate,
    pub last: NaiveDate,
    /// From the earliest grafting to the latest.
    pub tracks: Vec<Track>,
    /// Where eight of ten years before went on between, in the middle track: day, low, high.
    pub band: Vec<(NaiveDate, f64, f64)>,
    /// In order of their openings.
    pub windows: Vec<Window>,
    pub limits: Vec<Limit>,
    /// Batches whose track is not drawn.
    pub left_out: usize,
}

/// The warmth of the grafts of one day, in standard days at the end of each day.
#[derive(Debug)]
pub struct Track {
    pub label: String,
    /// Known days; a gap in them is one in the line.
    pub known: Vec<(NaiveDate, Option<f64>)>,
    /// Foretold days, from the last known one on.
    pub foretold: Vec<(NaiveDate, f64)>,
}

/// A window that opens and closes by warmth since grafting.
#[derive(Debug, PartialEq)]
pub struct Window {
    pub title: String,
    pub from: f64,
    pub to: Option<f64>,
}

/// A point not to pass.
#[derive(Debug, PartialEq)]
pub struct Limit {
    pub title: String,
    pub at: f64,
    pub on: Option<NaiveDate>,
}

/// Whether its warmth has not gone far beyond the last window that warmth opens.
pub fn is_first_summer(care: &BatchCare<'_>) -> bool {
    let last = windows(care)
        .iter()
        .map(|w| w.to.unwrap_or(w.from))
        .reduce(f64::max);
    last.is_some_and(|last| care.standard_days().0 <= last + BEYOND)
}

impl<'a> Drawn<'a> {
    /// Of the batches of one site and of the first one's plan.
    pub fn new(cares: &[&'a BatchCare<'a>], context: &Context<'_>) -> Option<Self> {
        let worth = |c: &&&BatchCare<'_>| is_worth_drawing(c, context);
        let lead = *cares.iter().find(worth)?;
        let mut shown: Vec<&BatchCare<'_>> = cares
            .iter()
            .copied()
            .filter(|c| c.plan.name == lead.plan.name && c.batch.site == lead.batch.site)
            .filter(|c| is_worth_drawing(c, context))
            .collect();
        shown.sort_by_key(|c| c.batch.grafted_on);
        let today = lead.warmth.moment.today;
        let mut days: Vec<Vec<&BatchCare<'_>>> = Vec::new();
        for care in &shown {
            match days.last_mut() {
                Some(day) if day[0].batch.grafted_on == care.batch.grafted_on => day.push(care),
                _ => days.push(vec![care]),
            }
        }
        let all = days.iter().map(Vec::len).sum::<usize>();
        let days = some_of(days);
        let left_out = all - days.iter().map(Vec::len).sum::<usize>();
        let first = days.first()?[0].batch.grafted_on.max(today - BACK);
        let last = today + AHEAD;
        let middle = &days[days.len() / 2];
        Some(Self {
            site: &lead.batch.site,
            place: place(&shown, context),
            today,
            first,
            last,
            band: band(middle[0], last, context),
            tracks: days.iter().map(|day| track(day, first, last)).collect(),
            windows: windows(lead),
            limits: limits(&shown),
            left_out,
        })
    }

    /// The same in words.
    pub fn in_words(&self) -> String {
        let mut said = vec![format!(
            "{}: warmth since grafting in standard days.",
            self.place
        )];
        for track in &self.tracks {
            let known = track
                .known
                .iter()
                .rev()
                .find_map(|&(day, at)| Some((day, at?)));
            let now = known.map(|(day, at)| format!("{at:.1} at the end of {}", day_short(day)));
            let ahead = track
                .foretold
                .last()
                .map(|&(day, at)| format!("{at:.1} on {} by the forecast", day_short(day)));
            let both: Vec<String> = now
                .into_iter()
                .chain(ahead.filter(|_| track.foretold.len() > 1))
                .collect();
            if !both.is_empty() {
                said.push(format!("{}: {}.", track.label, both.join(", ")));
            }
        }
        for window in &self.windows {
            said.push(match window.to {
                Some(to) => format!(
                    "{}: {} to {}.",
                    capital(&window.title),
                    figure(window.from),
                    figure(to)
                ),
                None => format!("{}: from {}.", capital(&window.title), figure(window.from)),
            });
        }
        for limit in &self.limits {
            let on = limit
                .on
                .map_or_else(String::new, |on| format!(", {}", day_short(on)));
            said.push(format!(
                "Limit of {}: {}{on}.",
                limit.title,
                figure(limit.at)
            ));
        }
        if self.left_out > 0 {
            said.push(format!(
                "{} more not drawn.",
                count_of(self.left_out as u32, "batch")
            ));
        }
        said.join(" ")
    }
}

/// "14", "17.5".
pub fn figure(days: f64) -> String {
    let text = format!("{days:.1}");
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

/// The earliest, the latest and some between.
fn some_of<T>(days: Vec<T>) -> Vec<T> {
    let (end, most) = (days.len().saturating_sub(1), MOST_TRACKS - 1);
    if end <= most {
        return days;
    }
    let chosen: Vec<usize> = (0..=most).map(|i| i * end / most).collect();
    let numbered = days.into_iter().enumerate();
    let some = numbered.filter(|(n, _)| chosen.contains(n));
    some.map(|(_, day)| day).collect()
}

fn place(shown: &[&BatchCare<'_>], context: &Context<'_>) -> String {
    let mut blocks: Vec<&str> = shown.iter().map(|c| c.batch.block.as_str()).collect();
    blocks.sort_unstable();
    blocks.dedup();
    match blocks[..] {
        [_] => block_of(shown[0], context),
        _ if context.grounds.len() > 1 => {
            format!("{} blocks at {}", blocks.len(), shown[0].batch.site)
        }
        _ => format!("{} blocks", blocks.len()),
    }
}

fn track(day: &[&BatchCare<'_>], first: NaiveDate, last: NaiveDate) -> Track {
    let warmth = &day[0].warmth;
    let known_to = day[0].known_to();
    let standard = |heat: DegreeDays| warmth.standard(heat).0;
    let from = first.max(warmth.grafted_on);
    let known = from.iter_days().take_while(|&d| d <= known_to);
    let end = warmth.totals.last().unwrap_or(known_to).min(last);
    let ahead = known_to.iter_days().take_while(|&d| d <= end);
    let mut names: Vec<String> = day.iter().map(|c| c.batch.name.clone()).collect();
    if names.len() > MOST_NAMES {
        let more = names.len() - 1;
        names.truncate(1);
        names.push(format!("{more} more"));
    }
    Track {
        label: list(&names),
        known: known.map(|d| (d, warmth.at(d).map(standard))).collect(),
        foretold: ahead
            .map_while(|d| Some((d, standard(warmth.at(d)?))))
            .collect(),
    }
}

/// Between which sums the years before went on, from the last known day on.
fn band(
    care: &BatchCare<'_>,
    last: NaiveDate,
    context: &Context<'_>,
) -> Vec<(NaiveDate, f64, f64)> {
    let Some(futures) = context.outlook.futures(&care.batch.site, &care.plan.model) else {
        return Vec::new();
    };
    let days = care.known_to().iter_days().take_while(|&d| d <= last);
    days.map_while(|day| {
        let (low, high) = futures.heat_band(care.batch.grafted_on, day)?;
        let standard = |heat| care.warmth.standard(heat).0;
        Some((day, standard(low), standard(high)))
    })
    .collect()
}

/// What opens by warmth since grafting, in standard days of the site.
fn windows(care: &BatchCare<'_>) -> Vec<Window> {
    let standard = |need| care.warmth.standard(care.warmth.heat_of(need)).0;
    let window = |step: &Step| {
        let from = step
            .opens
            .warmth
            .filter(|_| step.opens.after == Anchor::Grafted && !step.aside)?;
        let closes = step.closes.filter(|closes| closes.after == Anchor::Grafted);
        Some(Window {
            title: step.title.clone(),
            from: standard(from),
            to: closes.and_then(|closes| closes.warmth).map(standard),
        })
    };
    care.plan.steps.iter().filter_map(window).collect()
}

/// The limits that run, the nearest and the farthest.
fn limits(shown: &[&BatchCare<'_>]) -> Vec<Limit> {
    let mut limits: Vec<Limit> = shown
        .iter()
        .filter_map(|care| {
            let limit = care.limit.filter(|l| l.running)?;
            Some(Limit {
                title: limit.limit.title.clone(),
                at: care.warmth.standard(limit.heat).0,
                on: limit.reached_on,
            })
        })
        .collect();
    limits.sort_by(|a, b| a.at.total_cmp(&b.at));
    limits.dedup_by(|a, b| (a.at - b.at).abs() < 0.05);
    let far = limits
        .pop()
        .filter(|far| limits.first().is_none_or(|near| far.at > near.at));
    limits.truncate(1);
    limits.extend(far);
    limits
}
