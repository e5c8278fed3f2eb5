//! A care plan: the ordered steps for one kind of graft, and the limit not to pass.
//!
//! These are the words; `config::plan` reads them from TOML, `care` works out the dates.

use super::{Hemisphere, Model, What};
use crate::units::{Celsius, DegreeDays, StandardDays};
use chrono::{Datelike, NaiveDate};

/// The care of one kind of graft, from tying in to docking.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// The name used in the register.
    pub name: String,
    /// How heat is reckoned; the plan's numbers only hold for it.
    pub model: Model,
    /// The mean temperature of the usual day that the plan's standard days are days of.
    pub reference: Celsius,
    /// When callus lines are taken to have shown.
    pub reckoning: Reckoning,
    /// In the order in which they are done.
    pub steps: Vec<Step>,
    /// The point not to pass, if the kind has one.
    pub limit: Option<Limit>,
    /// Between which steps heat hurts the union.
    pub sensitive: Option<Sensitive>,
    /// Under glass or in a box, where wind, frost and rain do not come.
    pub under_cover: bool,
}

impl Plan {
    /// The step of that id.
    pub fn step(&self, id: &str) -> Option<&Step> {
        self.steps.iter().find(|s| s.id == id)
    }
}

/// One thing to do, and its window.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// Short name, used in files, keys and `--json`.
    pub id: String,
    /// What is done, as an order: "head back".
    pub title: String,
    /// When the window opens.
    pub opens: Opening,
    /// When it closes; never, where absent.
    pub closes: Option<Closing>,
    /// The records that answer it.
    pub brings: Vec<What>,
    /// Not one of the steps that follow each other: neither passes over an earlier one nor is passed over.
    pub aside: bool,
    /// Instructions for the letter.
    pub say: String,
    /// Instructions in place of `say` when the window opened by warmth alone, though a record could have opened it.
    pub say_unseen: Option<String>,
    /// Instructions in place of `say` when the window opened by the calendar.
    pub say_calendar: Option<String>,
    /// Instructions in place of the others when the first frost of autumn is near.
    pub say_frost: Option<String>,
    /// Crew minutes for a hundred grafts.
    pub minutes_per_100: Option<f64>,
    /// The usual caution.
    pub caution: Option<String>,
}

impl Step {
    /// Crew hours for so many grafts; none counted where the plan does not say.
    pub fn hours(&self, grafts: u32) -> f64 {
        self.minutes_per_100.unwrap_or(0.0) * f64::from(grafts) / 6000.0
    }
}

/// An amount of warmth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Need {
    /// In days of usual weather at the site.
    Standard(StandardDays),
    /// In °C·d, the same at every site.
    Heat(DegreeDays),
}

/// The point from which a window's warmth, days or months count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// The day of grafting.
    Grafted,
    /// The day of the first such record (of the last of the work, for work done in parts).
    Record(What),
    /// The day on which callus lines are reckoned to have shown: see [`Reckoning`].
    CallusLines,
    /// The first midwinter (1 January; south 1 July) after grafting.
    Midwinter,
    /// The opening of the same window; only for closings.
    Opening,
}

/// A window opens on the first day on which all that is set here holds, or at once by a record.
#[derive(Clone, Debug, PartialEq)]
pub struct Opening {
    /// From where warmth, days and months count.
    pub after: Anchor,
    /// Records that open it on their day, whatever the rest says.
    pub at_once: Vec<What>,
    /// Warmth since the anchor.
    pub warmth: Option<Need>,
    /// Not before that many days after grafting.
    pub min_days: Option<u32>,
    /// After that many days after grafting, whatever the warmth.
    pub max_days: Option<u32>,
    /// Whole months since the anchor.
    pub months: Option<u32>,
    /// Not while a record says no, until it is that old.
    pub held: Option<Held>,
    /// Not by warmth where one of these is recorded.
    pub unless: Vec<What>,
    /// Only once this is recorded with at least this count.
    pub needs: Option<(What, f64)>,
    /// On the first week (7 days) with a mean temperature below this, in °C.
    pub week_below: Option<Celsius>,
    /// Not before the next such date of the year.
    pub from: Option<MonthDay>,
    /// Comes again and again.
    pub repeat: Option<Repeat>,
}

/// A record that says "not yet" holds a window shut for a while.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Held {
    /// The record.
    pub by: What,
    /// For how much warmth after it.
    pub during: Need,
}

