//! A survey: what the store holds, settled into days, totals and the care of every batch, at one moment.
//!
//! Rounds decide from it, `due` shows it. It reads the store and hands the pure core its values; it writes nothing.

use crate::care::{
    BatchCare, Ground, Learn, Lessons, Moment, Notebook, StepCare, Tuned, assess,
    takes_back_nothing,
};
use crate::config::{Config, SiteConfig};
use crate::days::{PastYears, Rules, Series};
use crate::nursery::{Batch, Plan, Record, Site};
use crate::problem::Problem;
use crate::store::{Memory, StoreError};
use chrono::{DateTime, Days, NaiveDate, Utc};
use std::collections::hash_map::Entry;
use std::collections::{BTreeSet, HashMap, HashSet};
use std::rc::Rc;
use std::sync::Arc;

/// Days before the first grafting that are read too: a week's mean needs seven, sources are compared over thirty.
const LEAD: Days = Days::new(35);

/// Everything known at one moment.
#[derive(Debug)]
pub struct Survey<'a> {
    /// Every site, in the order of the config.
    pub grounds: &'a [Ground<'a>],
    /// The years before, site by site.
    pub past: &'a [PastYears],
    /// Every batch in force whose site and plan are known, by site, block and name.
    pub cares: Vec<BatchCare<'a>>,
    /// Every field record in force, in the order in which they were written down.
    pub records: &'a [Record],
    /// What the field records teach; nothing where nothing is learned.
    pub lessons: &'a Lessons,
    /// What could not be used.
    pub problems: Vec<Problem>,
}

/// From when a site is looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum When {
    /// During a round: today is not over.
    Now(DateTime<Utc>),
    /// Another date: a past one is over, one to come is not.
    On(NaiveDate, DateTime<Utc>),
}

impl When {
    fn at(self, zone: chrono_tz::Tz) -> Moment {
        match self {
            Self::Now(now) => Moment::during(now.with_timezone(&zone).date_naive()),
            Self::On(day, now) if day < now.with_timezone(&zone).date_naive() => {
                Moment::end_of(day)
            }
            Self::On(day, _) => Moment::during(day),
        }
    }
}

/// Surveys everything and hands it to `look`.
pub fn survey<T>(
    memory: &Memory<'_>,
    config: &Config,
    when: When,
    look: impl FnOnce(Survey<'_>) -> T,
) -> Result<T, StoreError> {
    let batches = memory.batches()?;
    let records = memory.records()?;
    let mut problems = Vec::new();
    let standing = standing(&batches);
    let mut grounds = Vec::with_capacity(config.sites.len());
    let past: Vec<PastYears> = config
        .sites
        .iter()
        .map(|site| memory.past_years(&site.site.id))
        .collect::<Result<_, _>>()?;
    for (site, before) in config.sites.iter().zip(&past) {
        let standing = standing.get(site.site.id.as_str());
        let moment = when.at(site.site.zone);
        let from = standing.map_or(moment.today, |s| s.begun) - LEAD;
        let (series, rejected) = series_from(memory, site, before, from, moment.through)?;
        problems.extend(rejected);
        let models = config
            .plans
            .iter()
            .filter(|plan| standing.is_some_and(|s| s.plans.contains(plan.name.as_str())))
            .map(|plan| plan.model);
        let plans = config.plans.iter();
        let ground = Ground::new(&site.site, series, moment, models)
            .with_past(before)
            .with_last_grafts(before, plans);
        grounds.push(ground);
    }
    let book = Notebook::new(&*records);
    let plans: HashMap<&str, &Plan> = config.plans.iter().map(|p| (p.name.as_str(), p)).collect();
    let sites: HashMap<&str, &Ground<'_>> =
        grounds.iter().map(|g| (g.site.id.as_str(), g)).collect();
    let mut followed = Vec::with_capacity(batches.len());
    let mut cares = Vec::with_capacity(batches.len());
    let mut alike: Alike<'_> = HashMap::new();
    for batch in batches.iter() {
        match (
            plans.get(batch.plan.as_str()).copied(),
            sites.get(batch.site.as_str()).copied(),
        ) {
            (Some(plan), Some(ground)) => {
                let (mut found, trouble) = assess(batch, plan, ground, &book, &config.workdays);
                for care in &mut found {
                    share(care, &mut alike);
                }
                followed.push((batch, ground, found.len()));
                cares.extend(found);
                problems.extend(trouble);
            }
            (None, _) => problems.push(lost(batch, "plan", &batch.plan)),
            (_, None) => problems.push(lost(batch, "site", &batch.site)),
        }
    }
    let mut lessons = Lessons::default();
    if config.learn != Learn::Off {
        let (learned, trouble) = Lessons::of(&cares);
        lessons = learned;
        problems.extend(trouble);
    }
    let moved = if config.learn == Learn::Use {
        moved_plans(&cares, &lessons)
    } else {
        HashMap::new()
    };
    let mut at = 0;
    for (batch, ground, many) in followed {
        if let Some((tuned, plan)) = moved.get(batch.name.as_str()) {
            let (mut anew, _) = assess(batch, plan, ground, &book, &config.workdays);
            for care in &mut anew {
                care.lines.need = Some(tuned.need);
                care.lines.tuned = Some(Box::new(tuned.clone()));
            }
            let again = anew.len();
            cares.splice(at..at + many, anew);
            at += again;
        } else {
            at += many;
        }
    }
    if config.learn != Learn::Off {
        let known = lessons.counts(&cares);
        for (care, known) in cares.iter_mut().zip(known) {
            care.lines.known = Some(known);
        }
    }
    let today = when.at(config.zone).today;
    let blocks = book.missed_in_blocks(today).into_iter();
    problems.extend(
        blocks.map(|(block, missed)| takes_back_nothing(&format!("block {block}"), missed)),
    );
    problems.extend(unknown_targets(&records, &batches, &cares, today));
    problems.extend(memory.left_out()?);
    Ok(look(Survey {
        grounds: &grounds,
        past: &past,
        cares,
        records: &records,
        lessons: &lessons,
        problems,
    }))
}

/// The steps of the batch met last on each site, by plan and day of grafting.
type Alike<'a> = HashMap<(*const Site, &'a str, NaiveDate), Rc<[StepCare<'a>]>>;

/// Batches of one site, plan and day of which nothing is written down stand alike: their steps are held once.
fn share<'a>(care: &mut BatchCare<'a>, alike: &mut Alike<'a>) {
    let key = (
        std::ptr::from_ref(care.site),
        care.plan.name.as_str(),
        care.batch.grafted_on,
    );
    match alike.entry(key) {
        Entry::Occupied(held) if *held.get() == care.steps => care.steps = Rc::clone(held.get()),
        held => {
            held.insert_entry(Rc::clone(&care.steps));
        }
    }
}

