//! What `graftwarden.toml` means: nursery, rounds, plans. `sites`, `people`, `post` and `answers` read the rest.
//!
//! Every part is read to its end before anything is given up, so that all problems are found at once. A part that is
//! wrong is none; the complaint about it has been made where it was read.

use super::people::{person, unheard};
use super::plan::read_plan_file;
use super::raw::{Section, text_of, wrong_type};

use super::report::{Complaint, Findings};
use super::{Config, FORMAT, alive, answers, built_in, post, sites};
use crate::care::Learn;
use crate::nursery::{Person, Plan, Workdays};
use crate::schedule::{Schedule, USUAL};
use crate::units::Units;
use chrono::{NaiveDate, Weekday};
use chrono_tz::Tz;
use std::path::{Path, PathBuf};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Reads the whole file.
pub(super) fn config(
    path: &Path,
    table: &Spanned<DeTable<'_>>,
    findings: &Findings,
) -> Option<Config> {
    let top = Section::new("the file", table.get_ref(), 0..0, findings);
    if !readable_version(&top) {
        return None;
    }
    let folder = path.parent().unwrap_or(Path::new(""));
    let nursery = top.section("nursery");
    let nursery = top
        .need(
            "nursery",
            nursery,
            "begin it with [nursery]; config/README.md shows one",
        )
        .and_then(|section| Nursery::read(section, folder));
    let zone = nursery.as_ref().map(|n| n.zone);
    let plans = plans(&top, folder);
    let ca_file = top.text("ca_file").map(|path| folder.join(path));
    let (post, sender) = post::read(top.section("post"), folder);
    let answers = answers::read(top.section("answers"), post.as_ref(), folder);
    let contact = sender.map(|from| from.email);
    let sites = sites::read(&top, zone, folder, contact.as_deref());
    let ids: Vec<&str> = sites.iter().flatten().map(|s| s.site.id.as_str()).collect();
    let people: Vec<Option<Person>> = top
        .sections("people")
        .into_iter()
        .map(|section| person(section, &ids, sites.iter().all(Option::is_some)))
        .collect();
    let schedule = rounds(&top, zone);
    let pages = pages(&top, folder);
    let alive = alive::read(top.section("alive"), folder);
    let whole = people.iter().all(Option::is_some);
    let people: Vec<Person> = people.into_iter().flatten().collect();
    if whole {
        unheard(&top, &people, &ids);
    }
    top.finish();

    let nursery = nursery?;
    Some(Config {
        path: path.to_owned(),
        name: nursery.name,
        state: nursery.state,
        batches: nursery.batches,
        records: nursery.records,
        ca_file,
        zone: nursery.zone,
        units: nursery.units,
        workdays: nursery.workdays,
        learn: nursery.learn,
        sites: sites.into_iter().collect::<Option<_>>()?,
        schedule,
        people,
        post: post?,
        answers: answers.ok()?,
        pages,
        alive,
        plans,
        warnings: Vec::new(),
    })
}

/// A file of a later format is not picked to pieces: it is refused with one sentence.
pub(super) fn readable_version(top: &Section<'_>) -> bool {
    let version = top.whole("version", 1..=u32::MAX);
    match version {
        Some(newer) if newer > FORMAT => {
            let complaint = Complaint::new(
                format!(
                    "this file is of version {newer}; this graftwarden reads up to version {FORMAT}"
                ),
                "install the graftwarden it was written for",
            );
            top.findings().error(top.place("version"), complaint);
            false
        }
        _ => true,
    }
}

struct Nursery {
    name: String,
    state: PathBuf,
    batches: PathBuf,
    records: PathBuf,
    zone: Tz,
    units: Units,
    workdays: Workdays,
    learn: Learn,
}

impl Nursery {
    fn read(s: Section<'_>, folder: &Path) -> Option<Self> {
        let path = |key, usual: &str| folder.join(s.text(key).unwrap_or_else(|| usual.to_owned()));
        let name = s.need(
            "name",
            s.line("name"),
            "write name = \"the name of your nursery\"",
        );
        let zone = s.need(
            "zone",
            zone(&s),
            "write the zone of your clocks, as in zone = \"Europe/Brussels\"",
        );
        let units = units(&s);
        let [state, batches, records] = [
            path("state", "state"),
            path("batches", "batches.csv"),
            path("records", "records.csv"),
        ];
        let workdays = workdays(&s);
        let learn = s.choice("learn", &Learn::ALL.map(Learn::name), Learn::named);
        s.finish();
        Some(Self {
            name: name?,
            state,
            batches,
            records,
            zone: zone?,
            units: units.unwrap_or_default(),
            workdays,
            learn: learn.unwrap_or_default(),
        })
    }
}

/// The measures people read.
pub(super) fn units(s: &Section<'_>) -> Option<Units> {
    s.choice("units", &["metric", "us"], |word| match word {
        "metric" => Some(Units::Metric),
        "us" => Some(Units::Us),
        _ => None,
    })
}

