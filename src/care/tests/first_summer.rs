//! The first weeks of a maple batch: looking, heading back, tape off, grafting anew. At 20 °C day n has n standard days.

use super::season::{Season, maple, weekdays};
use super::{check, check_limit};
use crate::nursery::Vigour;
use crate::units::DegreeDays;

#[test]
fn the_callus_check_opens_at_the_end_of_day_14() {
    check(&maple(), 14, "callus-check", "ahead 14..21");
    check(&maple(), 15, "callus-check", "open 14..21 heat");
    check(&maple(), 22, "callus-check", "late 14..21 heat");
}

#[test]
fn without_a_forecast_what_lies_ahead_has_no_date() {
    let season = maple().without_forecast();
    check(&season, 14, "callus-check", "ahead -..-");
    check(&season, 15, "callus-check", "open 14..- heat");
}

#[test]
fn in_a_heat_wave_nobody_looks_before_day_8() {
    // 35 °C counts as 30: 25 °C·d a day. 14 x 12 = 168 are reached on day 7, 21 x 12 = 252 on day 11.
    let season = maple()
        .weather("40x35")
        .but(|s| s.site.standard_day = Some(DegreeDays(12.0)));
    check(&season, 8, "callus-check", "ahead 8..11");
    check(&season, 9, "callus-check", "open 8..11 heat");
}

#[test]
fn in_the_cold_the_calendar_opens_on_day_35() {
    // 8 °C is 3 °C·d a day: 210 on day 70, 315 on day 105.
    let season = maple().weather("120x8");
    check(&season, 35, "callus-check", "ahead -..105");
    check(&season, 36, "callus-check", "open 35..105 calendar");
    check(&season, 36, "tape-off", "open 35..- calendar");
}

#[test]
fn a_site_may_say_what_its_usual_day_gives() {
    // 14 x 12 = 168 at 15 a day: day 12. 21 x 12 = 252: day 17.
    let season = maple().but(|s| s.site.standard_day = Some(DegreeDays(12.0)));
    check(&season, 13, "callus-check", "open 12..17 heat");
}

#[test]
fn no_lines_and_nothing_to_report_answer_the_check_only_once_it_is_open() {
    check(
        &maple().records("13 no-lines"),
        15,
        "callus-check",
        "open 14..21 heat",
    );
    check(
        &maple().records("13 looked"),
        15,
        "callus-check",
        "open 14..21 heat",
    );
    check(
        &maple().records("14 no-lines"),
        15,
        "callus-check",
        "done 14",
    );
    check(&maple().records("10 lines"), 10, "callus-check", "done 10");
}

#[test]
fn whoever_saw_callus_run_on_has_looked_for_lines() {
    let season = maple().records("17 over-callused");
    check(&season, 17, "callus-check", "done 17");
    check(&season, 19, "head-back", "open 18..21 heat");
}

#[test]
fn lines_open_the_heading_back_at_once() {
    let season = maple().records("12 lines");
    check(&season, 11, "head-back", "ahead 18..21");
    check(&season, 12, "head-back", "open 12..19 record");
    check_limit(&season, 12, "ahead 22 running");
}

#[test]
fn unseen_the_worst_is_assumed_and_heading_back_opens_on_day_18() {
    check(&maple(), 18, "head-back", "ahead 18..21");
    check(&maple(), 19, "head-back", "open 18..21 heat");
    check_limit(&maple(), 15, "ahead 24 running");
    check_limit(&maple(), 24, "ahead 24 running");
    check_limit(&maple(), 25, "late 24 running");
}

#[test]
fn lines_seen_late_do_not_move_the_limit_out() {
    let season = maple().records("17 lines");
    check(&season, 17, "head-back", "open 17..21 record");
    check_limit(&season, 17, "ahead 24 running");
}

#[test]
fn no_lines_hold_the_heading_back_for_three_days_and_move_the_limit() {
    let season = maple().records("16 no-lines");
    check(&season, 17, "head-back", "ahead 19..23");
    check(&season, 20, "head-back", "open 19..23 heat");
    check_limit(&season, 17, "ahead 26 running");
    check(
        &maple().records("12 no-lines"),
        19,
        "head-back",
        "open 18..21 heat",
    );
    check(
        &maple().records("19 no-lines"),
        20,
        "head-back",
        "ahead 22..26",
    );
}

#[test]
fn after_no_lines_the_earlier_of_lines_and_warmth_opens() {
    check(
        &maple().records("16 no-lines, 20 lines"),
        21,
        "head-back",
        "open 19..23 heat",
    );
    check(
        &maple().records("16 no-lines, 18 no-lines, 19 lines"),
        19,
        "head-back",
        "open 19..25 record",
    );
    check(
        &maple().records("15 lines, 17 no-lines"),
        18,
        "head-back",
        "open 15..24 record",
    );
}

