//! Files of GHCN-Daily on disk: the fixed-width one (`.dly`) and the one of rows by station (CSV).
//!
//! Both write temperatures in tenths of °C, rain in tenths of mm, gusts in tenths of m/s, and `-9999` for what was not
//! measured. Reads line by line and keeps only what is asked for, so a file may be large.

use super::elements::{Element, Reading, Readings};
use crate::excerpt::excerpt;
use crate::problem::Problem;
use crate::sheet::open;
use chrono::NaiveDate;
use std::io::{BufRead, BufReader, Read};
use std::path::Path;

/// No file of one station is larger.
const CAP: u64 = 1 << 30;
/// No line of either kind is longer, in bytes.
const LONGEST_LINE: u64 = 1024;
/// The length of a fixed-width line; blanks at its end are often lost.
const WIDTH: usize = 269;
const UNUSED: &str = "nothing was read from it, what was read before stays in force";

/// What a file says.
#[derive(Debug)]
pub struct StationFile {
    /// From the asked day on, before the asked end.
    pub readings: Readings,
    /// Lines that could not be read.
    pub problems: Vec<Problem>,
}

/// What is wanted of a file.
#[derive(Clone, Debug)]
pub struct Wanted {
    /// The station; without one, the file must have one only.
    pub station: Option<String>,
    /// The first day.
    pub from: NaiveDate,
    /// The day after the last one.
    pub until: NaiveDate,
}

/// Reads the file, whichever of the two kinds it is.
pub fn read(path: &Path, wanted: &Wanted) -> Result<StationFile, Problem> {
    let place = path.display().to_string();
    let refused = |what: String, remedy: &str| Problem::new(&place, what, UNUSED, remedy);
    let opened = open(path, CAP, UNUSED)?;
    let mut reader = BufReader::new(opened.file.take(CAP));
    let mut file = Lines {
        station: wanted.station.clone(),
        wanted,
        readings: Readings::default(),
        kind: None,
        found: false,
        unread: Vec::new(),
        count: 0,
    };
    let mut line = Vec::new();
    loop {
        line.clear();
        let read = (&mut reader)
            .take(LONGEST_LINE)
            .read_until(b'\n', &mut line);
        match read {
            Err(error) => {
                return Err(refused(
                    format!("it could not be read ({error})"),
                    "see that the disk is sound",
                ));
            }
            Ok(0) => break,
            Ok(_) => file
                .line(&line)
                .map_err(|Unusable { what, remedy }| refused(what, remedy))?,
        }
    }
    if file.kind.is_none() {
        return Err(refused("there is nothing in it".into(), "fetch it again"));
    }
    if let Some(station) = wanted.station.as_ref().filter(|_| !file.found) {
        let what = format!("it has no line of station {station}");
        return Err(refused(what, "look at the station in the config"));
    }
    let mut problems = Vec::new();
    if let Some((number, why)) = file.unread.first() {
        let others = match file.unread.len() - 1 {
            0 => String::new(),
            more => format!(", and {more} more like it"),
        };
        let what = format!("line {number} could not be read: {why}{others}");
        let problem = Problem::new(
            &place,
            what,
            "the other lines are used",
            "fetch the file again",
        );
        problems.push(problem.keyed(format!("{place}: unread lines")));
    }
    Ok(StationFile {
        readings: file.readings,
        problems,
    })
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    FixedWidth,
    Rows,
}

/// Why a file is of no use.
struct Unusable {
    what: String,
    remedy: &'static str,
}

struct Lines<'a> {
    station: Option<String>,
    wanted: &'a Wanted,
    readings: Readings,
    kind: Option<Kind>,
    found: bool,
    unread: Vec<(usize, String)>,
    count: usize,
}

