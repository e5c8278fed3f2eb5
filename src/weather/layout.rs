//! How a temperature file of the grower's own is laid out, as far as the config says it.
//!
//! The same words describe what an address of a farm's own station answers with. Pure; knows no file.

use chrono::FixedOffset;

/// What the config says of a file; what it leaves out is found in the file.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Layout {
    /// The headings of its columns.
    pub columns: Columns,
    /// The unit of its temperatures.
    pub unit: Option<Unit>,
    /// How its dates are written (strftime, or [`EXCEL`] or [`UNIX`]), where not as ISO 8601.
    pub date_format: Option<String>,
    /// The byte between two fields.
    pub delimiter: Option<u8>,
    /// The decimal sign: `.` or `,`.
    pub decimal: Option<char>,
    /// The clock that its times were read off, where it is not the site's: a logger left on winter time.
    pub clock: Option<FixedOffset>,
    /// A time marks the end of its interval, so that midnight belongs to the day that ends with it.
    pub interval_end: bool,
    /// What else it writes where nothing was measured.
    pub missing: Vec<String>,
    /// The share of the usual number of readings that a day must have, in percent; without it [`Layout::ENOUGH`].
    pub min_readings: Option<u32>,
}

impl Layout {
    /// Percent of the usual readings of a day that are enough unless the config says otherwise.
    pub const ENOUGH: u32 = 75;
}

/// The word for days since the end of 1899 as a date format, with the time of day behind the decimal sign.
pub const EXCEL: &str = "excel";
/// The word for seconds since 1970 as a date format.
pub const UNIX: &str = "unix";

/// The headings of the columns, where they are not the usual ones; `#4` is the fourth.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Columns {
    /// The date, or date and time.
    pub date: Option<String>,
    /// The time of day, where it has a column of its own.
    pub time: Option<String>,
    /// The offset of that time, where it has a column of its own.
    pub zone: Option<String>,
    /// The day's (or interval's) minimum.
    pub min: Option<String>,
    /// The day's (or interval's) maximum.
    pub max: Option<String>,
    /// One reading.
    pub temp: Option<String>,
    /// The strongest gust in km/h.
    pub gust: Option<String>,
    /// Rain in mm.
    pub rain: Option<String>,
}

impl Columns {
    /// Every column that has a name, with the word for it in the config.
    pub fn named(&self) -> impl Iterator<Item = (&'static str, &str)> {
        let all = [
            ("date", &self.date),
            ("time", &self.time),
            ("zone", &self.zone),
            ("min", &self.min),
            ("max", &self.max),
            ("temp", &self.temp),
            ("gust", &self.gust),
            ("rain", &self.rain),
        ];
        all.into_iter()
            .filter_map(|(word, name)| Some((word, name.as_deref()?)))
    }
}

/// The unit of temperatures in a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// °C.
    C,
    /// °F.
    F,
    /// Tenths of °C, as some services' files have them.
    TenthsC,
}

impl Unit {
    /// Every unit.
    pub const ALL: [Self; 3] = [Self::C, Self::F, Self::TenthsC];

    /// The word in the config.
    pub fn word(self) -> &'static str {
        match self {
            Self::C => "C",
            Self::F => "F",
            Self::TenthsC => "C/10",
        }
    }

    /// As people write it.
    pub fn shown(self) -> &'static str {
        match self {
            Self::C => "°C",
            Self::F => "°F",
            Self::TenthsC => "tenths of °C",
        }
    }
}
