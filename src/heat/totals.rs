//! Running totals of heat over a run of days: a batch's heat is the difference of two of them, the day on which an
//! amount is reached is found among them (`sums`).
//!
//! Built anew from the days each time, never added to in place, so that a corrected day cannot count twice. Shared by
//! every batch of a site and model. A day that is unknown is never 0 heat: sums over it are unknown, or say "at least".
//! Knows nothing of batches, windows or where a day came from beyond [`Trust`].

use super::curve::Extremes;
use super::method::of_day;
use super::sums::Sums;
use crate::nursery::Model;
use crate::units::DegreeDays;
use chrono::{Datelike, Days, NaiveDate};

/// How far a day's temperatures are to be relied on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trust {
    /// Measured, or modelled for a day that has passed.
    Known,
    /// Put in between its neighbours or from elsewhere.
    Filled,
    /// Foretold.
    Forecast,
}

/// A day's temperatures in °C as they are used: finite, `min` not above `max`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Warm {
    /// The minimum.
    pub min: f64,
    /// The maximum.
    pub max: f64,
    /// How far they are to be relied on.
    pub trust: Trust,
}

/// The running totals of one site and model.
///
/// Heat from an anchor day counts whole days *after* it, up to the end of another.
///
/// ```
/// use graftwarden::heat::{Totals, Trust, Warm};
/// use graftwarden::nursery::{Cutoff, Method, Model};
/// use graftwarden::units::DegreeDays;
/// // Days of 12 to 28 °C have a mean of 20, 15 above a base of 5: fourteen of them make 210 °C·d.
/// let model = Model::new(Method::SingleSine, Cutoff::Horizontal, 5.0, None, Some(30.0)).unwrap();
/// let day = Some(Warm { min: 12.0, max: 28.0, trust: Trust::Known });
/// let grafted = "2026-07-20".parse().unwrap();
/// let totals = Totals::new(&model, grafted, &[day; 30]);
/// let reached = totals.reached(grafted, DegreeDays(210.0)).unwrap();
/// assert_eq!(reached.to_string(), "2026-08-03");
/// assert_eq!(totals.since(grafted, reached), Some(DegreeDays(210.0)));
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Totals {
    first: NaiveDate,
    /// Heat of the first 0, 1, 2, ... days, unknown ones left out.
    sums: Sums,
    /// The few days that are not simply known, in order of date: most runs have hardly any.
    odd: Box<[Odd]>,
}

/// A day that is unknown, filled or foretold, with the running counts up to and including it.
#[derive(Clone, Debug, PartialEq)]
struct Odd {
    index: usize,
    trust: Option<Trust>,
    unknown: u32,
    filled: f64,
}

/// A sum that falls short of a need by this share of it has reached it: sums of many days are not exact.
const SLACK: f64 = 1e-9;

impl Totals {
    /// The totals over a run of days, `days[i]` being `first + i`; `None` is a day that is unknown.
    ///
    /// The double methods use the next day's minimum; where that is unknown, and on the last day, the single curve.
    pub fn new(model: &Model, first: NaiveDate, days: &[Option<Warm>]) -> Self {
        let mut sums = Vec::with_capacity(days.len() + 1);
        let mut odd = Vec::new();
        let (mut sum, mut unknown, mut filled) = (0.0, 0, 0.0);
        sums.push(sum);
        for (index, day) in days.iter().enumerate() {
            let next_min = days.get(index + 1).copied().flatten().map(|next| next.min);
            let heat = day.map_or(0.0, |Warm { min, max, .. }| {
                of_day(model, Extremes { min, max }, next_min)
            });
            sum += heat;
            sums.push(sum);
            let trust = day.map(|day| day.trust);
            match trust {
                Some(Trust::Known) => continue,
                Some(Trust::Filled) => filled += heat,
                Some(Trust::Forecast) => {}
                None => unknown += 1,
            }
            odd.push(Odd {
                index,
                trust,
                unknown,
                filled,
            });
        }
        Self {
            first,
            sums: Sums::new(sums),
            odd: odd.into(),
        }
    }

