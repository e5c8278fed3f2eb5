//! One opening of each built-in plan, and more of the maple's, worked by hand and looked at through the whole of care.
//! Every day has one temperature, so that its heat is that temperature above the base, at most up to the upper one.

use super::season::{Season, date};
use super::{check, check_on};

#[test]
fn maple_trade_days_at_a_mean_of_20() {
    // Common practice: look on days 14-21, tape off on days 21-28 of mild summer weather.
    let season = Season::new("maple field T-graft", "2026-07-20").weather("40x20");
    check(&season, 15, "callus-check", "open 14..21 heat");
    check(&season, 22, "tape-off", "open 21..28 heat");
    check_on(
        &season,
        "2026-08-04",
        "callus-check",
        "open 2026-08-03..2026-08-10 heat",
    );
}

#[test]
fn maple_in_a_cool_summer() {
    // Standard day 20 - 5 = 15, need 14 x 15 = 210. At 17 °C 12 a day: 210 / 12 = 17.5, the end of day 18; 315 / 12 =
    // 26.25, the end of day 27. 10 July + 18 = 28 July, + 27 = 6 August.
    let season = Season::new("maple field T-graft", "2026-07-10").weather("40x17");
    check_on(
        &season,
        "2026-07-28",
        "callus-check",
        "ahead 2026-07-28..2026-08-06",
    );
    check_on(
        &season,
        "2026-07-29",
        "callus-check",
        "open 2026-07-28..2026-08-06 heat",
    );
}

#[test]
fn side_veneer_under_glass() {
    // Standard day 18 - 5 = 13, need 20 x 13 = 260. At 16 °C 11 a day: 260 / 11 = 23.6, the end of day 24; 26 x 13 =
    // 338 / 11 = 30.7, day 31. 20 January + 24 = 13 February, + 31 = 20 February.
    let season = Season::new("side-veneer under glass", "2026-01-20").weather("100x16");
    check_on(
        &season,
        "2026-02-13",
        "callus-check",
        "ahead 2026-02-13..2026-02-20",
    );
    check_on(
        &season,
        "2026-02-14",
        "callus-check",
        "open 2026-02-13..2026-02-20 heat",
    );
    // Head back: 42 x 13 = 546 / 11 = 49.6, day 50; closes 56 x 13 = 728 / 11 = 66.2, day 67.
    check(&season, 51, "head-back", "open 50..67 heat");
    // Headed back on day 52; 21 x 13 = 273 / 11 = 24.8, 25 days later; closes 35 x 13 = 455 / 11 = 41.4, 42 days later.
    check(
        &season.records("52 headed-back"),
        78,
        "head-back-again",
        "open 77..94 heat",
    );
}

#[test]
fn apple_chip_bud() {
    // Standard day 18 - 4 = 14, need 28 x 14 = 392. At 15 °C 11 a day: 392 / 11 = 35.6, the end of day 36; 42 x 14 =
    // 588 / 11 = 53.5, day 54. 12 August + 36 = 17 September, + 54 = 5 October.
    let season = Season::new("apple chip bud", "2026-08-12").weather("300x15");
    check_on(
        &season,
        "2026-09-17",
        "tape-off",
        "ahead 2026-09-17..2026-10-05",
    );
    check_on(
        &season,
        "2026-09-18",
        "tape-off",
        "open 2026-09-17..2026-10-05 heat",
    );
    // Late winter: three months and the next 1 February.
    check_on(
        &season,
        "2027-02-02",
        "head-back",
        "open 2027-02-01..2027-03-20 calendar",
    );
}

#[test]
fn walnut_field_graft() {
    // Standard day 27 - 15 = 12, need 14 x 12 = 168. At 22 °C 7 a day: 168 / 7 = 24, the end of day 24; 21 x 12 = 252
    // / 7 = 36. 5 May + 24 = 29 May, + 36 = 10 June.
    let season = Season::new("walnut field graft", "2026-05-05").weather("100x22");
    check_on(
        &season,
        "2026-05-29",
        "callus-check",
        "ahead 2026-05-29..2026-06-10",
    );
    check_on(
        &season,
        "2026-05-30",
        "callus-check",
        "open 2026-05-29..2026-06-10 heat",
    );
}

#[test]
fn walnut_callus_does_not_gain_above_27() {
    // The cutoff counts down what is above 27 °C: at 30 °C (30 - 15) - 2 x (30 - 27) = 9 a day. 168 / 9 = 18.7, day 19.
    let season = Season::new("walnut field graft", "2026-05-05").weather("100x30");
    check(&season, 20, "callus-check", "open 19..28 heat");
}

#[test]
fn grape_bench_graft() {
    // Standard day 25.5 - 15.5 = 10, need 8 x 10 = 80. At 24 °C 8.5 a day: 80 / 8.5 = 9.4, the end of day 10; 120 / 8.5
    // = 14.1, day 15. 25 February + 10 = 7 March, + 15 = 12 March.
    let season = Season::new("grape bench graft", "2026-02-25").weather("60x24");
    check_on(
        &season,
        "2026-03-07",
        "callus-check",
        "ahead 2026-03-07..2026-03-12",
    );
    check_on(
        &season,
        "2026-03-08",
        "callus-check",
        "open 2026-03-07..2026-03-12 heat",
    );
}

#[test]
fn seasons_above_were_worked_with_the_right_dates() {
    // The counting of days by hand in this file rests on these.
    assert_eq!((date("2026-09-17") - date("2026-08-12")).num_days(), 36);
    assert_eq!((date("2026-03-07") - date("2026-02-25")).num_days(), 10);
}

#[test]
fn grapes_go_out_no_sooner_than_24_and_no_later_than_49_days_after_grafting() {
    // Uncovered on day 15, then 18 °C: 2.5 a day, 20 °C·d on day 23, one day before the earliest.
    let warm = Season::new("grape bench graft", "2026-02-25")
        .weather("16x24 60x18")
        .records("15 tape-off");
    check(&warm, 24, "plant-out", "ahead 24..45");
    check(&warm, 25, "plant-out", "open 24..45 heat");
    // At 15 °C nothing is gained.
    let cold = Season::new("grape bench graft", "2026-02-25")
        .weather("16x24 60x15")
        .records("15 tape-off");
    check(&cold, 50, "plant-out", "open 49..70 calendar");
    // Uncovered after the latest day: on the day itself.
    let late = Season::new("grape bench graft", "2026-02-25")
        .weather("16x24 60x15")
        .records("55 tape-off");
    check(&late, 54, "plant-out", "ahead -..-");
    check(&late, 56, "plant-out", "open 55..76 calendar");
}

#[test]
fn a_window_whose_opening_cannot_be_foreseen_has_no_close_either() {
    // At 15 °C grapes gain nothing; day 49 by the calendar is the latest day, no forecast.
    let cold = Season::new("grape bench graft", "2026-02-25").weather("16x24 60x15");
    let cold = cold.records("15 tape-off");
    check(&cold, 49, "plant-out", "ahead -..-");
}

#[test]
fn the_calendar_never_stands_in_for_a_record_that_is_needed() {
    let season = super::season::maple().weather("90x8").but(|s| {
        let check = s
            .plan
            .steps
            .iter_mut()
            .find(|step| step.id == "callus-check");
        check.unwrap().opens.needs = Some((crate::nursery::What::HeadLength, 5.0));
    });
    check(&season, 40, "callus-check", "ahead -..-");
    check(
        &season.records("38 head-length 6"),
        40,
        "callus-check",
        "open 38..- record",
    );
}