#[test]
fn a_strong_stock_reaches_the_limit_three_days_sooner() {
    let season = |vigour| maple().but(|s| s.batches[0].vigour = vigour);
    check_limit(&season(Vigour::Strong), 15, "ahead 21 running");
    check_limit(&season(Vigour::Weak), 15, "ahead 24 running");
}

#[test]
fn the_risk_runs_from_the_opening_of_the_check_until_all_are_headed_back() {
    check_limit(&maple(), 14, "ahead 24");
    check_limit(
        &maple().records("15 lines, 16 headed-back 40"),
        17,
        "ahead 24 running",
    );
    check_limit(&maple().records("15 lines, 16 headed-back"), 17, "done 24");
    check_limit(&maple().records("22 tape-off"), 23, "passed-over 24");
}

#[test]
fn the_tape_does_not_wait_for_the_heading_back() {
    check(&maple(), 21, "tape-off", "ahead 21..28");
    check(&maple(), 22, "tape-off", "open 21..28 heat");
    check(&maple(), 29, "tape-off", "late 21..28 heat");
}

#[test]
fn tape_that_was_eased_is_not_late_for_five_days() {
    check(
        &maple().records("25 tape-eased"),
        26,
        "tape-off",
        "open 21..30 heat",
    );
    check(
        &maple().records("20 tape-eased"),
        26,
        "tape-off",
        "open 21..28 heat",
    );
    check(
        &maple().records("25 tape-eased"),
        31,
        "tape-off",
        "late 21..30 heat",
    );
}

#[test]
fn a_later_step_passes_over_the_earlier_ones_but_not_those_aside() {
    let season = maple().records("22 tape-off");
    check(&season, 25, "callus-check", "passed-over 14..21");
    check(&season, 25, "head-back", "passed-over 18..21");
    check(&season, 25, "tape-off", "done 22");
    let season = maple().records("12 dead 5, 22 tape-off");
    check(&season, 25, "re-graft", "open 12..- record");
    let season = maple().records("12 dead 5, 13 regrafted 5");
    check(&season, 15, "re-graft", "done 13");
    check(&season, 15, "callus-check", "open 14..21 heat");
}

#[test]
fn grafting_anew_opens_without_lines_on_day_24_or_by_the_dead() {
    check(&maple(), 24, "re-graft", "ahead 24..-");
    check(&maple(), 25, "re-graft", "open 24..- heat");
    check(&maple().records("20 lines"), 25, "re-graft", "ahead -..-");
    check(
        &maple().records("20 headed-back"),
        25,
        "re-graft",
        "ahead -..-",
    );
    check(
        &maple().records("12 dead 5"),
        12,
        "re-graft",
        "open 12..- record",
    );
    check(
        &maple().records("15 lines, 30 dead 5"),
        30,
        "re-graft",
        "open 30..- record",
    );
}

#[test]
fn open_becomes_closing_when_no_working_day_is_left() {
    // Grafted on a Sunday: day 21 is a Sunday, day 19 the Friday before.
    let season = Season::new("maple field T-graft", "2026-07-05").weather("40x20");
    let season = season.but(|s| s.workdays = weekdays());
    check(&season, 18, "callus-check", "open 14..21 heat");
    check(&season, 19, "callus-check", "closing 14..21 heat");
    check(&season, 21, "callus-check", "closing 14..21 heat");
    check(&season, 22, "callus-check", "late 14..21 heat");
}

#[test]
fn a_window_of_every_day_closes_on_its_last() {
    check(&maple(), 20, "callus-check", "open 14..21 heat");
    check(&maple(), 21, "callus-check", "closing 14..21 heat");
}

/// Common practice: the trade's days are days of 20 °C. The rest is arithmetic: 15 °C·d are a standard day, and a day of
/// 15 °C has 10 °C·d above the base of 5, one of 25 °C has 20.
#[test]
fn at_other_temperatures_the_trades_days_are_others() {
    let check = |mean: u32, n, look: &str, tape: &str| {
        let season = maple().weather(&format!("120x{mean}"));
        assert_eq!(season.step(n, "callus-check"), look, "at {mean} °C");
        assert_eq!(season.step(n, "tape-off"), tape, "at {mean} °C");
    };
    check(20, 1, "ahead 14..21", "ahead 21..28");
    // 210 / 10 = 21, 315 / 10 = 31.5, 420 / 10 = 42.
    check(15, 1, "ahead 21..32", "ahead 32..42");
    // 210 / 20 = 10.5, 315 / 20 = 15.75, 420 / 20 = 21.
    check(25, 1, "ahead 11..16", "ahead 16..21");
}
