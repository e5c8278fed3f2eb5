//! Which column of a temperature file is which, and in what unit, by the names in its header. Pure.
//!
//! A column may be named by its number too, `#4`, where names are missing or stand there more than once.

use super::names::{Role, plain, unit_in, usual, with_unit};
use crate::register::nearest;
use crate::weather::layout::{Columns, Layout, Unit};

const GUST: &[&str] = &["gust", "wind_gust", "max_gust", "gust_max"];
/// Units that are not read.
const OTHER_UNITS: &[&str] = &[
    "mph", "m_s", "ms", "kn", "kt", "knots", "in", "inch", "inches", "cm",
];
const RAIN: &[&str] = &["rain", "rainfall", "precipitation", "precip", "prcp"];

/// Where each column stands; either `min` and `max` or `temp` is there.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Places {
    pub date: usize,
    pub time: Option<usize>,
    pub zone: Option<usize>,
    pub min: Option<usize>,
    pub max: Option<usize>,
    pub temp: Option<usize>,
    pub gust: Option<usize>,
    pub rain: Option<usize>,
    /// The unit that the temperature columns name.
    pub unit: Option<Unit>,
}

/// What is wrong, and what to do.
pub type Said = (String, String);

/// Finds the columns, or says what is missing and what to do about it.
pub fn find(header: &[String], layout: &Layout) -> Result<Places, Said> {
    let wanted = &layout.columns;
    let named = |column: &Option<String>| match column {
        Some(name) => by_name(header, name).map(Some),
        None => Ok(None),
    };
    let temp = named(&wanted.temp)?;
    let (mut min, mut max) = (named(&wanted.min)?, named(&wanted.max)?);
    if temp.is_none() {
        min = min.map_or_else(|| by_role(header, Role::Min), |place| Ok(Some(place)))?;
        max = max.map_or_else(|| by_role(header, Role::Max), |place| Ok(Some(place)))?;
    }
    let pair = min.is_some() && max.is_some();
    let temp = match temp {
        None if !pair => by_role(header, Role::Temp)?,
        temp => temp,
    };
    let date = match named(&wanted.date)? {
        None => by_role(header, Role::Date)?,
        date => date,
    };
    let (Some(date), true) = (date, pair || temp.is_some()) else {
        let missing = if date.is_none() {
            "the dates"
        } else {
            "the temperatures"
        };
        return Err((
            format!(
                "no column for {missing} is recognised; the header reads {}",
                shown(header)
            ),
            "name the columns in the config, for example columns = { date = \"...\", min = \"...\", max = \"...\" }, or by number: \"#3\"".into(),
        ));
    };
    let time = match named(&wanted.time)? {
        None => by_role(header, Role::Time)?,
        time => time,
    };
    let zone = match named(&wanted.zone)? {
        None => by_role(header, Role::Zone)?,
        zone => zone,
    };
    let (min, max) = if pair { (min, max) } else { (None, None) };
    let temp = if pair { None } else { temp };
    Ok(Places {
        date,
        time: time.filter(|&time| time != date),
        zone: zone.filter(|&zone| zone != date),
        min,
        max,
        temp,
        gust: named(&wanted.gust)?.or_else(|| with_unit(header, GUST, "kmh")),
        rain: named(&wanted.rain)?.or_else(|| with_unit(header, RAIN, "mm")),
        unit: unit_of(header, [min, max, temp])?,
    })
}

/// A column that looks like gusts or rain and is not read, since its heading does not say in what unit it is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NotRead {
    /// The heading.
    pub heading: String,
    /// The word for such a column in the config.
    pub word: &'static str,
    /// The unit that would be read.
    pub unit: &'static str,
}

/// Columns of gusts or of rain that are not read, where no other is.
pub fn not_read(header: &[String], places: &Places) -> Vec<NotRead> {
    let kinds = [
        (places.gust, GUST, "gust", "km/h"),
        (places.rain, RAIN, "rain", "mm"),
    ];
    let unread = kinds.into_iter().filter(|(place, ..)| place.is_none());
    let found = unread.filter_map(|(_, names, word, unit)| {
        let is = |cell: &&String| {
            let plain = plain(cell);
            let of_unit = |name: &&str| {
                let rest = plain.strip_prefix(*name)?.strip_prefix('_')?;
                OTHER_UNITS.contains(&rest).then_some(())
            };
            names.contains(&plain.as_str()) || names.iter().any(|name| of_unit(name).is_some())
        };
        let heading = header.iter().find(is)?.trim().to_owned();
        Some(NotRead {
            heading,
            word,
            unit,
        })
    });
    found.collect()
}

