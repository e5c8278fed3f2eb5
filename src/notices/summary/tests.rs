//! Digests of seasons that are worked out by hand: at a constant 20 °C a day is one standard day.

use super::*;
use crate::care::tests::season::{Season as Summer, date, maple, weekdays};
use crate::notices::seasons::news_for;
use crate::units::StandardDays;
use chrono::Days;

fn maren() -> Person {
    Person::new("Maren Holt", "maren@alderfold.example")
}

/// Grafted on Wednesday 1 July 2026: day 2 is a Friday, day 5 a Monday, day 16 a Friday, day 19 a Monday.
fn summer() -> Summer {
    maple().but(|s| s.workdays = weekdays())
}

/// The digests for one person in the round on day `n`, rounds having been walked on every day but the given ones.
fn digests(
    summer: &Summer,
    person: &Person,
    n: i64,
    missed: &[i64],
    down: &[(i64, i64)],
) -> Vec<Digest> {
    let rounds: Vec<NaiveDate> = (0..n)
        .filter(|day| !missed.contains(day))
        .map(|day| summer.day(day))
        .collect();
    let at = |day| summer.day(day).and_hms_opt(6, 10, 0).unwrap();
    let down: Vec<_> = down.iter().map(|&(a, b)| (at(a), at(b))).collect();
    let diary = Diary {
        rounds: &rounds,
        down: &down,
        ..Diary::default()
    };
    let people = std::slice::from_ref(person);
    news_for(summer, n, &Ledger::default(), &[], people, diary)
        .into_iter()
        .filter_map(|notice| notice.digest)
        .collect()
}

fn look_ahead(summer: &Summer, person: &Person, n: i64) -> Option<LookAhead> {
    digests(summer, person, n, &[], &[])
        .into_iter()
        .find_map(|d| match d {
            Digest::LookAhead(digest) => Some(digest),
            _ => None,
        })
}

fn catch_up(
    summer: &Summer,
    person: &Person,
    n: i64,
    missed: &[i64],
    down: &[(i64, i64)],
) -> Option<CatchUp> {
    digests(summer, person, n, missed, down)
        .into_iter()
        .find_map(|d| match d {
            Digest::CatchUp(digest) => Some(digest),
            _ => None,
        })
}

fn weekly(summer: &Summer, person: &Person, n: i64) -> Option<Weekly> {
    digests(summer, person, n, &[], &[])
        .into_iter()
        .find_map(|d| match d {
            Digest::Weekly(digest) => Some(digest),
            _ => None,
        })
}

/// "callus-check 14", with days since grafting.
fn named(summer: &Summer, errands: &[Errand]) -> Vec<String> {
    let day = |e: &Errand| (e.on - summer.day(0)).num_days();
    errands
        .iter()
        .map(|e| format!("{} {}", e.step, day(e)))
        .collect()
}

fn opening(summer: &Summer, coming: &[Coming]) -> Vec<String> {
    let day = |c: &Coming| (c.foreseen.band.p50.unwrap() - summer.day(0)).num_days();
    coming
        .iter()
        .map(|c| format!("{} {}", c.step, day(c)))
        .collect()
}

#[test]
fn on_friday_the_weekend_is_looked_over() {
    // Friday day 16, back on Monday day 19: s 18 comes on Saturday day 18. The look, open since 14, runs to 21.
    let found = look_ahead(&summer(), &maren(), 16).unwrap();
    assert_eq!(found.back, summer().day(19));
    assert!(!found.others_work);
    assert_eq!(opening(&summer(), &found.opening), ["head-back 18"]);
    assert_eq!((found.closing.len(), found.limits.len()), (0, 0));
    // On Thursday nothing is looked ahead to.
    assert_eq!(look_ahead(&summer(), &maren(), 15), None);
}

#[test]
fn what_runs_out_and_limits_over_the_weekend_are_named() {
    // Friday day 23, back on day 26: the limit is day 24, 14 and 10; tape-off runs to 28, the look ran out on 21.
    let found = look_ahead(&summer(), &maren(), 23).unwrap();
    assert_eq!(opening(&summer(), &found.limits), ["over-callusing 24"]);
    // A strong stock three sooner, on day 21, is past and not ahead.
    let strong = summer().but(|s| s.batches[0].vigour = crate::nursery::Vigour::Strong);
    assert_eq!(look_ahead(&strong, &maren(), 23), None);
    // Grafted on a Friday: the look and the heading back close on Friday day 21, before Monday.
    let friday = Summer::new("maple field T-graft", "2026-07-03")
        .weather("120x20")
        .but(|s| s.workdays = weekdays());
    let found = look_ahead(&friday, &maren(), 21).unwrap();
    assert_eq!(
        opening(&friday, &found.closing),
        ["callus-check 21", "head-back 21"]
    );
}

