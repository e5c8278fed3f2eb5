use super::labels::{Side, spread};
use super::*;
use crate::care::tests::season::{Season, maple};
use crate::letters::chart::{Chart, chart_of};
use crate::letters::tests::{Morning, seen_by};
use crate::nursery::Batch;
use crate::post::Pictures;
use crate::units::Units;
use resvg::tiny_skia::Pixmap;

/// At 20 °C each day gives one standard day. Day 19 of 100 maple grafts, a forecast to the end.
fn chart(season: &Season) -> Chart {
    seen_by(season, 19, |context| {
        let cares: Vec<_> = context.cares.iter().collect();
        chart_of(&cares, context).unwrap()
    })
}

pub(super) fn drawn<T>(season: &Season, look: impl FnOnce(&Drawn<'_>) -> T) -> T {
    seen_by(season, 19, |context| {
        let cares: Vec<_> = context.cares.iter().collect();
        look(&Drawn::new(&cares, context).unwrap())
    })
}

/// A forecast of six days, and three years before: of 18, 20 and 22 °C.
pub(super) fn with_years() -> Season {
    maple().but(|s| {
        s.horizon = 6;
        for (year, mean) in [(2023, 18.0), (2024, 20.0), (2025, 22.0)] {
            let first = NaiveDate::from_ymd_opt(year, 1, 1).unwrap();
            for day in first.iter_days().take(365) {
                s.past.add(year, day, mean, mean);
            }
        }
    })
}

/// So many batches, one grafted after the other.
pub(super) fn crowd(mut season: Season, batches: u64, name: impl Fn(u64) -> String) -> Season {
    let first = season.batches[0].clone();
    season.batches = (0..batches)
        .map(|n| Batch {
            name: name(n),
            grafted_on: first.grafted_on + Days::new(n % 10),
            ..first.clone()
        })
        .collect();
    season
}

#[test]
fn it_says_in_words_what_it_shows() {
    insta::assert_snapshot!(chart(&maple()).alt, @r"Block C: warmth since grafting in standard days. C-14: 18.0 at the end of Sun 19 Jul, 33.0 on Mon 3 Aug by the forecast. Look for callus lines: 14 to 21. Head back: from 18. Tape off and tie in: 21 to 28. Limit of over-callusing: 24, Sat 25 Jul.");
    insta::assert_snapshot!(chart(&with_years()).alt, @r"Block C: warmth since grafting in standard days. C-14: 18.0 at the end of Sun 19 Jul, 24.0 on Sat 25 Jul by the forecast, about 33.0 on Mon 3 Aug by years before. In eight of ten years before, C-14 would stand between 31.8 and 34.2 on Mon 3 Aug. Look for callus lines: 14 to 21. Head back: from 18. Tape off and tie in: 21 to 28. Limit of over-callusing: 24, Sat 25 Jul.");
    insta::assert_snapshot!(chart(&maple().without_forecast()).alt, @r"Block C: warmth since grafting in standard days. C-14: 18.0 at the end of Sun 19 Jul, roughly 33.0 on Mon 3 Aug. Look for callus lines: 14 to 21. Head back: from 18. Tape off and tie in: 21 to 28. Limit of over-callusing: 24.");
    insta::assert_snapshot!(chart(&maple().weather("10x20 5x? 105x20")).alt, @r"Block C: warmth since grafting in standard days. C-14: roughly 18.0 at the end of Sun 19 Jul, since days are unknown, roughly 33.0 on Mon 3 Aug. Look for callus lines: 14 to 21. Head back: from 18. Tape off and tie in: 21 to 28.");
    insta::assert_snapshot!(chart(&crowd(maple(), 40, |n| format!("C-{n}"))).alt, @r"Block C: warmth since grafting in standard days. C-0 and 3 more: 18.0 at the end of Sun 19 Jul, 33.0 on Mon 3 Aug by the forecast. C-1 and 3 more: 17.0 at the end of Sun 19 Jul, 32.0 on Mon 3 Aug by the forecast. C-3 and 3 more: 15.0 at the end of Sun 19 Jul, 30.0 on Mon 3 Aug by the forecast. C-5 and 3 more: 13.0 at the end of Sun 19 Jul, 28.0 on Mon 3 Aug by the forecast. C-7 and 3 more: 11.0 at the end of Sun 19 Jul, 26.0 on Mon 3 Aug by the forecast. C-9 and 3 more: 9.0 at the end of Sun 19 Jul, 24.0 on Mon 3 Aug by the forecast. Look for callus lines: 14 to 21. Head back: from 18. Tape off and tie in: 21 to 28. Limit of over-callusing: 24, Sat 25 Jul. Not drawn: 16 batches between these.");
}

/// The drawing is 350 wide and 290 high, its left end at 38 and its foot at 332. It goes from 1 July, day 0, to 14 days
/// after day 19: 33 days. Upwards it goes from 0 to two above the 33 that are reached on the last day.
#[test]
fn places_worked_by_hand() {
    let season = maple();
    drawn(&season, |drawn| {
        let scale = Scale::of(drawn);
        let at = |n: i64, standard_days: f64| {
            (
                scale.x(season.day(n)).round(),
                scale.y(standard_days).round(),
            )
        };
        assert_eq!(at(0, 0.0), (38.0, 332.0));
        assert_eq!(at(33, 35.0), (388.0, 42.0));
        // 38 + 350 * 19 / 33 = 239.5; 332 - 290 * 17.5 / 35 = 187.
        assert_eq!(at(19, 17.5), (240.0, 187.0));
        // Nothing is drawn outside, whatever comes.
        assert!((scale.y(1e9) - 42.0).abs() < 1e-9);
        assert!((scale.y(-5.0) - 332.0).abs() < 1e-9);
    });
}

/// From day 0 to day 33, one standard day each: so many of them known, and so many of the rest foretold.
#[track_caller]
fn check_track(season: &Season, known: usize, foretold: usize) {
    drawn(season, |drawn| {
        let days = &drawn.tracks[0].days;
        assert_eq!(days.len(), 34);
        for (n, (day, at, sure)) in days.iter().enumerate() {
            assert_eq!(*day, season.day(n as i64));
            assert!((at - n as f64).abs() < 1e-6, "day {n}: {at}");
            let expected = match n {
                _ if n < known => Sure::Known,
                _ if n < known + foretold => Sure::Foretold,
                _ => Sure::Rough,
            };
            assert_eq!(*sure, expected, "day {n}");
        }
    });
}

#[test]
fn a_day_of_twenty_degrees_is_one_standard_day_up() {
    check_track(&maple(), 19, 15);
    // Six days of forecast, today's among them.
    check_track(&with_years(), 19, 6);
    check_track(&maple().without_forecast(), 19, 0);
    // A gap of five days: warmth since grafting is known no more.
    check_track(&maple().weather("10x20 5x? 105x20"), 10, 0);
}

#[test]
fn eight_of_ten_years_lie_between_the_coolest_and_the_warmest_of_three() {
    drawn(&with_years(), |drawn| {
        assert!(drawn.by_years);
        // The last day that is foretold is day 24. Of 18 °C a day gives 13/15 of a standard day, of 22 °C 17/15.
        let (day, low, high) = drawn.band[0];
        assert_eq!(day, maple().day(24));
        assert!((low - 24.0).abs() < 1e-6 && (high - 24.0).abs() < 1e-6);
        let &(day, low, high) = drawn.band.last().unwrap();
        assert_eq!(day, maple().day(33));
        assert!((low - (24.0 + 9.0 * 13.0 / 15.0)).abs() < 1e-6, "{low}");
        assert!((high - (24.0 + 9.0 * 17.0 / 15.0)).abs() < 1e-6, "{high}");
    });
    drawn(&maple().without_forecast(), |drawn| {
        assert!(drawn.band.is_empty() && !drawn.by_years);
    });
}

#[track_caller]
fn check_legend(season: &Season, expected: &[&str]) {
    let svg = chart(season).svg;
    let words = ["known", "forecast", "mean of years", "roughly", SHADED];
    let there = words
        .into_iter()
        .filter(|w| svg.contains(&format!(">{w}<")));
    assert_eq!(there.collect::<Vec<_>>(), expected);
}

#[test]
fn what_is_drawn_is_named_and_nothing_else() {
    check_legend(&maple(), &["known", "forecast"]);
    check_legend(
        &with_years(),
        &["known", "forecast", "mean of years", SHADED],
    );
    check_legend(&maple().without_forecast(), &["known", "roughly"]);
}

fn marks_of(season: &Season) -> Vec<Label> {
    drawn(season, |drawn| marks(drawn, &Scale::of(drawn)).0)
}

#[test]
fn words_stand_at_their_own_lines() {
    let found = marks_of(&maple());
    let said = found.iter().map(|l| (l.text.as_str(), l.y.round(), l.side));
    assert_eq!(
        said.collect::<Vec<_>>(),
        [
            ("today", 325.0, Side::Middle),
            // 332 - 290 * 14 / 35 = 216, and five above it; 18: 182.9; 21: 158.
            // 24: 133.1, and seven above it; limits choose first.
            ("over-callusing 24", 126.0, Side::Start),
            ("14–21", 211.0, Side::End),
            ("head back 18", 178.0, Side::Start),
            ("21–28", 153.0, Side::End),
        ]
    );
    // What is too long to stand beside the track is named below.
    let below = drawn(&maple(), |drawn| marks(drawn, &Scale::of(drawn)).1);
    let below: Vec<&str> = below.iter().map(|key| key.text.as_str()).collect();
    assert_eq!(
        below,
        ["14–21: look for callus lines", "21–28: tape off and tie in"]
    );
}

#[test]
fn each_name_is_led_to_from_the_end_of_its_line() {
    drawn(&maple(), |drawn| {
        let ends = ends(drawn, &Scale::of(drawn));
        // 332 - 290 * 33 / 35 = 58.6 at the right of the drawing; words stand six below what they name.
        let ((x, y), label) = &ends[0];
        assert_eq!((x.round(), y.round()), (388.0, 59.0));
        assert_eq!(
            (label.x, label.y.round(), label.text.as_str()),
            (412.0, 65.0, "C-14")
        );
    });
    // After a gap it does not fall to the foot of the picture: it goes on from the roughly 33.
    drawn(&maple().weather("10x20 5x? 105x20"), |drawn| {
        let (_, y) = ends(drawn, &Scale::of(drawn))[0].0;
        assert!((y - 58.6).abs() < 0.05, "{y}");
    });
}

#[test]
fn a_long_name_keeps_its_beginning_and_its_end() {
    assert_eq!(labels::fit("C-14", WORDS, 80.0), "C-14");
    let (one, two) = ("Ember Lace row 1", "Ember Lace row 2");
    let (one, two) = (labels::fit(one, WORDS, 80.0), labels::fit(two, WORDS, 80.0));
    assert!(
        one.starts_with("Em") && one.contains('…') && one.ends_with('1'),
        "{one}"
    );
    assert!(two.ends_with('2'), "{two}");
    assert_eq!(labels::fit("WWWW", WORDS, 1.0), "");
}

#[test]
fn lines_of_words_are_spread_within_the_picture() {
    // Each as near as it can be: 97 stays, 98 and 100 make room below it.
    let near = |found: Vec<f64>, expected: &[f64]| assert_eq!(found, expected);
    near(
        spread(&[100.0, 98.0, 300.0, 97.0], (60.0, 320.0)),
        &[135.0, 116.0, 300.0, 97.0],
    );
    // At the foot they are pushed up again.
    near(
        spread(&[318.0, 320.0, 319.0], (60.0, 320.0)),
        &[282.0, 320.0, 301.0],
    );
    // Of two at one place the later grafting stands above.
    near(spread(&[70.0, 70.0], (60.0, 320.0)), &[89.0, 70.0]);
}

/// The contrast of two colours (WCAG 2.2, relative luminance).
fn contrast(a: &str, b: &str) -> f64 {
    let light = |colour: &str| {
        let part = |at: usize| {
            let c = f64::from(u8::from_str_radix(&colour[at..at + 2], 16).unwrap()) / 255.0;
            if c <= 0.04045 {
                c / 12.92
            } else {
                ((c + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5)
    };
    let (a, b) = (light(a) + 0.05, light(b) + 0.05);
    a.max(b) / a.min(b)
}

#[test]
fn words_and_lines_stand_out_from_what_lies_behind_them() {
    assert!((contrast("#ffffff", "#000000") - 21.0).abs() < 1e-9);
    let lines = || TRACKS.into_iter().chain([INK, LIMIT, FAINT]);
    for line in lines() {
        for ground in [GROUND, WINDOW, OUTLOOK] {
            assert!(contrast(line, ground) >= 3.0, "{line} on {ground}");
        }
        // Words have the ground around them.
        assert!(contrast(line, GROUND) >= 4.5, "{line}");
    }
}

#[test]
fn every_track_has_a_colour_and_a_mark_of_its_own() {
    let svg = chart(&crowd(maple(), 10, |n| format!("C-{n}"))).svg;
    for (n, (colour, mark)) in TRACKS.iter().zip(MARKS).enumerate() {
        // At its grafting, where the known days end, and at its name.
        let marks = svg.matches(&format!("{mark}\" fill=\"{colour}\"")).count();
        assert_eq!(marks, 3, "track {n}");
    }
    let mut all: Vec<&str> = TRACKS.into_iter().chain(MARKS).collect();
    all.sort_unstable();
    all.dedup();
    assert_eq!(all.len(), 12);
}

#[test]
fn names_stay_words() {
    let long = "C".repeat(300);
    for name in [
        "<script>alert(1)</script>",
        "\"><image href='x'/>",
        "&amp;]]>",
        "中文 🌱 \u{202e}14-C",
        "C\u{0}\u{1}\u{b}\u{1b}[2J\r\n\u{85}\u{2028}14",
        "\u{fffe}\u{ffff}C",
        &long,
    ] {
        let season = maple().but(|s| {
            s.batches[0].name = name.into();
            s.batches[0].block = name.into();
            s.plan.steps[0].title = name.into();
        });
        let chart = chart(&season);
        assert!(
            !chart.svg.contains("<script") && !chart.svg.contains("<image"),
            "{name}"
        );
        assert!(!chart.alt.contains(char::is_control), "{name:?}");
        let png = Pictures::default()
            .of_letter(&[&chart.svg], 40_000)
            .remove(0);
        assert!(
            png.is_some_and(|png| png.starts_with(b"\x89PNG")),
            "{name:?}"
        );
    }
}

#[test]
fn two_hundred_batches_are_six_lines_and_a_count() {
    let season = crowd(maple(), 200, |n| format!("C-{n}"));
    drawn(&season, |drawn| {
        // Of ten days of grafting, twenty batches each, the first, the last, and four between.
        let days = drawn.tracks.iter().map(|t| (t.name.as_str(), t.others));
        let expected = [
            ("C-0", 19),
            ("C-1", 19),
            ("C-3", 19),
            ("C-5", 19),
            ("C-7", 19),
            ("C-9", 19),
        ];
        assert_eq!(days.collect::<Vec<_>>(), expected);
        assert_eq!(drawn.not_drawn().unwrap(), "80 batches between these");
    });
    let svg = chart(&season).svg;
    assert!(svg.contains(">Not drawn: 80 batches between these<"));
    assert!(svg.len() < 30_000);
}

#[test]
fn batches_of_another_plan_are_counted() {
    let other = maple().but(|s| {
        s.plan.name = "maple in boxes".into();
        s.batches[0].plan = s.plan.name.as_str().into();
        s.batches[0].name = "Z-1".into();
    });
    let (n, units) = (19, Units::Metric);
    let seasons = &[maple(), other];
    Morning { seasons, n, units }.with(|context| {
        let cares: Vec<_> = context.cares.iter().collect();
        let drawn = Drawn::new(&cares, context).unwrap();
        assert_eq!(drawn.tracks.len(), 1);
        assert_eq!(drawn.not_drawn().unwrap(), "1 batch of another plan");
        assert!(
            drawn
                .in_words()
                .ends_with("Not drawn: 1 batch of another plan.")
        );
    });
}

/// The largest there is: six tracks, an outlook, two limits, long names and counts of what is not drawn.
#[test]
fn the_pictures_of_a_letter_have_their_room() {
    let season = crowd(with_years().records("11 lines"), 200, |n| {
        format!("Ember Lace row {n}")
    });
    let svg = chart(&season).svg;
    let width = |png: &Option<Vec<u8>>| Pixmap::decode_png(png.as_ref().unwrap()).unwrap().width();
    for (charts, sharp) in [(1, 656), (2, 575), (3, 500)] {
        let pictures = Pictures::default().of_letter(&vec![svg.as_str(); charts], 40_000);
        let bytes: usize = pictures.iter().flatten().map(Vec::len).sum();
        assert!(bytes <= 40_000, "{charts}: {bytes}");
        for picture in pictures.iter().filter(|p| p.is_some()) {
            assert!(width(picture) >= sharp, "{charts}: {}", width(picture));
        }
        assert!(
            pictures.iter().flatten().count() >= charts.min(2),
            "{charts}"
        );
    }
}

/// Wide names end before the frame does: between them the ground is seen.
#[test]
fn nothing_is_cut_off_at_the_right() {
    let season = crowd(maple(), 10, |n| format!("{n}@@@@WWWWMMMM{n}"));
    let png = Pictures::default()
        .of_letter(&[&chart(&season).svg], 40_000)
        .remove(0);
    let pixels = Pixmap::decode_png(&png.unwrap()).unwrap();
    let scale = f64::from(pixels.width()) / SIZE.0;
    let dark = |x: f64| {
        let x = (x * scale) as u32;
        let column = (10..pixels.height() - 10).filter_map(|y| pixels.pixel(x, y));
        column.filter(|p| p.red() < 200).count()
    };
    assert!((494..498).all(|x| dark(f64::from(x)) == 0));
    // The names are there.
    assert!((420..470).map(|x| dark(f64::from(x))).sum::<usize>() > 100);
}