/// The names as they stand in the file, or numbers where a name is none or stands there twice.
pub fn names(header: &[String], places: &Places) -> Columns {
    let name = |place: usize| {
        let name = header.get(place).map_or("", String::as_str);
        let alike = header.iter().filter(|cell| *cell == name).count();
        Some(if name.is_empty() || alike > 1 || name.starts_with('#') {
            format!("#{}", place + 1)
        } else {
            name.to_owned()
        })
    };
    Columns {
        date: name(places.date),
        time: places.time.and_then(name),
        zone: places.zone.and_then(name),
        min: places.min.and_then(name),
        max: places.max.and_then(name),
        temp: places.temp.and_then(name),
        gust: places.gust.and_then(name),
        rain: places.rain.and_then(name),
    }
}

/// Whether every column of the config is a number: then there may be no names at all.
pub fn by_numbers(columns: &Columns) -> bool {
    let temperatures = columns.temp.is_some() || (columns.min.is_some() && columns.max.is_some());
    columns.date.is_some()
        && temperatures
        && columns.named().all(|(_, name)| numbered(name).is_some())
}

/// The place of `#4`, counted from 0.
fn numbered(name: &str) -> Option<usize> {
    let number: usize = name.trim().strip_prefix('#')?.parse().ok()?;
    number.checked_sub(1)
}

fn unit_of(header: &[String], columns: [Option<usize>; 3]) -> Result<Option<Unit>, Said> {
    let mut units = columns
        .into_iter()
        .flatten()
        .filter_map(|place| unit_in(header.get(place)?));
    let first = units.next();
    if units.any(|unit| Some(unit) != first) {
        return Err((
            "one temperature column is in °C and another in °F".into(),
            "name two columns of one unit in the config".into(),
        ));
    }
    Ok(first)
}

fn by_role(header: &[String], role: Role) -> Result<Option<usize>, Said> {
    match usual(header, role) {
        None => Ok(None),
        Some(Ok(place)) => Ok(Some(place)),
        Some(Err(_)) if matches!(role, Role::Time | Role::Zone) => Ok(None),
        Some(Err(alike)) => {
            let mut names = (0..header.len()).filter(|&place| {
                let alone = [header[place].clone()];
                usual(&alone, role).is_some()
            });
            let place = names.next().unwrap_or_default();
            Err(alike_named(alike, &header[place], place))
        }
    }
}

fn by_name(header: &[String], name: &str) -> Result<usize, Said> {
    if let Some(place) = numbered(name) {
        if place < header.len() {
            return Ok(place);
        }
        return Err((
            format!(
                "there is no column {}; the header has {} and reads {}",
                name.trim(),
                header.len(),
                shown(header)
            ),
            "correct the number in the config".into(),
        ));
    }
    let wanted = plain(name);
    let mut places = (0..header.len()).filter(|&place| plain(&header[place]) == wanted);
    let exact = header.iter().position(|cell| cell == name.trim());
    match (exact.or_else(|| places.next()), places.next()) {
        (Some(place), _) if exact.is_some() => {
            let alike = header.iter().filter(|cell| *cell == name.trim()).count();
            if alike > 1 {
                return Err(alike_named(alike, name.trim(), place));
            }
            Ok(place)
        }
        (Some(place), None) => Ok(place),
        (Some(_), Some(_)) => Err((
            format!("more than one column reads like '{}'", name.trim()),
            "write the name in the config exactly as it stands in the file".into(),
        )),
        (None, _) => Err((
            format!(
                "there is no column '{}'; the header reads {}",
                name.trim(),
                shown(header)
            ),
            match nearest(name, header.iter().map(String::as_str)) {
                Some(near) => format!("perhaps '{near}' is meant: correct the name in the config"),
                None => "correct the name in the config".into(),
            },
        )),
    }
}

fn alike_named(alike: usize, name: &str, first: usize) -> Said {
    (
        format!("{alike} columns are named '{name}'"),
        format!(
            "name the one that is meant by its number in the config: \"#{}\" is the first of them",
            first + 1
        ),
    )
}

fn shown(header: &[String]) -> String {
    const ENOUGH: usize = 160;
    let names = header.join(", ");
    match names.char_indices().nth(ENOUGH) {
        Some((end, _)) => format!("\"{}...\"", &names[..end]),
        None => format!("\"{names}\""),
    }
}

#[cfg(test)]
mod tests;
