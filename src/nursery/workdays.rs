//! Working days and days off.

use chrono::{Datelike, Days, NaiveDate, Weekday};

/// On which days somebody is in the field.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Workdays {
    week: [bool; 7],
    off: Vec<(NaiveDate, NaiveDate)>,
}

impl Workdays {
    /// The given days of the week, less the given spans (both ends included).
    pub fn new(week: &[Weekday], off: Vec<(NaiveDate, NaiveDate)>) -> Self {
        let mut days = [false; 7];
        for day in week {
            days[day.num_days_from_monday() as usize] = true;
        }
        Self { week: days, off }
    }

    /// Whether somebody works on that day.
    pub fn works(&self, day: NaiveDate) -> bool {
        self.week[day.weekday().num_days_from_monday() as usize]
            && !self
                .off
                .iter()
                .any(|&(from, to)| (from..=to).contains(&day))
    }

    /// The last working day from `from` to `to`, both included; none also where `to` lies before `from`.
    pub fn last_within(&self, from: NaiveDate, to: NaiveDate) -> Option<NaiveDate> {
        let mut day = to;
        while day >= from {
            if self.works(day) {
                return Some(day);
            }
            day = day.checked_sub_days(Days::new(1))?;
        }
        None
    }

    /// How many working days there are from `from` to `to`, both included.
    pub fn count(&self, from: NaiveDate, to: NaiveDate) -> u32 {
        let days = from.iter_days().take_while(|day| *day <= to);
        days.filter(|day| self.works(*day)).count() as u32
    }

    /// The first working day from `day` on; none where none comes within two years.
    pub fn first_from(&self, day: NaiveDate) -> Option<NaiveDate> {
        day.iter_days().take(LOOKED_AT).find(|&day| self.works(day))
    }

    /// The first working day after `day`; none where none comes within two years.
    pub fn next_after(&self, day: NaiveDate) -> Option<NaiveDate> {
        self.first_from(day.succ_opt()?)
    }

    /// The last working day before `day`; none where there was none within two years.
    pub fn last_before(&self, day: NaiveDate) -> Option<NaiveDate> {
        let from = day.checked_sub_days(Days::new(LOOKED_AT as u64))?;
        self.last_within(from, day.pred_opt()?)
    }

    /// The same with further spans off, as for a person who is away.
    #[must_use]
    pub fn and_off(&self, spans: &[(NaiveDate, NaiveDate)]) -> Self {
        let mut days = self.clone();
        days.off.extend_from_slice(spans);
        days
    }
}

/// Nobody is away for longer than two years.
const LOOKED_AT: usize = 731;

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    #[test]
    fn a_span_off_and_a_weekend_leave_the_last_working_day_before_them() {
        use Weekday::{Fri, Mon, Thu, Tue, Wed};
        let days = Workdays::new(
            &[Mon, Tue, Wed, Thu, Fri],
            vec![(day("2026-08-31"), day("2026-08-31"))],
        );
        // 29 and 30 August 2026 are a Saturday and a Sunday.
        assert_eq!(
            days.last_within(day("2026-08-24"), day("2026-08-31")),
            Some(day("2026-08-28"))
        );
        assert_eq!(days.last_within(day("2026-08-29"), day("2026-08-31")), None);
        assert_eq!(days.last_within(day("2026-09-02"), day("2026-09-01")), None);
        assert_eq!(days.next_after(day("2026-08-28")), Some(day("2026-09-01")));
        assert_eq!(days.first_from(day("2026-08-28")), Some(day("2026-08-28")));
        assert_eq!(days.last_before(day("2026-09-01")), Some(day("2026-08-28")));
        let away = days.and_off(&[(day("2026-08-27"), day("2026-08-28"))]);
        assert_eq!(away.last_before(day("2026-09-01")), Some(day("2026-08-26")));
    }

    #[test]
    fn a_week_without_working_days_never_comes_to_one() {
        let days = Workdays::new(&[], Vec::new());
        assert_eq!(days.next_after(day("2026-08-28")), None);
        assert_eq!(days.last_before(day("2026-08-28")), None);
    }
}
