//! Whole letters, each as a person reads it: subject, a blank line, text.

mod answers;
mod away;
mod calendar;
mod crowd;
mod foreseen;
mod heat;
mod in_heat;
mod last_graft;
mod later;
mod looks;
mod one_look;
mod page;
mod people;
mod reminder;
mod risk;
mod trouble;
mod weather;
mod weekly;
mod withdrawn;
mod work;
mod written;

use super::{ByName, Context, Letter, ReplyTo, compose};
use crate::care::Outlook;
use crate::care::tests::season::Season;
use crate::days::PastYears;
use crate::notices::seasons::{enter, news};
use crate::notices::{Kind, Ledger, Notice};
use crate::nursery::Batch;
use crate::units::Units;

/// What a letter is written of.
pub(crate) struct Morning<'a> {
    /// One for each site.
    pub seasons: &'a [Season],
    /// The day of the round, counted from the first season's day 0.
    pub n: i64,
    pub units: Units,
}

impl Morning<'_> {
    /// The letter that carries these notices, as text; its page is looked over.
    fn write(&self, notices: &[Notice]) -> String {
        self.look_at(notices, None, |letter, context| {
            let text = letter.text(context);
            for line in text.lines() {
                assert!(line.chars().count() <= 66, "too long: {line}");
                assert!(line == "-- " || line == line.trim_end(), "{line:?}");
            }
            page::says_the_same(&text, &letter.html(context, usize::MAX));
            format!("{}\n\n{text}", letter.subject)
        })
    }

    /// What is found in the letter that carries these notices and is answered at that address.
    fn look_at<T>(
        &self,
        notices: &[Notice],
        reply_to: Option<&str>,
        found: impl FnOnce(&mut Letter, &Context<'_>) -> T,
    ) -> T {
        self.with(|context| {
            let reply_to = reply_to.map(|address| ReplyTo {
                address: address.to_owned(),
                mark: None,
            });
            let context = Context {
                reply_to: reply_to.as_ref(),
                ..*context
            };
            let mut letter = compose(&notices.iter().collect::<Vec<_>>(), &context).unwrap();
            found(&mut letter, &context)
        })
    }

    /// What is seen with everything a letter knows.
    pub fn with<T>(&self, look: impl FnOnce(&Context<'_>) -> T) -> T {
        let today = self.seasons[0].day(self.n);
        let grounds: Vec<_> = self.seasons.iter().map(|s| s.ground(today)).collect();
        let seasons = self.seasons.iter().zip(&grounds);
        let mut cares: Vec<_> = seasons
            .flat_map(|(season, ground)| season.cares(ground).0)
            .collect();
        cares.sort_by(|a, b| a.batch.site.cmp(&b.batch.site));
        let past: Vec<PastYears> = self.seasons.iter().map(|s| s.past.clone()).collect();
        let outlook = Outlook::new(&grounds, &past, &cares);
        look(&Context {
            nursery: "Alder Fold Nursery",
            today,
            units: self.units,
            workdays: &self.seasons[0].workdays,
            grounds: &grounds,
            cares: &cares,
            named: &ByName::new(&cares),
            outlook: &outlook,
            records: &self.seasons[0].records,
            sources: &[],
            reply_to: None,
            put_back: None,
        })
    }
}

/// What is seen on day `n` of one season with everything a letter knows.
pub(crate) fn seen_by<T>(season: &Season, n: i64, look: impl FnOnce(&Context<'_>) -> T) -> T {
    let seasons = std::slice::from_ref(season);
    let units = Units::Metric;
    Morning { seasons, n, units }.with(look)
}

/// The news of one kind in the round on day `n`, after rounds on the days `told`.
pub(super) fn of_kind(
    season: &Season,
    told: std::ops::Range<i64>,
    n: i64,
    kind: Kind,
) -> Vec<Notice> {
    let mut ledger = Ledger::default();
    for day in told {
        for notice in news(season, day, &ledger, &[]) {
            enter(&mut ledger, &notice, season.day(day));
        }
    }
    let mut found = news(season, n, &ledger, &[]);
    found.retain(|notice| notice.kind == kind);
    found
}

/// The letter of one kind of news on day `n`, the rounds of the days before having been.
fn letter(season: &Season, n: i64, kind: Kind) -> String {
    let notices = of_kind(season, 1..n, n, kind);
    let seasons = std::slice::from_ref(season);
    Morning {
        seasons,
        n,
        units: Units::Metric,
    }
    .write(&notices)
}

/// The letter of one kind of news on day `n` of a season, the rounds before having been in another, which is how it was
/// foretold.
fn letter_after(foretold: &Season, season: &Season, n: i64, kind: Kind) -> String {
    let mut ledger = Ledger::default();
    for day in 1..n {
        for notice in news(foretold, day, &ledger, &[]) {
            enter(&mut ledger, &notice, foretold.day(day));
        }
    }
    let mut notices = news(season, n, &ledger, &[]);
    notices.retain(|notice| notice.kind == kind);
    let seasons = std::slice::from_ref(season);
    let units = Units::Metric;
    Morning { seasons, n, units }.write(&notices)
}

/// Three years before of that temperature, from June to October.
fn past(temperature: f64) -> PastYears {
    let mut past = PastYears::default();
    for year in 2023..=2025 {
        let first = chrono::NaiveDate::from_ymd_opt(year, 6, 1).unwrap();
        for day in first.iter_days().take(150) {
            past.add(year, day, temperature, temperature);
        }
    }
    past
}

/// One batch more, like the first.
pub(super) fn another(season: &mut Season, name: &str, change: impl FnOnce(&mut Batch)) {
    let mut batch = season.batches[0].clone();
    batch.name = name.into();
    change(&mut batch);
    season.batches.push(batch);
}
