//! The names that loggers and stations give their columns, and the units within them. Pure.
//!
//! The lists are common practice, no source; other languages than English from memory.

use crate::weather::layout::Unit;

/// What a column holds, by its usual names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    Date,
    Time,
    Zone,
    Min,
    Max,
    Temp,
}

/// In order of preference, without unit and in lower case with `_` for gaps.
const DATE: &[&str] = &[
    "date",
    "datetime",
    "date_time",
    "timestamp",
    "time_stamp",
    "ts",
    "datum",
    "fecha",
    "day",
    "tag",
    "data",
    "time",
    "zeit",
];
const TIME: &[&str] = &[
    "time",
    "time_of_day",
    "hour",
    "zeit",
    "uhrzeit",
    "tijd",
    "heure",
    "hora",
    "ora",
];
const ZONE: &[&str] = &[
    "timezone",
    "time_zone",
    "tz",
    "zone",
    "utc_offset",
    "offset",
];
const MIN: &[&str] = &[
    "tmin",
    "min",
    "mintemp",
    "minimum",
    "low",
    "tn",
    "t_min",
    "tiefsttemperatur",
];
const MAX: &[&str] = &[
    "tmax",
    "max",
    "maxtemp",
    "maximum",
    "high",
    "tx",
    "t_max",
    "höchsttemperatur",
];
const TEMP: &[&str] = &[
    "temp",
    "temperature",
    "t",
    "tair",
    "temperatur",
    "temperatuur",
    "température",
    "temperatura",
];

/// Names may also be put together of these words: `AirTC_Max`, `Outdoor Temp Low`.
const OF_AIR: &[&str] = &[
    "air",
    "airt",
    "airtc",
    "airtf",
    "airtemp",
    "temp",
    "temperature",
    "temperatur",
    "t",
    "tc",
    "tair",
    "out",
    "outside",
    "outdoor",
    "avg",
    "average",
    "mean",
    "ta",
    "sensor",
    "inst",
    "c",
    "f",
    "deg",
];
/// Words without which such a name is none of the air's temperature.
const THE_THING: &[&str] = &[
    "airt",
    "airtc",
    "airtf",
    "airtemp",
    "temp",
    "temperature",
    "temperatur",
    "tair",
    "ta",
    "t",
    "tc",
];
const LOW: &[&str] = &["min", "minimum", "low", "lo", "mn"];
const HIGH: &[&str] = &["max", "maximum", "high", "hi", "mx"];

/// The column of that role by its usual name: its place, or how many columns have the very same name.
pub fn usual(header: &[String], role: Role) -> Option<Result<usize, usize>> {
    let names = match role {
        Role::Date => DATE,
        Role::Time => TIME,
        Role::Zone => ZONE,
        Role::Min => MIN,
        Role::Max => MAX,
        Role::Temp => TEMP,
    };
    let base: Vec<String> = header.iter().map(|cell| without_unit(cell)).collect();
    let known = names
        .iter()
        .find_map(|name| base.iter().position(|cell| cell == name));
    let place = known.or_else(|| base.iter().position(|cell| put_together(cell, role)))?;
    let name = plain(&header[place]);
    let alike = header.iter().filter(|cell| plain(cell) == name).count();
    Some(if alike > 1 { Err(alike) } else { Ok(place) })
}

fn put_together(base: &str, role: Role) -> bool {
    let of = |word: &str, list: &[&str]| list.contains(&word);
    let mut words = base.split('_');
    let any = |list: &[&str]| base.split('_').any(|word| of(word, list));
    let extreme: &[&str] = match role {
        Role::Min => LOW,
        Role::Max => HIGH,
        Role::Temp => &[],
        _ => return false,
    };
    any(THE_THING)
        && (extreme.is_empty() || any(extreme))
        && words.all(|word| of(word, OF_AIR) || of(word, extreme))
}

/// Gusts are read where the name says km/h, rain where it says mm.
pub fn with_unit(header: &[String], names: &[&str], unit: &str) -> Option<usize> {
    header.iter().position(|cell| {
        // "km/h" has become two words.
        let plain = plain(cell).replace("km_h", "kmh");
        names.iter().any(|name| plain == format!("{name}_{unit}"))
    })
}

/// The unit that a text names: `tmin_f`, `Max Temp (°C)`, `Deg C`.
pub fn unit_in(text: &str) -> Option<Unit> {
    let plain = plain(text);
    let last = plain.rsplit('_').next().unwrap_or_default();
    if plain == "c" || plain == "f" || plain.contains('_') || text.contains(['°', 'º']) {
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

/// Lower case, with one `_` for whatever is neither letter nor digit nor degree sign.
pub fn plain(name: &str) -> String {
    let spaced: String = name
        .to_lowercase()
        .replace(['°', 'º'], " °")
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

#[cfg(test)]
mod tests {
    use super::*;

    /// The role of a name that stands alone.
    #[track_caller]
    fn check(name: &str, expect: &[Role]) {
        let header = [name.to_owned()];
        let roles = [Role::Min, Role::Max, Role::Temp];
        let found: Vec<Role> = roles
            .into_iter()
            .filter(|&role| usual(&header, role).is_some())
            .collect();
        assert_eq!(found, expect);
    }

    #[test]
    fn names_are_put_together_in_many_ways() {
        for name in [
            "AirTC_Max",
            "High Temp",
            "Outdoor Temp High (°F)",
            "Max Air Temperature",
            "t_max",
            "Temp Hi",
        ] {
            check(name, &[Role::Max]);
        }
        for name in ["AirTC_Min", "Low Temp", "Minimum temperature (°C)", "tn"] {
            check(name, &[Role::Min]);
        }
        for name in [
            "AirTC_Avg",
            "Temp",
            "T (°C)",
            "Outside temperature",
            "Temperatur",
            "air_temp_c",
        ] {
            check(name, &[Role::Temp]);
        }
    }

    #[test]
    fn what_is_not_of_the_air_is_left() {
        for name in [
            "Max Temp Flag",
            "Soil Temp",
            "RH_Max",
            "Temp Inside",
            "Dew Point",
            "High Wind",
            "Wind Chill Low",
            "Battery_Min",
            "air",
        ] {
            check(name, &[]);
        }
    }

    #[test]
    fn units_are_read_from_names() {
        for text in [
            "tmin_c",
            "Temp °C",
            "Temp [C]",
            "Deg C",
            "degC",
            "temp (celsius)",
            "t (°C)",
            "°C",
        ] {
            assert_eq!(unit_in(text), Some(Unit::C), "{text}");
        }
        for text in ["tmin_f", "TEMP (°F)", "Deg F", "temp_fahrenheit"] {
            assert_eq!(unit_in(text), Some(Unit::F), "{text}");
        }
        for text in ["tmin", "Temperature", "Max Temp Flag", ""] {
            assert_eq!(unit_in(text), None, "{text}");
        }
    }
}