#[test]
fn where_nothing_falls_due_there_is_no_look_ahead() {
    assert_eq!(look_ahead(&summer(), &maren(), 2), None);
}

#[test]
fn somebody_away_alone_is_told_what_falls_due_meanwhile() {
    // Away from Tuesday day 13 to Thursday day 22: s 14, 18 and 21 come while they are away.
    let mut person = maren();
    person.off.push((summer().day(13), summer().day(22)));
    let found = look_ahead(&summer(), &person, 12).unwrap();
    assert!(found.others_work);
    assert_eq!(found.back, summer().day(23));
    assert_eq!(
        opening(&summer(), &found.opening),
        ["callus-check 14", "head-back 18", "tape-off 21"]
    );
    // While away they are told nothing of everything; back, they catch up from their last day of work.
    assert_eq!(digests(&summer(), &person, 19, &[], &[]), Vec::new());
    assert_eq!(
        catch_up(&summer(), &person, 23, &[], &[]).unwrap().since,
        summer().day(12)
    );
}

#[test]
fn on_monday_the_weekend_is_caught_up_with() {
    let found = catch_up(&summer(), &maren(), 19, &[], &[]).unwrap();
    assert_eq!(found.since, summer().day(16));
    assert_eq!(named(&summer(), &found.opened), ["head-back 18"]);
    assert_eq!(found.late, Vec::new());
    // The look is open since Wednesday: it was told then, and is to be done today.
    assert_eq!(
        named(&summer(), &found.today),
        ["callus-check 21", "head-back 21"]
    );
    // Friday, Saturday and Sunday at 20 °C.
    let site = &found.sites[0];
    assert_eq!((site.days, site.standard_days.0), (3, 3.0));
    assert_eq!(site.hottest, Some((summer().day(16), 20.0)));
    assert_eq!((site.filled, site.unknown), (0, 0));
    // Tuesday follows a day of work.
    assert_eq!(catch_up(&summer(), &maren(), 20, &[], &[]), None);
}

#[test]
fn what_ran_out_and_limits_reached_meanwhile_are_named() {
    // Monday day 26: the limit was reached on Friday day 24.
    let found = catch_up(&summer(), &maren(), 26, &[], &[]).unwrap();
    assert_eq!(named(&summer(), &found.limits), ["over-callusing 24"]);
    assert_eq!(named(&summer(), &found.opened), ["re-graft 24"]);
    // Grafted on a Friday, the look and the heading back ran out on Friday day 21.
    let friday = Summer::new("maple field T-graft", "2026-07-03")
        .weather("120x20")
        .but(|s| s.workdays = weekdays());
    let found = catch_up(&friday, &maren(), 24, &[], &[]).unwrap();
    assert_eq!(
        named(&friday, &found.late),
        ["callus-check 21", "head-back 21"]
    );
    assert_eq!(named(&friday, &found.opened), ["tape-off 21"]);
}

#[test]
fn days_without_a_round_are_caught_up_with_too() {
    // Down from Tuesday day 13 to Thursday day 15: on Thursday the last round was on Monday.
    let found = catch_up(&summer(), &maren(), 15, &[13, 14], &[(12, 15)]).unwrap();
    assert_eq!(found.since, summer().day(12));
    assert_eq!(found.down.len(), 1);
    assert_eq!(named(&summer(), &found.opened), ["callus-check 14"]);
    // Downtime long before is not told again.
    let found = catch_up(&summer(), &maren(), 19, &[], &[(2, 4)]).unwrap();
    assert_eq!(found.down, Vec::new());
}

#[test]
fn the_first_round_of_all_has_nothing_to_catch_up_with() {
    let missed: Vec<i64> = (0..19).collect();
    assert_eq!(catch_up(&summer(), &maren(), 19, &missed, &[]), None);
}

#[test]
fn a_day_missing_over_the_weekend_is_counted() {
    // Saturday is put in between its neighbours; four days are too many.
    let one = summer().weather("17x20 1x? 40x20");
    let found = catch_up(&one, &maren(), 19, &[], &[]).unwrap();
    assert_eq!((found.sites[0].filled, found.sites[0].unknown), (1, 0));
    let four = summer().weather("15x20 4x? 40x20").without_forecast();
    let found = catch_up(&four, &maren(), 19, &[], &[]).unwrap();
    assert_eq!((found.sites[0].filled, found.sites[0].unknown), (0, 3));
    assert_eq!(found.sites[0].standard_days, StandardDays(0.0));
}

