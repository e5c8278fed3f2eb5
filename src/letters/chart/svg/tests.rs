use super::*;
use crate::care::tests::season::{Season, maple};
use crate::letters::chart::{Chart, chart_of};
use crate::letters::tests::seen_by;
use crate::nursery::Batch;
use crate::post::Pictures;

/// At 20 °C each day gives one standard day. Day 19 of 100 maple grafts, a forecast to the end.
fn chart(season: &Season) -> Chart {
    seen_by(season, 19, |context| {
        let cares: Vec<_> = context.cares.iter().collect();
        chart_of(&cares, context).unwrap()
    })
}

fn drawn<T>(season: &Season, look: impl FnOnce(&Drawn<'_>) -> T) -> T {
    seen_by(season, 19, |context| {
        let cares: Vec<_> = context.cares.iter().collect();
        look(&Drawn::new(&cares, context).unwrap())
    })
}

#[test]
fn it_says_in_words_what_it_shows() {
    insta::assert_snapshot!(chart(&maple()).alt, @r"Block C: warmth since grafting in standard days. C-14: 18.0 at the end of Sun 19 Jul, 33.0 on Mon 3 Aug by the forecast. Look for callus lines: 14 to 21. Head back: from 18. Tape off and tie in: 21 to 28. Limit of over-callusing: 24, Sat 25 Jul.");
}

/// The drawing is 448 wide and 308 high, its left end at 44 and its foot at 352. It goes from 1 July, day 0, to 14 days
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
        assert_eq!(at(0, 0.0), (44.0, 352.0));
        assert_eq!(at(33, 35.0), (492.0, 44.0));
        // 44 + 448 * 19 / 33 = 301.9; 352 - 308 * 17.5 / 35 = 198.
        assert_eq!(at(19, 17.5), (302.0, 198.0));
        // Nothing is drawn outside, whatever comes.
        assert!((scale.y(1e9) - 44.0).abs() < 1e-9);
        assert!((scale.y(-5.0) - 352.0).abs() < 1e-9);
    });
}

#[test]
fn a_day_of_twenty_degrees_is_one_standard_day_up() {
    drawn(&maple(), |drawn| {
        let track = &drawn.tracks[0];
        let known: Vec<f64> = track.known.iter().map(|k| k.1.unwrap()).collect();
        assert_eq!(known.len(), 19); // day 0 to the end of day 18
        for (n, at) in known.iter().enumerate() {
            assert!((at - n as f64).abs() < 1e-6, "day {n}: {at}");
        }
        let (day, last) = *track.foretold.last().unwrap();
        assert_eq!(day, maple().day(33));
        assert!((last - 33.0).abs() < 1e-6, "{last}");
    });
}

#[test]
fn windows_and_the_limit_are_those_of_the_plan() {
    drawn(&maple(), |drawn| {
        let windows = drawn
            .windows
            .iter()
            .map(|w| (w.title.as_str(), w.from.round(), w.to.map(f64::round)));
        assert_eq!(
            windows.collect::<Vec<_>>(),
            [
                ("look for callus lines", 14.0, Some(21.0)),
                ("head back", 18.0, None),
                ("tape off and tie in", 21.0, Some(28.0)),
            ]
        );
        // 14 days until lines, unseen, and 10 more.
        let limits = drawn
            .limits
            .iter()
            .map(|l| (l.title.as_str(), l.at.round(), l.on));
        assert_eq!(
            limits.collect::<Vec<_>>(),
            [("over-callusing", 24.0, Some(maple().day(24)))]
        );
    });
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
    for ground in [GROUND, WINDOW, OUTLOOK] {
        for line in [INK, TRACK, LIMIT] {
            assert!(contrast(line, ground) >= 3.0, "{line} on {ground}");
        }
    }
    // Words have the ground around them.
    for word in [INK, TRACK, LIMIT, FAINT] {
        assert!(contrast(word, GROUND) >= 4.5, "{word}");
    }
}

#[test]
fn labels_do_not_cover_each_other() {
    let labels = vec![(100.0, 'a'), (98.0, 'b'), (300.0, 'c'), (97.0, 'd')];
    let spread: Vec<_> = spread(labels, (60.0, 290.0));
    assert_eq!(
        spread,
        [(290.0, 'c'), (100.0, 'a'), (80.0, 'b'), (60.0, 'd')]
    );
}

#[test]
fn names_stay_words() {
    let long = "C".repeat(300);
    for name in [
        "<script>alert(1)</script>",
        "\"><image href='x'/>",
        "&amp;]]>",
        "中文 🌱 \u{202e}14-C",
        &long,
    ] {
        let season = maple().but(|s| {
            s.batches[0].name = name.into();
            s.batches[0].block = name.into();
        });
        let chart = chart(&season);
        assert!(
            !chart.svg.contains("<script") && !chart.svg.contains("<image"),
            "{name}"
        );
        let png = Pictures::default().png(&chart.svg);
        assert!(png.is_some_and(|png| png.starts_with(b"\x89PNG")), "{name}");
    }
}

#[test]
fn two_hundred_batches_are_four_lines() {
    let season = maple().but(|s| {
        let first = s.batches[0].clone();
        s.batches = (0..200)
            .map(|n| Batch {
                name: format!("C-{n}"),
                grafted_on: first.grafted_on + Days::new(n % 10),
                ..first.clone()
            })
            .collect();
    });
    drawn(&season, |drawn| {
        assert_eq!((drawn.tracks.len(), drawn.left_out), (4, 120));
    });
    assert!(chart(&season).svg.len() < 30_000);
}
