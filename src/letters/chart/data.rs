//! What a chart shows, in days and standard days: how warm it has been for each day's grafts, how it may go on, and
//! the windows and limits it is set against.

use super::{Context, is_worth_drawing};
use crate::care::BatchCare;
use crate::letters::html::turns;
use crate::letters::places::block_of;
use crate::letters::words::{capital, count_of, day_short, list};
use crate::nursery::{Anchor, Step};
use crate::outlook::Futures;
use chrono::{Days, NaiveDate};

/// More tracks than this cannot be told apart.
pub const MOST_TRACKS: usize = 6;
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
    /// Where eight of ten years before went on between, in the middle track: day, low, high. Empty without years before.
    pub band: Vec<(NaiveDate, f64, f64)>,
    /// The track that the band belongs to.
    pub middle: usize,
    /// Whether what is rough goes by years before, and not by the days of late.
    pub by_years: bool,
    /// In order of their openings.
    pub windows: Vec<Window>,
    pub limits: Vec<Limit>,
    /// Batches that lie between the tracks and have none.
    pub between: usize,
    /// Batches of other care plans, which have other windows.
    pub other_plans: usize,
}

/// The warmth of the grafts of one day, in standard days at the end of each day.
#[derive(Debug)]
pub struct Track {
    /// The batches in words, and the first with the number of the others.
    pub label: String,
    pub name: String,
    pub others: usize,
    /// Day after day.
    pub days: Vec<(NaiveDate, f64, Sure)>,
    /// The last day that is over and known.
    pub known_to: NaiveDate,
}

/// How surely a track is where it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sure {
    Known,
    Foretold,
    /// By years before or, without them, by the days of late; or a day before it is unknown.
    Rough,
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
    /// The batches that come to it.
    pub of: Vec<String>,
}

impl Limit {
    /// "C-14", "C-14 and 3 more".
    pub fn whose(&self) -> String {
        some_names(self.of.clone())
    }
}

/// Of many names the first, and how many others.
fn some_names(mut names: Vec<String>) -> String {
    let others = names.len().saturating_sub(1);
    if names.len() > MOST_NAMES {
        names.truncate(1);
        names.push(format!("{others} more"));
    }
    list(&names)
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
        let worth = |c: &&BatchCare<'_>| is_worth_drawing(c, context);
        let mut shown: Vec<&BatchCare<'_>> = cares.iter().copied().filter(worth).collect();
        let lead = *shown.first()?;
        shown.retain(|c| c.batch.site == lead.batch.site);
        let here = shown.len();
        shown.retain(|c| c.plan.name == lead.plan.name);
        let other_plans = here - shown.len();
        shown.sort_by_key(|c| c.batch.grafted_on);
        let today = lead.warmth.moment.today;
        let mut days: Vec<Vec<&BatchCare<'_>>> = Vec::new();
        for care in &shown {
            match days.last_mut() {
                Some(day) if day[0].batch.grafted_on == care.batch.grafted_on => day.push(care),
                _ => days.push(vec![care]),
            }
        }
        let days = some_of(days);
        let drawn = days.iter().map(Vec::len).sum::<usize>();
        let first = days.first()?[0].batch.grafted_on.max(today - BACK);
        let last = today + AHEAD;
        let middle = days.len() / 2;
        let futures = futures(lead, context);
        let track = |day: &Vec<&BatchCare<'_>>| track(day, first, last, futures);
        Some(Self {
            site: &lead.batch.site,
            place: plain(&place(&shown, context)),
            today,
            first,
            last,
            band: band(days[middle][0], last, futures),
            middle,
            by_years: futures.is_some_and(|futures| !futures.is_rough()),
            tracks: days.iter().map(track).collect(),
            windows: windows(lead),
            limits: limits(&shown),
            between: shown.len() - drawn,
            other_plans,
        })
    }

    /// The same in words.
    pub fn in_words(&self) -> String {
        let mut said = vec![format!(
            "{}: warmth since grafting in standard days.",
            self.place
        )];
        for track in &self.tracks {
            let said_on = [
                track.days.iter().rfind(|d| d.0 <= track.known_to),
                track.days.iter().rfind(|d| d.2 == Sure::Foretold),
                track.days.last(),
            ];
            let mut stands: Vec<String> = Vec::new();
            for &(day, at, sure) in said_on.into_iter().flatten() {
                let (day_is, at) = (day_short(day), format!("{at:.1}"));
                let stand = match sure {
                    Sure::Known => format!("{at} at the end of {day_is}"),
                    Sure::Foretold => format!("{at} on {day_is} by the forecast"),
                    Sure::Rough if day <= track.known_to => {
                        format!("roughly {at} at the end of {day_is}, since days are unknown")
                    }
                    Sure::Rough if self.by_years => {
                        format!("about {at} on {day_is} by years before")
                    }
                    Sure::Rough => format!("roughly {at} on {day_is}"),
                };
                if stands.last() != Some(&stand) {
                    stands.push(stand);
                }
            }
            if !stands.is_empty() {
                said.push(format!("{}: {}.", track.label, stands.join(", ")));
            }
        }
        if let (Some((day, low, high)), Some(track)) =
            (self.band.last(), self.tracks.get(self.middle))
        {
            said.push(format!(
                "In eight of ten years before, {} would stand between {low:.1} and {high:.1} on {}.",
                track.label,
                day_short(*day)
            ));
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
            let whose = if self.limits.len() > 1 {
                format!(" for {}", limit.whose())
            } else {
                String::new()
            };
            said.push(format!(
                "Limit of {}{whose}: {}{on}.",
                limit.title,
                figure(limit.at)
            ));
        }
        said.extend(self.not_drawn().map(|what| format!("Not drawn: {what}.")));
        said.join(" ")
    }
}