    /// The totals over days whose heat is already reckoned, all of them relied on.
    pub fn of_heat(first: NaiveDate, heat: impl IntoIterator<Item = DegreeDays>) -> Self {
        let mut sums = vec![0.0];
        let mut sum = 0.0;
        for day in heat {
            sum += day.0;
            sums.push(sum);
        }
        Self {
            first,
            sums: Sums::new(sums),
            odd: Box::default(),
        }
    }

    /// The heat of the days after `anchor` up to and including `upto`; none at all where `upto` is not after `anchor`.
    /// Unknown where any of those days is unknown or lies outside the run.
    pub fn since(&self, anchor: NaiveDate, upto: NaiveDate) -> Option<DegreeDays> {
        (self.unknown(anchor, upto) == 0).then(|| self.at_least(anchor, upto))
    }

    /// The same with the unknown days left out: the heat is at least this.
    pub fn at_least(&self, anchor: NaiveDate, upto: NaiveDate) -> DegreeDays {
        let (from, to) = self.span(anchor, upto);
        DegreeDays(self.sums.at(to) - self.sums.at(from))
    }

    /// How many of those days are unknown or lie outside the run.
    pub fn unknown(&self, anchor: NaiveDate, upto: NaiveDate) -> u32 {
        let asked = (upto - anchor).num_days().max(0) as u32;
        let (from, to) = self.span(anchor, upto);
        let unknown_inside = self.unknown_and_filled(to).0 - self.unknown_and_filled(from).0;
        asked - ((to - from) as u32 - unknown_inside)
    }

    /// Which share of [`Totals::at_least`], 0 to 1, comes from filled days; 0 where there is no heat.
    pub fn filled_share(&self, anchor: NaiveDate, upto: NaiveDate) -> f64 {
        let (from, to) = self.span(anchor, upto);
        let heat = self.sums.at(to) - self.sums.at(from);
        let filled = self.unknown_and_filled(to).1 - self.unknown_and_filled(from).1;
        if heat <= 0.0 {
            return 0.0;
        }
        (filled / heat).clamp(0.0, 1.0)
    }

    /// The first day after `anchor` at whose end [`Totals::at_least`] has reached `need`; `anchor` itself where nothing
    /// is needed, `None` where the run ends first.
    ///
    /// Days foretold count like any other: ask [`Totals::trust_of`] whether the day has been. Where
    /// [`Totals::unknown`] is not 0 up to that day, it may in truth have come sooner.
    pub fn reached(&self, anchor: NaiveDate, need: DegreeDays) -> Option<NaiveDate> {
        if need.0 <= 0.0 {
            return Some(anchor);
        }
        let passed = self.passed(anchor);
        let from = self.inside(passed);
        let enough = self.sums.at(from) + need.0 * (1.0 - SLACK);
        // More than nothing takes a day, also where so little does not show in a sum.
        let days = self.sums.reaching(enough).max(from + 1);
        if days >= self.sums.len() {
            return None;
        }
        // From the anchor rather than the first day: within one year a date is found much sooner.
        anchor.checked_add_days(Days::new((days as i64 - passed) as u64))
    }

    /// The last day of the run; `None` where it has no days.
    pub fn last(&self) -> Option<NaiveDate> {
        self.day(self.len().checked_sub(1)?)
    }

    /// How far that day is to be relied on; `None` where it is unknown or outside the run.
    pub fn trust_of(&self, day: NaiveDate) -> Option<Trust> {
        let index = usize::try_from((day - self.first).num_days()).ok()?;
        if index >= self.len() {
            return None;
        }
        let odd = self.odd.binary_search_by_key(&index, |odd| odd.index);
        odd.map_or(Some(Trust::Known), |found| self.odd[found].trust)
    }

    fn len(&self) -> usize {
        self.sums.len() - 1
    }

    fn day(&self, index: usize) -> Option<NaiveDate> {
        self.first.checked_add_days(Days::new(index as u64))
    }