/// The plans that what was seen has moved, by batch. Batches that are past heading back have nothing left to move.
fn moved_plans(cares: &[BatchCare<'_>], lessons: &Lessons) -> HashMap<String, (Tuned, Plan)> {
    cares
        .iter()
        .filter(|care| care.is_open())
        .filter_map(|care| {
            let tuned = lessons.tuned(care)?;
            let plan = tuned.moved(care.plan);
            Some((care.batch.name.clone(), (tuned, plan)))
        })
        .collect()
}

/// The days of a site from `from` on, settled from its sources in order of trust; `through` is the last that is over.
pub fn series_from(
    memory: &Memory<'_>,
    config: &SiteConfig,
    past: &PastYears,
    from: NaiveDate,
    through: NaiveDate,
) -> Result<(Series, Vec<Problem>), StoreError> {
    let site = &config.site.id;
    let names = source_names(config.weather.len(), |i| config.weather[i].name());
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let rules = Rules {
        thresholds: &config.thresholds,
        past,
        through,
    };
    Ok(Series::settle(
        site,
        &memory.days(site, &names, from)?,
        rules,
    ))
}

/// The names under which a site's sources are stored: the second of a kind is numbered.
pub fn source_names(count: usize, name: impl Fn(usize) -> &'static str) -> Vec<String> {
    (0..count)
        .map(|i| {
            let before = (0..i).filter(|&j| name(j) == name(i)).count();
            if before == 0 {
                name(i).to_owned()
            } else {
                format!("{} {}", name(i), before + 1)
            }
        })
        .collect()
}

/// What stands on a site: since when, and under which plans.
struct Standing<'a> {
    begun: NaiveDate,
    plans: BTreeSet<&'a str>,
}

/// What stands on every site that has any batch.
fn standing(batches: &[Arc<Batch>]) -> HashMap<&str, Standing<'_>> {
    let mut standing: HashMap<&str, Standing<'_>> = HashMap::new();
    for batch in batches {
        let begun = batch.grafted_on;
        let plans = BTreeSet::new();
        let site = standing.entry(&batch.site);
        let site = site.or_insert(Standing { begun, plans });
        site.begun = site.begun.min(begun);
        site.plans.insert(&batch.plan);
    }
    standing
}

fn lost(batch: &Batch, what: &str, name: &str) -> Problem {
    Problem::new(
        format!("batch {}", batch.name),
        format!("its {what} '{name}' is not in the config any more"),
        "the batch is not followed",
        format!("put the {what} back, or mend the register"),
    )
}

/// Records of batches and blocks that are in no register. A batch that came of re-grafting is known by its care.
fn unknown_targets(
    records: &[Record],
    batches: &[Arc<Batch>],
    cares: &[BatchCare<'_>],
    today: NaiveDate,
) -> Vec<Problem> {
    if records.is_empty() {
        return Vec::new();
    }
    let names: HashSet<&str> = batches
        .iter()
        .map(|b| b.name.as_str())
        .chain(cares.iter().map(|c| c.batch.name.as_str()))
        .collect();
    let blocks: HashSet<String> = batches.iter().map(|b| b.block.to_lowercase()).collect();
    let mut unknown: HashMap<String, Problem> = HashMap::new();
    for record in records.iter().filter(|record| record.date <= today) {
        let (name, what) = match &record.target {
            crate::nursery::Target::Batch(name) if !names.contains(name.as_str()) => {
                (name, "batch")
            }
            crate::nursery::Target::Block(name) if !blocks.contains(&name.to_lowercase()) => {
                (name, "block")
            }
            _ => continue,
        };
        let key = format!("{what} {name}");
        // Looking for the nearest name goes through all of them: once for each unknown one.
        if unknown.contains_key(&key) {
            continue;
        }
        let remedy = match crate::register::nearest(name, names.iter().copied()) {
            Some(near) if what == "batch" => {
                format!("did you mean {near}? Mend the record, or add the {what} to the register")
            }
            _ => format!("mend the record, or add the {what} to the register"),
        };
        let problem = Problem::new(
            format!(
                "field record of {what} {name}: {} on {}",
                record.what.name(),
                record.date
            ),
            format!("there is no {what} {name} in the register"),
            "it is kept, and counts once there is one",
            remedy,
        )
        .keyed(format!("no {key}"));
        unknown.insert(key, problem);
    }
    let mut problems: Vec<Problem> = unknown.into_values().collect();
    problems.sort_by(|a, b| a.key.cmp(&b.key));
    problems
}