pub(super) fn zone(s: &Section<'_>) -> Option<Tz> {
    s.parsed("zone", |text| {
        text.parse().map_err(|_| {
            let names: Vec<&str> = chrono_tz::TZ_VARIANTS.iter().map(|z| z.name()).collect();
            let near = names
                .iter()
                .min_by_key(|n| strsim::damerau_levenshtein(text, n))
                .filter(|n| strsim::damerau_levenshtein(text, n) <= 1 + text.len() / 4);
            Complaint::new(
                format!("'{text}' is not a time zone"),
                near.map_or_else(
                    || "write a zone of the world's list, as in \"Europe/Brussels\" or \"America/New_York\"".to_owned(),
                    |near| format!("perhaps \"{near}\" is meant"),
                ),
            )
        })
    })
}

fn workdays(s: &Section<'_>) -> Workdays {
    const NAMES: [&str; 7] = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];
    let week = s
        .choices("working_days", &NAMES, |word| word.parse::<Weekday>().ok())
        .unwrap_or_else(|| {
            use Weekday::{Fri, Mon, Thu, Tue, Wed};
            vec![Mon, Tue, Wed, Thu, Fri]
        });
    if week.is_empty() {
        s.findings().warning(
            s.place("working_days"),
            Complaint::new(
                "there is no working day at all, so only urgent letters would leave",
                "name the days somebody works, as in [\"Mon\", \"Tue\"]",
            ),
        );
    }
    let off = s.list("days_off", span_off).unwrap_or_default();
    Workdays::new(&week, off.into_iter().map(Spanned::into_inner).collect())
}

/// A date, quoted or not, or a span of dates in quotes.
pub(super) fn span_off(value: &DeValue<'_>) -> Result<(NaiveDate, NaiveDate), Complaint> {
    let text = match value {
        DeValue::Datetime(date) if date.time.is_none() => date.to_string(),
        DeValue::Datetime(_) => {
            return Err(wrong_type("days_off", "a date without a time", value));
        }
        _ => text_of("days_off", value)?.to_owned(),
    };
    let (from, to) = text.split_once("..").unwrap_or((&text, &text));
    let day = |part: &str| {
        part.trim().parse::<NaiveDate>().map_err(|_| {
            Complaint::new(
                format!("'{text}' is not a date or a span of dates"),
                "write \"2026-08-31\" or \"2026-12-24..2027-01-02\"",
            )
        })
    };
    let (from, to) = (day(from)?, day(to)?);
    if to < from {
        let what = format!("'{text}' ends before it begins");
        return Err(Complaint::new(what, "write the earlier date first"));
    }
    Ok((from, to))
}

fn plans(top: &Section<'_>, folder: &Path) -> Vec<Plan> {
    let mut plans = built_in();
    let mut own: Vec<String> = Vec::new();
    for path in top.texts("plans").unwrap_or_default() {
        let (plan, found) = read_plan_file(&folder.join(path.get_ref()));
        top.findings().extend(found);
        let Some(plan) = plan else { continue };
        let name = &plan.name;
        if own.contains(name) {
            let what = format!("two of your plans are named \"{name}\"");
            let complaint = Complaint::new(what, "give one of them another name");
            top.findings().error(path.span(), complaint);
        } else if plans.iter().any(|p| p.name == *name) {
            let what = format!("this plan takes the place of the built-in plan \"{name}\"");
            let complaint = Complaint::new(what, "give it a name of its own if you want both");
            top.findings().warning(path.span(), complaint);
        }
        own.push(name.clone());
        plans.retain(|p| p.name != *name);
        plans.push(plan);
    }
    plans
}

/// The folder for pages. There is none without the section.
fn pages(top: &Section<'_>, folder: &Path) -> Option<PathBuf> {
    let section = top.section("pages")?;
    let path = section.text("folder");
    let path = section.need("folder", path, "write folder = \"pages\"");
    section.finish();
    path.map(|path| folder.join(path))
}

fn rounds(top: &Section<'_>, zone: Option<Tz>) -> Schedule {
    let section = top.section("rounds");
    let at = section.as_ref().and_then(|s| s.texts("at"));
    let at = at.unwrap_or_else(|| vec![Spanned::new(top.span(), USUAL.to_owned())]);
    let place = section.as_ref().map_or(top.span(), |s| s.place("at"));
    if at.is_empty() {
        let complaint = Complaint::new(
            "no round would ever be walked",
            "name a time, as in at = [\"10 6 * * *\"]",
        );
        top.findings().error(place.clone(), complaint);
    }
    let mut schedule = Schedule::default();
    for text in at {
        if let Err(trouble) = schedule.add(text.get_ref()) {
            let complaint = Complaint::new(trouble.what, trouble.remedy);
            top.findings().error(text.span(), complaint);
        }
    }
    if let Some(wall) = zone.and_then(|zone| schedule.in_clock_changes(zone).first().copied()) {
        let complaint = Complaint::new(
            format!(
                "a round at {} falls into the hour that a clock change leaves out or repeats; it is walked once all the same, after the gap or in the first of the two hours",
                wall.format("%H:%M")
            ),
            "choose another hour if that matters to you",
        );
        top.findings().warning(place, complaint);
    }
    if let Some(section) = section {
        section.finish();
    }
    schedule
}