    /// How many days of the run have passed at the end of `anchor` and of `upto`, the second not below the first.
    fn span(&self, anchor: NaiveDate, upto: NaiveDate) -> (usize, usize) {
        let from = self.days_through(anchor);
        (from, self.days_through(upto).max(from))
    }

    fn days_through(&self, day: NaiveDate) -> usize {
        self.inside(self.passed(day))
    }

    /// How many days have passed at its end since the run began; not above 0 before it.
    fn passed(&self, day: NaiveDate) -> i64 {
        i64::from(day.num_days_from_ce() - self.first.num_days_from_ce()) + 1
    }

    fn inside(&self, passed: i64) -> usize {
        usize::try_from(passed).unwrap_or(0).min(self.len())
    }

    /// How many of so many first days are unknown, and the heat of the filled ones.
    fn unknown_and_filled(&self, days: usize) -> (u32, f64) {
        let before = self.odd.partition_point(|odd| odd.index < days);
        let last = self.odd[..before].last();
        last.map_or((0, 0.0), |odd| (odd.unknown, odd.filled))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::nursery::{Cutoff, Method};

    fn date(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    fn model(method: Method) -> Model {
        let optimum = method.is_response().then_some(24.0);
        Model::new(method, Cutoff::None, 5.0, optimum, Some(30.0)).unwrap()
    }

    fn warm(min: f64, max: f64, trust: Trust) -> Warm {
        Warm { min, max, trust }
    }

    /// From 1 July 2026: known, known, unknown, filled, known, forecast; each known one of 15 °C·d.
    fn week() -> Totals {
        let [known, filled, forecast] = [Trust::Known, Trust::Filled, Trust::Forecast]
            .map(|trust| Some(warm(12.0, 28.0, trust)));
        let days = [known, known, None, filled, known, forecast];
        Totals::new(&model(Method::SingleSine), date("2026-07-01"), &days)
    }

    #[track_caller]
    fn check(anchor: &str, upto: &str, heat: Option<f64>, at_least: f64, unknown: u32) {
        let (totals, anchor, upto) = (week(), date(anchor), date(upto));
        assert_eq!(totals.since(anchor, upto), heat.map(DegreeDays));
        assert_eq!(totals.at_least(anchor, upto), DegreeDays(at_least));
        assert_eq!(totals.unknown(anchor, upto), unknown);
    }

    #[test]
    fn the_anchor_day_itself_does_not_count() {
        check("2026-07-01", "2026-07-02", Some(15.0), 15.0, 0);
        check("2026-06-30", "2026-07-02", Some(30.0), 30.0, 0);
    }

    #[test]
    fn nothing_has_passed_at_the_end_of_the_anchor_day_or_before() {
        check("2026-07-03", "2026-07-03", Some(0.0), 0.0, 0);
        check("2026-07-04", "2026-07-01", Some(0.0), 0.0, 0);
        check("2030-01-01", "2020-01-01", Some(0.0), 0.0, 0);
    }

    #[test]
    fn an_unknown_day_is_not_a_day_without_heat() {
        check("2026-07-01", "2026-07-04", None, 30.0, 1);
        check("2026-07-02", "2026-07-03", None, 0.0, 1);
        check("2026-07-03", "2026-07-06", Some(45.0), 45.0, 0);
    }

    #[test]
    fn days_outside_the_run_are_unknown() {
        check("2026-06-28", "2026-07-01", None, 15.0, 2);
        check("2026-07-05", "2026-07-08", None, 15.0, 2);
        check("2026-05-01", "2026-05-31", None, 0.0, 30);
        check("2026-08-01", "2026-08-11", None, 0.0, 10);
        check("2026-06-28", "2026-07-08", None, 75.0, 5);
    }

    #[track_caller]
    fn check_share(anchor: &str, upto: &str, expected: f64) {
        let found = week().filled_share(date(anchor), date(upto));
        assert!((found - expected).abs() < 1e-12, "{found}");
    }

    #[test]
    fn a_share_of_the_heat_is_filled() {
        check_share("2026-06-30", "2026-07-06", 0.2);
        check_share("2026-07-03", "2026-07-04", 1.0);
        check_share("2026-07-04", "2026-07-06", 0.0);
        check_share("2026-07-02", "2026-07-03", 0.0);
    }

    #[test]
    fn every_day_says_how_far_it_is_to_be_relied_on() {
        let trust = |day| week().trust_of(date(day));
        assert_eq!(trust("2026-06-30"), None);
        assert_eq!(trust("2026-07-01"), Some(Trust::Known));
        assert_eq!(trust("2026-07-03"), None);
        assert_eq!(trust("2026-07-04"), Some(Trust::Filled));
        assert_eq!(trust("2026-07-06"), Some(Trust::Forecast));
        assert_eq!(trust("2026-07-07"), None);
        assert_eq!(week().last(), Some(date("2026-07-06")));
    }

    #[track_caller]
    fn check_reached(anchor: &str, need: f64, expected: Option<&str>) {
        let found = week().reached(date(anchor), DegreeDays(need));
        assert_eq!(found, expected.map(date));
    }

    #[test]
    fn an_amount_is_reached_at_the_end_of_a_day() {
        check_reached("2026-06-30", 15.0, Some("2026-07-01"));
        check_reached("2026-06-30", 15.1, Some("2026-07-02"));
        check_reached("2026-07-01", 15.1, Some("2026-07-04"));
        check_reached("2026-06-30", 75.0, Some("2026-07-06"));
        check_reached("2026-06-30", 75.1, None);
    }

    #[test]
    fn an_anchor_outside_the_run_counts_from_its_edge() {
        check_reached("2026-01-01", 15.0, Some("2026-07-01"));
        check_reached("2026-07-06", 0.1, None);
        check_reached("2027-01-01", 0.1, None);
    }

    #[test]
    fn nothing_needed_is_reached_at_once() {
        check_reached("2026-07-02", 0.0, Some("2026-07-02"));
        check_reached("2027-07-02", -1.0, Some("2027-07-02"));
    }

    #[test]
    fn rounding_does_not_cost_a_day() {
        // 0.1 ten times over is a little less than 1 in binary.
        let day = Some(warm(5.1, 5.1, Trust::Known));
        let totals = Totals::new(&model(Method::Average), date("2026-07-01"), &[day; 20]);
        let reached = totals.reached(date("2026-06-30"), DegreeDays(1.0));
        assert_eq!(reached, Some(date("2026-07-10")));
    }

    #[test]
    fn heat_that_is_reckoned_already_adds_up_the_same() {
        let day = Some(warm(12.0, 28.0, Trust::Known));
        let first = date("2026-07-01");
        let totals = Totals::of_heat(first, [DegreeDays(15.0); 3]);
        let model = model(Method::SingleSine);
        assert_eq!(totals, Totals::new(&model, first, &[day; 3]));
    }

    #[test]
    fn a_run_without_days_knows_nothing() {
        let totals = Totals::new(&model(Method::Average), date("2026-07-01"), &[]);
        let anchor = date("2026-06-30");
        assert_eq!(totals.unknown(anchor, date("2026-07-02")), 2);
        assert_eq!(totals.reached(anchor, DegreeDays(1.0)), None);
        assert_eq!(totals.last(), None);
        assert_eq!(totals.trust_of(date("2026-07-01")), None);
    }

    #[test]
    fn a_double_curve_looks_at_the_next_day_where_it_is_known() {
        let day = |min, max| Some(warm(min, max, Trust::Known));
        let days = [day(2.0, 20.0), day(8.0, 20.0), None, day(2.0, 20.0)];
        let totals = Totals::new(&model(Method::DoubleTriangle), date("2026-07-01"), &days);
        let heat = |anchor, upto| totals.since(date(anchor), date(upto));
        // (225/36 + 9) / 2; then 9 alone before the gap, and 225/36 alone at the end.
        assert_eq!(heat("2026-06-30", "2026-07-01"), Some(DegreeDays(7.625)));
        assert_eq!(heat("2026-07-01", "2026-07-02"), Some(DegreeDays(9.0)));
        assert_eq!(heat("2026-07-03", "2026-07-04"), Some(DegreeDays(6.25)));
    }
}