/// How a step comes again.
#[derive(Clone, Debug, PartialEq)]
pub enum Repeat {
    /// After certain records, by warmth.
    Warmth(Vec<Again>),
    /// Every so many days in the growing season, which ends with the first week whose mean is below the given
    /// temperature and begins with the first one at or above it after 1 March (south 1 September).
    Days(u32, Celsius),
}

/// One rule of a repeated look.
#[derive(Clone, Debug, PartialEq)]
pub struct Again {
    /// Counts from the last such record.
    pub after: What,
    /// Comes when this much warmth has passed.
    pub each: Need,
    /// Once, or again and again.
    pub once: bool,
    /// Ends with one of these records.
    pub until: Vec<What>,
    /// Ends with this much warmth since grafting.
    pub until_warmth: Option<Need>,
    /// Only where the record counted less than half of those looked at (`lines 3/10`).
    pub under_half: bool,
    /// Ends with the first week of autumn after the record whose mean is below this; none where no season ends it.
    pub season_above: Option<Celsius>,
}

/// When a window closes: the last day on which the work is in time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Closing {
    /// From where it counts.
    pub after: Anchor,
    /// By warmth.
    pub warmth: Option<Need>,
    /// By days.
    pub days: Option<u32>,
    /// By whole months.
    pub months: Option<u32>,
    /// On the next such date of the year.
    pub on: Option<MonthDay>,
    /// Not before this much warmth after such a record (tape that was eased is not late meanwhile).
    pub held: Option<Held>,
}

/// When callus lines are taken to have shown, L0: the smaller of `assumed` and the warmth at the first `seen` record,
/// but no sooner than the last `unseen` one. Unseen, the worst is assumed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reckoning {
    /// Warmth at which lines may show.
    pub assumed: Need,
    /// The record that says they show.
    pub seen: What,
    /// The record that says they do not.
    pub unseen: What,
}

/// A point not to pass.
#[derive(Clone, Debug, PartialEq)]
pub struct Limit {
    /// Short name, shown among the steps.
    pub id: String,
    /// What it is called: "over-callusing".
    pub title: String,
    /// Warmth after the reckoned callus lines at which it is reached.
    pub warmth: Need,
    /// So much sooner on strong stocks.
    pub strong_sooner: Need,
    /// The step whose opening begins the risk.
    pub from: String,
    /// The step that ends it.
    pub until: String,
    /// What to tell people who can go and look.
    pub say: String,
}

/// Between the opening of one step and the doing of another, heat hurts the union.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sensitive {
    /// The step whose opening begins it.
    pub from: String,
    /// The step whose doing ends it.
    pub until: String,
}

/// A date of the year as it is in the north; six months later in the south.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MonthDay {
    /// 1 to 12.
    pub month: u32,
    /// 1 to 31, a date that every year has.
    pub day: u32,
}

impl MonthDay {
    /// None for a date that not every year has.
    pub fn new(month: u32, day: u32) -> Option<Self> {
        NaiveDate::from_ymd_opt(2001, month, day).map(|_| Self { month, day })
    }

    /// This date in the given year and half of the globe; a day that the southern month lacks becomes its last.
    pub fn in_year(self, year: i32, hemisphere: Hemisphere) -> NaiveDate {
        let (year, month) = match hemisphere {
            Hemisphere::North => (year, self.month),
            Hemisphere::South if self.month > 6 => (year, self.month - 6),
            Hemisphere::South => (year, self.month + 6),
        };
        (self.day.min(28)..=self.day)
            .rev()
            .find_map(|day| NaiveDate::from_ymd_opt(year, month, day))
            .unwrap_or(NaiveDate::MAX)
    }

    /// The first such date on or after `day`.
    pub fn on_or_after(self, day: NaiveDate, hemisphere: Hemisphere) -> NaiveDate {
        let this_year = self.in_year(day.year(), hemisphere);
        if this_year >= day {
            this_year
        } else {
            self.in_year(day.year() + 1, hemisphere)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_of_the_year_move_six_months_in_the_south() {
        let stump = MonthDay::new(12, 31).unwrap();
        let day = |text: &str| text.parse::<NaiveDate>().unwrap();
        assert_eq!(
            stump.on_or_after(day("2027-11-01"), Hemisphere::North),
            day("2027-12-31")
        );
        assert_eq!(
            stump.on_or_after(day("2027-05-01"), Hemisphere::South),
            day("2027-06-30")
        );
        assert_eq!(
            MonthDay::new(8, 31)
                .unwrap()
                .in_year(2026, Hemisphere::South),
            day("2026-02-28")
        );
        assert_eq!(MonthDay::new(2, 29), None);
    }
}