impl Lines<'_> {
    fn line(&mut self, bytes: &[u8]) -> Result<(), Unusable> {
        self.count += 1;
        if bytes.starts_with(&[0x1f, 0x8b]) {
            return Err(Unusable {
                what: "it is packed (gzip)".into(),
                remedy: "unpack it first",
            });
        }
        let text = String::from_utf8_lossy(bytes);
        let text = text.trim_start_matches('\u{feff}').trim_end();
        if text.is_empty() {
            return Ok(());
        }
        let kind = match self.kind {
            Some(kind) => kind,
            None => self.first(text)?,
        };
        let read = match kind {
            Kind::FixedWidth => self.fixed_width(text)?,
            Kind::Rows => self.row(text)?,
        };
        if let Err(why) = read {
            self.unread.push((self.count, why));
        }
        Ok(())
    }

    /// Which kind the first line is of.
    fn first(&mut self, text: &str) -> Result<Kind, Unusable> {
        let cells: Vec<&str> = text.split(',').map(str::trim).collect();
        let kind = if cells.len() >= 4
            && (cells[0] == "ID" || Element::named(cells[2]).is_some() || cells[1].len() == 8)
        {
            Kind::Rows
        } else if cells.len() == 1
            && text.len() > 21
            && text.as_bytes()[11..17].iter().all(u8::is_ascii_digit)
        {
            Kind::FixedWidth
        } else {
            return Err(Unusable {
                what: format!(
                    "its first line is none of a GHCN-Daily file: {}",
                    excerpt(text.as_bytes())
                ),
                remedy: "fetch the station's .dly file, or its CSV from by_station",
            });
        };
        self.kind = Some(kind);
        Ok(kind)
    }

    /// Whether a line is of the station that is wanted.
    fn is_wanted(&mut self, id: &str) -> Result<bool, Unusable> {
        match &self.station {
            None => {
                self.station = Some(id.to_owned());
                Ok(true)
            }
            Some(station) if station == id => {
                self.found = true;
                Ok(true)
            }
            Some(_) if self.wanted.station.is_some() => Ok(false),
            Some(station) => Err(Unusable {
                what: format!(
                    "it has more than one station, {station} and {}",
                    excerpt(id.as_bytes())
                ),
                remedy: "name the station in the config",
            }),
        }
    }

    /// Station, year, month, element, then for each day a value of five characters and its three flags.
    fn fixed_width(&mut self, text: &str) -> Result<Result<(), String>, Unusable> {
        if !text.is_ascii() || text.len() > WIDTH {
            return Ok(Err("it is not of 269 plain characters".into()));
        }
        let line = format!("{text:WIDTH$}");
        if !self.is_wanted(&line[..11])? {
            return Ok(Ok(()));
        }
        let (Ok(year), Ok(month)) = (line[11..15].parse(), line[15..17].parse()) else {
            return Ok(Err("it has no year and month".into()));
        };
        let Some(element) = Element::named(&line[17..21]) else {
            return Ok(Ok(()));
        };
        for day in 1..=31 {
            let at = 21 + 8 * (day as usize - 1);
            let value = line[at..at + 5].trim();
            let Some(date) = NaiveDate::from_ymd_opt(year, month, day) else {
                continue;
            };
            let quality = line.as_bytes()[at + 6] as char;
            if let Err(why) = self.take(date, element, value, quality, "") {
                return Ok(Err(why));
            }
        }
        Ok(Ok(()))
    }

    /// `ID,YYYYMMDD,ELEMENT,VALUE,M,Q,S,HHMM`, with a header or without.
    fn row(&mut self, text: &str) -> Result<Result<(), String>, Unusable> {
        let cells: Vec<&str> = text
            .split(',')
            .map(|cell| cell.trim().trim_matches('"'))
            .collect();
        if cells[0] == "ID" {
            return Ok(Ok(()));
        }
        let [id, date, element, value, rest @ ..] = cells.as_slice() else {
            return Ok(Err("it has fewer than 4 cells".into()));
        };
        if !self.is_wanted(id)? {
            return Ok(Ok(()));
        }
        let Some(element) = Element::named(element) else {
            return Ok(Ok(()));
        };
        let Ok(date) = NaiveDate::parse_from_str(date, "%Y%m%d") else {
            return Ok(Err(format!(
                "'{}' is not a date like 20260701",
                excerpt(date.as_bytes())
            )));
        };
        let quality = rest
            .get(1)
            .and_then(|flag| flag.chars().next())
            .unwrap_or(' ');
        Ok(self.take(
            date,
            element,
            value,
            quality,
            rest.get(3).copied().unwrap_or_default(),
        ))
    }

    fn take(
        &mut self,
        date: NaiveDate,
        element: Element,
        value: &str,
        quality: char,
        time: &str,
    ) -> Result<(), String> {
        if value.is_empty()
            || value == "-9999"
            || !(self.wanted.from..self.wanted.until).contains(&date)
        {
            return Ok(());
        }
        let tenths: i32 = value
            .parse()
            .map_err(|_| format!("'{}' is not a whole number", excerpt(value.as_bytes())))?;
        self.readings.add(&Reading {
            date,
            element,
            value: element.metric(f64::from(tenths) / 10.0),
            quality,
            time: time.to_owned(),
        });
        Ok(())
    }
}

#[cfg(test)]
mod tests;
