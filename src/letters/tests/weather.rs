//! Letters of wind, frost and rain.

use super::*;
use crate::care::tests::season::maple;

pub(super) fn loose(weather: &str) -> Season {
    maple()
        .records("15 lines, 16 headed-back, 20 looked")
        .weather(weather)
        .but(|s| another(s, "D-1", |b| b.block = "D".into()))
}

#[test]
fn wind_on_untied_scions() {
    let windy = loose("20x20 1x20g64 1x20g78 60x20");
    insta::assert_snapshot!(letter(&windy, 17, Kind::Wind), @r"
    Strong wind Tue 21 - Wed 22 Jul: 2 batches at home

    Alder Fold Nursery, Saturday 18 July 2026

    STRONG WIND AT HOME, TUE 21 - WED 22 JUL

    By the forecast gusts up to 78 km/h, while scions of these batches
    are not tied in yet.

    Untied scions blow out at the union. See today that tape and ties
    hold, tie what is loose, and take off no tape before it is over.

    Block C
      C-14  100 grafts
            Osakazuki: 16.0 standard days, 240 °C·d
    Block D
      D-1   100 grafts
            Osakazuki: 16.0 standard days, 240 °C·d

    -- 
    Temperatures at home: measured by the logger on 16 days, known to
    Fri 17 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn wind_that_does_not_come() {
    let windy = loose("20x20g10 1x20g64 60x20g10");
    let calm = loose("80x20g10");
    insta::assert_snapshot!(letter_after(&windy, &calm, 18, Kind::RiskOver), @r"
    Not any more: strong wind at home, Tue 21 Jul

    Alder Fold Nursery, Sunday 19 July 2026

    NOT ANY MORE

    Strong wind at home, Tue 21 Jul: by the forecast of today it does
    not come.

    -- 
    Temperatures at home: measured by the logger on 17 days, known to
    Sat 18 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn frost_near_and_frost() {
    let cold = |night: &str| {
        loose(&format!("62x12 1x{night}/12 60x12")).but(|s| {
            s.batches.retain(|b| b.name == "D-1");
            s.batches[0].grafted_on = s.day(40);
        })
    };
    insta::assert_snapshot!(letter(&cold("-0.4"), 59, Kind::Frost), @r"
    Frost near Tue 1 Sep: 1 batch at home

    Alder Fold Nursery, Saturday 29 August 2026

    FROST NEAR AT HOME, TUE 1 SEP

    By the forecast it goes down to 0 °C. Near the ground that may be
    a frost, and growth is still soft.

    Cover what can be covered, water the ground before the evening,
    and cut nothing back now. Look at the youngest shoots afterwards.

      D-1  100 grafts
           Osakazuki: 8.4 standard days, 126 °C·d

    -- 
    Temperatures at home: measured by the logger on 18 days, known to
    Fri 28 Aug.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
    insta::assert_snapshot!(letter(&cold("-3"), 59, Kind::Frost), @r"
    Frost Tue 1 Sep: 1 batch at home

    Alder Fold Nursery, Saturday 29 August 2026

    FROST AT HOME, TUE 1 SEP

    By the forecast it goes down to -3 °C. That is a frost for growth
    that is still soft.

    Cover what can be covered, water the ground before the evening,
    and cut nothing back now. Look at the youngest shoots afterwards.

      D-1  100 grafts
           Osakazuki: 8.4 standard days, 126 °C·d

    -- 
    Temperatures at home: measured by the logger on 18 days, known to
    Fri 28 Aug.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
    let seen = cold("-3").without_forecast();
    insta::assert_snapshot!(letter(&seen, 63, Kind::Frost), @r"
    Frost Tue 1 Sep: 1 batch at home

    Alder Fold Nursery, Wednesday 2 September 2026

    FROST AT HOME, TUE 1 SEP

    It was down to -3 °C. That is a frost for growth that is still
    soft.

    Look at the youngest shoots and, where they are hurt, leave them
    on until it shows how far. Cut nothing back now.

      D-1  100 grafts
           Osakazuki: 9.9 standard days, 149 °C·d

    -- 
    Temperatures at home: measured by the logger on 22 days, known to
    Tue 1 Sep.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn rain_on_new_tape() {
    insta::assert_snapshot!(letter(&loose("4x20 1x20r8 1x20r22 60x20"), 4, Kind::Rain), @r"
    Rain on new grafts Mon 6 Jul: 2 batches at home

    Alder Fold Nursery, Sunday 5 July 2026

    RAIN ON NEW GRAFTS AT HOME, MON 6 JUL

    By the forecast 22 mm of rain on grafts of the last ten days.

    Check the tape once it is dry: where water has got under it, or it
    has slipped, wrap anew.

    Block C
      C-14  100 grafts
            Osakazuki: 3.0 standard days, 45 °C·d
    Block D
      D-1   100 grafts
            Osakazuki: 3.0 standard days, 45 °C·d

    -- 
    Temperatures at home: measured by the logger on 3 days, known to
    Sat 4 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
    let seasons = [loose("4x20 1x20r8 1x20r22 60x20").without_forecast()];
    let notices = of_kind(&seasons[0], 0..0, 7, Kind::Rain);
    let morning = Morning {
        seasons: &seasons,
        n: 7,
        units: Units::Us,
    };
    insta::assert_snapshot!(morning.write(&notices), @r"
    Rain on new grafts Mon 6 Jul: 2 batches at home

    Alder Fold Nursery, Wednesday 8 July 2026

    RAIN ON NEW GRAFTS AT HOME, MON 6 JUL

    There was 0.9 in of rain on grafts of the last ten days.

    Check the tape once it is dry: where water has got under it, or it
    has slipped, wrap anew.

    Block C
      C-14  100 grafts
            Osakazuki: 6.0 standard days, 162 °F·d
    Block D
      D-1   100 grafts
            Osakazuki: 6.0 standard days, 162 °F·d

    -- 
    Temperatures at home: measured by the logger on 6 days, known to
    Tue 7 Jul.
    Heat for maple field T-graft: single sine above 41 °F, horizontal
    cutoff at 86 °F. One standard day is 27.0 °F·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}