#[test]
fn the_week_is_told_on_the_first_working_day_of_it() {
    let found = weekly(&summer(), &maren(), 12).unwrap();
    assert_eq!((found.batches, found.grafts, found.late), (1, 100, 0));
    assert!(found.well && found.due.is_empty());
    // Day 12 is a Monday; by day 25 come 14, 18 and 21; re-grafting is only for what fails.
    assert_eq!(
        opening(&summer(), &found.coming),
        ["callus-check 14", "head-back 18", "tape-off 21"]
    );
    assert_eq!(found.sites[0].standard_days, StandardDays(7.0));
    assert_eq!(weekly(&summer(), &maren(), 13), None);
    let mut away = maren();
    away.off.push((summer().day(12), summer().day(13)));
    assert_eq!(weekly(&summer(), &away, 12), None);
    assert!(weekly(&summer(), &away, 14).is_some());
}

#[test]
fn nothing_is_late_by_days_that_were_mostly_put_in() {
    // Two days of three are filled in: the look that would have run out on day 21 is open on Monday day 26.
    let season = |pattern: &str| summer().weather(&pattern.repeat(40));
    let passed = |errands: &[Errand]| -> Vec<String> {
        let passed = errands.iter().filter(|e| e.on < summer().day(26));
        passed.map(|e| e.step.clone()).collect()
    };
    let rough = season("1x20 2x? ");
    let (week, since) = (
        weekly(&rough, &maren(), 26).unwrap(),
        catch_up(&rough, &maren(), 26, &[], &[]).unwrap(),
    );
    assert!(week.due.iter().any(|e| e.step == "callus-check"));
    assert!(since.today.iter().any(|e| e.step == "callus-check"));
    assert_eq!((passed(&week.due), passed(&since.today)), (vec![], vec![]));
    assert_eq!(week.late, 0);
    // A fifth is filled in: that is known well enough.
    let known = season("4x20 1x? ");
    let week = weekly(&known, &maren(), 26).unwrap();
    assert_eq!(passed(&week.due), ["callus-check", "head-back"]);
}

#[test]
fn a_week_whose_first_rounds_were_missed_is_told_with_the_next() {
    let is_told = |n: i64, missed: &[i64]| {
        let digests = digests(&summer(), &maren(), n, missed, &[]);
        digests.iter().any(|d| matches!(d, Digest::Weekly(_)))
    };
    // Day 19 is a Monday.
    assert!(is_told(20, &[19]));
    assert!(is_told(21, &[18, 19, 20]));
    assert!(!is_told(20, &[]));
    assert!(!is_told(21, &[19]));
    // Who starts the program in the middle of a week is told the next.
    let never: Vec<i64> = (0..20).collect();
    assert!(!is_told(20, &never));
}

#[test]
fn a_late_step_is_not_well() {
    let found = weekly(&summer(), &maren(), 26).unwrap();
    assert_eq!(found.late, 2);
    assert!(!found.well);
}

#[test]
fn where_no_batch_is_open_the_week_is_well_and_empty() {
    let closed = summer().records("10 closed");
    let found = weekly(&closed, &maren(), 12).unwrap();
    assert_eq!((found.batches, found.well), (0, true));
    assert_eq!(
        (found.coming, found.next, found.sites.len()),
        (Vec::new(), None, 0)
    );
}

#[test]
fn each_sees_only_their_own_blocks_and_kinds() {
    let mut other = maren();
    other.blocks = vec!["A".into()];
    assert_eq!(look_ahead(&summer(), &other, 16), None);
    assert_eq!(weekly(&summer(), &other, 12).map(|w| w.batches), Some(0));
    let mut urgent = maren();
    urgent.gets = vec![Gets::Urgent];
    assert_eq!(digests(&summer(), &urgent, 19, &[], &[]), Vec::new());
}

#[test]
fn a_digest_is_told_once() {
    let summer = summer();
    let rounds = [summer.day(16)];
    let diary = Diary {
        rounds: &rounds,
        ..Diary::default()
    };
    let people = [maren()];
    let mut ledger = Ledger::default();
    let first = news_for(&summer, 19, &ledger, &[], &people, diary);
    assert_eq!(first.iter().filter(|n| n.digest.is_some()).count(), 2);
    for notice in first {
        crate::notices::seasons::enter(&mut ledger, &notice, summer.day(19));
    }
    assert_eq!(
        news_for(&summer, 19, &ledger, &[], &people, diary),
        Vec::new()
    );
}

/// The season of the summer, with dates that were given for callus-check on the given days: (told on, p10, p50, p90).
fn told_season(summer: &Summer, n: i64, given: &[(i64, i64, i64, i64)]) -> Season {
    let ground = summer.ground(summer.day(n));
    let (cares, _) = summer.cares(&ground);
    let day = |n| Some(summer.day(n));
    let foretold: Vec<Foretold> = given
        .iter()
        .map(|&(told, p10, p50, p90)| Foretold {
            batch: "C-14".into(),
            step: "callus-check".into(),
            grafted_on: summer.day(0),
            told_on: summer.day(told),
            band: Band {
                p10: day(p10),
                p50: day(p50),
                p90: day(p90),
            },
        })
        .collect();
    season(2026, cares.iter(), Hemisphere::North, &foretold)
}

