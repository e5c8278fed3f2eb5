//! Which column of a temperature file is which, and in what unit, by the names in its header. Pure.

use crate::register::nearest;
use crate::weather::layout::{Columns, Layout, Unit};

/// Usual names, in order of preference, without unit and in lower case with `_` for gaps.
const DATE: &[&str] = &[
    "date",
    "day",
    "datetime",
    "date_time",
    "timestamp",
    "time_stamp",
    "ts",
    "time",
];
const TIME: &[&str] = &["time", "time_of_day", "hour"];
const MIN: &[&str] = &[
    "tmin",
    "t_min",
    "min",
    "min_temp",
    "temp_min",
    "mintemp",
    "minimum",
    "min_temperature",
    "temperature_min",
    "minimum_temperature",
    "temperature_minimum",
    "low_temp",
    "low",
    "tn",
];
const MAX: &[&str] = &[
    "tmax",
    "t_max",
    "max",
    "max_temp",
    "temp_max",
    "maxtemp",
    "maximum",
    "max_temperature",
    "temperature_max",
    "maximum_temperature",
    "temperature_maximum",
    "high_temp",
    "high",
    "tx",
];
const TEMP: &[&str] = &[
    "temp",
    "temperature",
    "t",
    "air_temp",
    "air_temperature",
    "temp_air",
    "tair",
    "t_air",
    "outside_temp",
    "outside_temperature",
    "outdoor_temp",
    "outdoor_temperature",
    "temp_out",
    "out_temp",
];
const GUST: &[&str] = &["gust", "wind_gust", "max_gust", "gust_max"];
const RAIN: &[&str] = &["rain", "rainfall", "precipitation", "precip", "prcp"];

/// Where each column stands; either `min` and `max` or `temp` is there.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Places {
    pub date: usize,
    pub time: Option<usize>,
    pub min: Option<usize>,
    pub max: Option<usize>,
    pub temp: Option<usize>,
    pub gust: Option<usize>,
    pub rain: Option<usize>,
    /// The unit that the temperature columns name.
    pub unit: Option<Unit>,
}

/// Finds the columns, or says what is missing and what to do about it.
pub fn find(header: &[String], layout: &Layout) -> Result<Places, (String, String)> {
    let wanted = &layout.columns;
    let named = |column: &Option<String>| match column {
        Some(name) => by_name(header, name).map(Some),
        None => Ok(None),
    };
    let temp = named(&wanted.temp)?;
    let (mut min, mut max) = (named(&wanted.min)?, named(&wanted.max)?);
    if temp.is_none() {
        min = min.or_else(|| usual(header, MIN));
        max = max.or_else(|| usual(header, MAX));
    }
    let pair = min.is_some() && max.is_some();
    let temp = temp.or_else(|| usual(header, TEMP).filter(|_| !pair));
    let date = named(&wanted.date)?.or_else(|| usual(header, DATE));
    let (Some(date), true) = (date, pair || temp.is_some()) else {
        let missing = if date.is_none() {
            "the dates"
        } else {
            "the temperatures"
        };
        return Err((
            format!("no column for {missing} is recognised; the header reads {}", shown(header)),
            "name the columns in the config, for example columns = { date = \"...\", min = \"...\", max = \"...\" }".into(),
        ));
    };
    let time = named(&wanted.time)?
        .or_else(|| usual(header, TIME))
        .filter(|&time| time != date);
    let (min, max) = if pair { (min, max) } else { (None, None) };
    let temp = if pair { None } else { temp };
    let unit = unit_of(header, [min, max, temp])?;
    let with_unit = |names: &[&str], unit: &str| {
        header.iter().position(|cell| {
            let plain = plain(cell);
            names.iter().any(|name| plain == format!("{name}_{unit}"))
        })
    };
    Ok(Places {
        date,
        time,
        min,
        max,
        temp,
        gust: named(&wanted.gust)?.or_else(|| with_unit(GUST, "kmh")),
        rain: named(&wanted.rain)?.or_else(|| with_unit(RAIN, "mm")),
        unit,
    })
}

/// The names as they stand in the file, for those who ask what was understood.
pub fn names(header: &[String], places: &Places) -> Columns {
    let name = |place: usize| header.get(place).cloned();
    Columns {
        date: name(places.date),
        time: places.time.and_then(name),
        min: places.min.and_then(name),
        max: places.max.and_then(name),
        temp: places.temp.and_then(name),
        gust: places.gust.and_then(name),
        rain: places.rain.and_then(name),
    }
}

/// The unit that a text names: `tmin_f`, `Max Temp (°C)`, `Deg C`.
pub fn unit_in(text: &str) -> Option<Unit> {
    let plain = plain(text);
    let last = plain.rsplit('_').next().unwrap_or_default();
    if plain == "c" || plain == "f" || plain.contains('_') || text.contains('°') {
        match last.trim_start_matches("deg") {
            "c" | "°c" | "celsius" => return Some(Unit::C),
            "f" | "°f" | "fahrenheit" => return Some(Unit::F),
            _ => {}
        }
    }
    match last {
        "degc" | "celsius" => Some(Unit::C),
        "degf" | "fahrenheit" => Some(Unit::F),
        _ => None,
    }
}

fn unit_of(
    header: &[String],
    columns: [Option<usize>; 3],
) -> Result<Option<Unit>, (String, String)> {
    let mut units = columns
        .into_iter()
        .flatten()
        .filter_map(|place| unit_in(&header[place]));
    let first = units.next();
    if units.any(|unit| Some(unit) != first) {
        return Err((
            "one temperature column is in °C and another in °F".into(),
            "name two columns of one unit in the config".into(),
        ));
    }
    Ok(first)
}

fn by_name(header: &[String], name: &str) -> Result<usize, (String, String)> {
    let wanted = plain(name);
    let mut places = (0..header.len()).filter(|&place| plain(&header[place]) == wanted);
    let exact = header.iter().position(|cell| cell == name.trim());
    match (exact.or_else(|| places.next()), places.next()) {
        (Some(place), _) if exact.is_some() => {
            let alike = header.iter().filter(|cell| *cell == name.trim()).count();
            if alike > 1 {
                return Err((
                    format!("{alike} columns are named '{}'", name.trim()),
                    "give the one that is meant a name of its own".into(),
                ));
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

fn usual(header: &[String], names: &[&str]) -> Option<usize> {
    let base: Vec<String> = header.iter().map(|cell| without_unit(cell)).collect();
    names
        .iter()
        .find_map(|name| base.iter().position(|cell| cell == name))
}

/// Lower case, with one `_` for whatever is neither letter nor digit nor degree sign.
fn plain(name: &str) -> String {
    let spaced: String = name
        .to_lowercase()
        .replace('°', " °")
        .chars()
        .map(|c| {
            if c.is_alphanumeric() || c == '°' {
                c
            } else {
                ' '
            }
        })
        .collect();
    spaced.split_whitespace().collect::<Vec<_>>().join("_")
}

fn without_unit(name: &str) -> String {
    let plain = plain(name);
    let mut base = plain.as_str();
    for tail in [
        "_c",
        "_f",
        "_°c",
        "_°f",
        "_degc",
        "_degf",
        "_celsius",
        "_fahrenheit",
        "_deg",
    ] {
        base = base.strip_suffix(tail).unwrap_or(base);
    }
    base.strip_suffix("_deg").unwrap_or(base).to_owned()
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
