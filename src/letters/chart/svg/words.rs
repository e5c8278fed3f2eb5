//! Words at the lines of a chart: named with their batches, and where nothing else is.

use super::labels::{Side, width};
use super::tests::{crowd, drawn, with_years};
use super::*;
use crate::care::tests::season::{Season, maple};
use crate::nursery::Batch;

/// Batches with and without lines seen have limits of their own, three standard days apart: 24.9 units of the picture.
#[test]
fn two_limits_are_named_with_their_batches() {
    let texts = |season: &Season| -> (Vec<String>, Vec<String>) {
        drawn(season, |drawn| {
            let (labels, keys) = marks(drawn, &Scale::of(drawn));
            let limits = labels.into_iter().filter(|l| l.ink == LIMIT);
            let below = keys.into_iter().filter(|k| k.ink == LIMIT);
            (
                limits.map(|l| l.text).collect(),
                below.map(|k| k.text).collect(),
            )
        })
    };
    let two = |day: u32| {
        let both = maple().but(|s| {
            let name = "C-15".into();
            let first = s.batches[0].clone();
            s.batches.push(Batch { name, ..first });
        });
        both.records(&format!("{day} lines"))
    };
    let (at_lines, below) = texts(&two(11));
    assert_eq!(at_lines, ["over-callusing 21", "over-callusing 24"]);
    let whose = [
        "21: limit of over-callusing, C-14",
        "24: limit of over-callusing, C-15",
    ];
    assert_eq!(below, whose);
    // Where they lie near each other, the second has room for its figure.
    let (at_lines, below) = texts(&two(13));
    assert_eq!(at_lines, ["over-callusing 23", "24"]);
    assert_eq!(below.len(), 2);
    // One alone needs no batches.
    let (at_lines, below) = texts(&maple());
    assert_eq!((at_lines.len(), below.len()), (1, 0));
}

/// What a label covers, by the reckoned width of its words.
fn boxes(labels: &[Label]) -> Vec<(f64, f64, f64)> {
    let reach = labels.iter().map(|l| {
        let wide = width(&l.text, WORDS);
        match l.side {
            Side::Start => (l.x, l.x + wide, l.y),
            Side::Middle => (l.x - wide / 2.0, l.x + wide / 2.0, l.y),
            Side::End => (l.x - wide, l.x, l.y),
        }
    });
    reach.collect()
}

#[test]
fn no_word_covers_another_or_a_track_or_leaves_the_picture() {
    let long = |n: u64| format!("WMW@%WMW{n}WWWWWMMMMM@@@@@%%%%%");
    for season in [
        maple().records("11 lines"),
        maple().records("13 lines"),
        with_years(),
        crowd(with_years(), 200, long),
        crowd(maple().without_forecast(), 40, |n| format!("C-{n}")),
    ] {
        drawn(&season, |drawn| {
            let scale = Scale::of(drawn);
            let mut labels = marks(drawn, &scale).0;
            labels.extend(ends(drawn, &scale).into_iter().map(|(_, label)| label));
            let boxes = boxes(&labels);
            for (n, a) in boxes.iter().enumerate() {
                assert!(
                    a.0 >= FRAME.0 - 1e-6 && a.1 <= SIZE.0 - 4.0,
                    "{:?}",
                    labels[n]
                );
                // Nor does a track go through it: each day and half-way between two.
                let of_tracks = labels[n].x < FRAME.2 && labels[n].text != "today";
                for days in drawn.tracks.iter().flat_map(|t| t.days.windows(2)) {
                    let (one, next) = (
                        scale.at(days[0].0, days[0].1),
                        scale.at(days[1].0, days[1].1),
                    );
                    for share in [0.0, 0.5, 1.0] {
                        let x = one.0 + (next.0 - one.0) * share;
                        let y = one.1 + (next.1 - one.1) * share;
                        let within =
                            (a.0..a.1).contains(&x) && (a.2 - 14.0..a.2 + 5.0).contains(&y);
                        assert!(!(of_tracks && within), "{:?} at {x}, {y}", labels[n]);
                    }
                }
                for (m, b) in boxes.iter().enumerate().skip(n + 1) {
                    let apart = (a.2 - b.2).abs() >= 17.0 || a.1 <= b.0 || b.1 <= a.0;
                    assert!(apart, "{:?} and {:?}", labels[n], labels[m]);
                }
            }
        });
    }
}