#[test]
fn dates_that_were_given_are_set_against_what_came() {
    // It opened on day 14: two of three held, the middles were 1, 0 and -3 days late; the fourth was no foresight.
    let given = [
        (5, 13, 15, 16),
        (9, 13, 14, 16),
        (3, 10, 11, 12),
        (14, 1, 2, 3),
    ];
    let held = told_season(&summer(), 30, &given).held.unwrap();
    assert_eq!((held.given, held.inside), (3, 2));
    assert!((held.later - 2.0 / 3.0).abs() < 1e-12, "{}", held.later);
    assert!((held.off - 4.0 / 3.0).abs() < 1e-12, "{}", held.off);
    assert_eq!(told_season(&summer(), 12, &given).held, None);
}

#[test]
fn shares_are_of_counted_takes_or_of_what_is_not_lost() {
    let summer = summer()
        .but(|s| {
            let mut other = s.batches[0].clone();
            (other.name, other.scion, other.grafts) = ("C-15".into(), "Ember Lace".into(), 50);
            s.batches.push(other);
        })
        .records("16 lines, 20 C-15 dead 10, 2027-05-10 take 92");
    let n = (date("2027-05-20") - summer.day(0)).num_days();
    let found = told_season(&summer, n, &[]);
    assert_eq!((found.batches, found.counted), (2, 1));
    assert_eq!((found.whole.taken, found.whole.of), (92 + 40, 150));
    let (by, scions) = &found.groups[0];
    let scions: Vec<_> = scions
        .iter()
        .map(|s| (s.name.as_str(), s.taken, s.of))
        .collect();
    assert_eq!(
        (*by, scions),
        (
            "scion",
            vec![("Osakazuki", 92, 100), ("Ember Lace", 40, 50)]
        )
    );
    // More than were grafted cannot live, whatever was written down.
    let many = summer.records("16 lines, 2027-05-10 take 250");
    let found = told_season(&many, n, &[]);
    assert_eq!((found.whole.taken, found.whole.of), (100 + 40, 150));
}

#[test]
fn grafters_scions_and_lines_are_summed_up() {
    let found = told_season(&summer().records("16 lines"), 300, &[]);
    // Nobody is named as grafter.
    assert_eq!(found.groups[2], ("grafter", Vec::new()));
    let lines = &found.to_lines[0];
    assert_eq!(
        (lines.batches, lines.days, lines.standard_days),
        (1, 16.0, Some(16.0))
    );
}

#[test]
fn a_season_is_told_in_december_and_when_the_take_is_counted() {
    let told = |summer: &Summer, day: &str, before: &[u32]| {
        let mut ledger = Ledger::default();
        let n = (date(day) - summer.day(0)).num_days();
        let about = || About::Person(maren().email);
        for &n in before {
            let notice = Notice::plain(Kind::Season, about(), "2026", n, date(day) - Days::new(1));
            crate::notices::seasons::enter(&mut ledger, &notice, date(day) - Days::new(1));
        }
        let found = news_for(summer, n, &ledger, &[], &[maren()], Diary::default());
        found
            .iter()
            .find(|n| n.kind == Kind::Season)
            .map(|n| (n.anchor.clone(), n.n))
    };
    let season = |n| Some(("2026".to_owned(), n));
    let open = summer();
    assert_eq!(told(&open, "2026-11-30", &[]), None);
    assert_eq!(told(&open, "2026-12-01", &[]), season(1));
    assert_eq!(told(&open, "2026-12-02", &[1]), None);
    let counted = summer().records("2027-05-10 take 92");
    assert_eq!(told(&counted, "2027-05-11", &[1]), season(2));
    assert_eq!(told(&counted, "2027-05-12", &[1, 2]), None);
    assert_eq!(told(&open, "2027-06-30", &[1]), None);
    assert_eq!(told(&open, "2027-07-01", &[1]), season(2));
}

#[test]
fn where_no_forecast_reaches_the_limit_the_outlook_tells_about_when() {
    // Known to the end of day 19, with no forecast: the limit, 24 standard days, comes at 20 °C on day 24.
    let summer = summer().without_forecast().but(|s| {
        let off = (s.day(21), s.day(30));
        s.workdays = s.workdays.and_off(&[off]);
    });
    let found = look_ahead(&summer, &maren(), 20).unwrap();
    assert_eq!(opening(&summer, &found.limits), ["over-callusing 24"]);
    assert_eq!(
        opening(&summer, &found.closing),
        ["callus-check 21", "head-back 21"]
    );
}