impl Drawn<'_> {
    /// Which batches have no track, in words; none where all have one.
    pub fn not_drawn(&self) -> Option<String> {
        let many = |n: usize| count_of(n as u32, "batch");
        match (self.between, self.other_plans) {
            (0, 0) => None,
            (between, 0) => Some(format!("{} between these", many(between))),
            (0, others) => Some(format!("{} of another plan", many(others))),
            (between, others) => Some(format!(
                "{} between these, {others} of another plan",
                many(between)
            )),
        }
    }
}

/// What others wrote, without signs that a picture cannot have or that turn round what stands beside them.
fn plain(text: &str) -> String {
    let seen = text.chars().filter(|c| !turns(*c));
    seen.map(|c| if c.is_control() { ' ' } else { c }).collect()
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

fn futures<'c>(care: &BatchCare<'_>, context: &'c Context<'_>) -> Option<&'c Futures> {
    let futures = context.outlook.futures(&care.batch.site, &care.plan.model);
    futures.filter(|futures| !futures.is_blank())
}

fn track(
    day: &[&BatchCare<'_>],
    first: NaiveDate,
    last: NaiveDate,
    futures: Option<&Futures>,
) -> Track {
    let warmth = &day[0].warmth;
    let known_to = day[0].known_to();
    let grafted = warmth.grafted_on;
    let rough = |date: NaiveDate| {
        let by_futures = futures.and_then(|futures| futures.mean_heat(grafted, date));
        by_futures.map(|heat| (heat, Sure::Rough))
    };
    let at = |date: NaiveDate| {
        let heat = warmth.at(date);
        let sure = if date <= known_to {
            Sure::Known
        } else {
            Sure::Foretold
        };
        let (heat, sure) = heat.map(|heat| (heat, sure)).or_else(|| rough(date))?;
        Some((date, warmth.standard(heat).0, sure))
    };
    let names: Vec<String> = day.iter().map(|c| plain(&c.batch.name)).collect();
    let (name, others) = (names[0].clone(), names.len() - 1);
    let days = first.max(grafted).iter_days();
    Track {
        label: some_names(names),
        name,
        others,
        days: days.take_while(|&d| d <= last).map_while(at).collect(),
        known_to,
    }
}

/// Between which sums the years before went on, from the last day on that is known or foretold.
fn band(
    care: &BatchCare<'_>,
    last: NaiveDate,
    futures: Option<&Futures>,
) -> Vec<(NaiveDate, f64, f64)> {
    let Some(futures) = futures.filter(|futures| !futures.is_rough()) else {
        return Vec::new();
    };
    let days = care.known_to().iter_days().take_while(|&d| d <= last);
    let mut band: Vec<(NaiveDate, f64, f64)> = days
        .map_while(|day| {
            let (low, high) = futures.heat_band(care.batch.grafted_on, day)?;
            let standard = |heat| care.warmth.standard(heat).0;
            Some((day, standard(low), standard(high)))
        })
        .collect();
    let wide = band.iter().position(|(_, low, high)| high > low);
    band.drain(..wide.map_or(band.len(), |at| at.saturating_sub(1)));
    band
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
            title: plain(&step.title),
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
                title: plain(&limit.limit.title),
                at: care.warmth.standard(limit.heat).0,
                on: limit.reached_on,
                of: vec![plain(&care.batch.name)],
            })
        })
        .collect();
    limits.sort_by(|a, b| a.at.total_cmp(&b.at));
    limits.dedup_by(|next, first| {
        let same = (next.at - first.at).abs() < 0.05;
        if same {
            first.on = first.on.into_iter().chain(next.on).min();
            first.of.append(&mut next.of);
        }
        same
    });
    let far = limits
        .pop()
        .filter(|far| limits.first().is_none_or(|near| far.at > near.at));
    limits.truncate(1);
    limits.extend(far);
    limits
}
