//! Whether tracks can be told apart: their names where these are shortened, and their colours by every kind of eye.
//!
//! How colours look to eyes that lack one kind of cone: Machado, Oliveira and Fernandes, "A Physiologically-based Model for
//! Simulation of Color Vision Deficiency" (IEEE Transactions on Visualization and Computer Graphics 15, 2009), the matrices
//! of severity 1.0 for light that is not encoded. Written down from memory; each row sums to 1, so that grey stays grey.

use super::{TRACKS, WORDS, labels};

type Matrix = [[f64; 3]; 3];

const EYES: [(&str, Matrix); 4] = [
    ("usual", [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]),
    (
        "protan",
        [
            [0.152_286, 1.052_583, -0.204_868],
            [0.114_503, 0.786_281, 0.099_216],
            [-0.003_882, -0.048_116, 1.051_998],
        ],
    ),
    (
        "deutan",
        [
            [0.367_322, 0.860_646, -0.227_968],
            [0.280_085, 0.672_501, 0.047_413],
            [-0.011_820, 0.042_940, 0.968_881],
        ],
    ),
    (
        "tritan",
        [
            [1.255_528, -0.076_749, -0.178_779],
            [-0.078_411, 0.930_809, 0.147_602],
            [0.004_733, 0.691_367, 0.303_900],
        ],
    ),
];
/// Red, green and blue as light to X, Y and Z (IEC 61966-2-1), and white there.
const XYZ: Matrix = [
    [0.412_456, 0.357_576, 0.180_437],
    [0.212_673, 0.715_152, 0.072_175],
    [0.019_334, 0.119_192, 0.950_304],
];
const WHITE: [f64; 3] = [0.950_47, 1.0, 1.088_83];
/// Two lines further apart than this in CIELAB are told apart at a glance (a just noticeable step is about 2.3).
const APART: f64 = 25.0;

fn times(matrix: &Matrix, light: [f64; 3]) -> [f64; 3] {
    matrix.map(|row| row.iter().zip(light).map(|(a, b)| a * b).sum())
}

/// `#rrggbb` as light.
fn light(colour: &str) -> [f64; 3] {
    [1, 3, 5].map(|at| {
        let c = f64::from(u8::from_str_radix(&colour[at..at + 2], 16).unwrap()) / 255.0;
        if c <= 0.04045 {
            c / 12.92
        } else {
            ((c + 0.055) / 1.055).powf(2.4)
        }
    })
}

/// As such an eye sees it, in CIELAB.
fn seen(colour: &str, eye: &Matrix) -> [f64; 3] {
    let light = times(eye, light(colour)).map(|c| c.clamp(0.0, 1.0));
    let xyz = times(&XYZ, light);
    let f = |n: usize| {
        let t = xyz[n] / WHITE[n];
        if t > 216.0 / 24_389.0 {
            t.cbrt()
        } else {
            (24_389.0 / 27.0 * t + 16.0) / 116.0
        }
    };
    let (x, y, z) = (f(0), f(1), f(2));
    [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
}

fn apart(a: &str, b: &str, eye: &Matrix) -> f64 {
    let (a, b) = (seen(a, eye), seen(b, eye));
    let squares = a.iter().zip(b).map(|(a, b)| (a - b) * (a - b));
    squares.sum::<f64>().sqrt()
}

#[test]
fn the_measure_is_right_where_it_is_known() {
    let usual = &EYES[0].1;
    assert!((apart("#ffffff", "#000000", usual) - 100.0).abs() < 0.1);
    // Red, green: 53.2, 80.1, 67.2 and 87.7, -86.2, 83.2.
    assert!((apart("#ff0000", "#00ff00", usual) - 170.6).abs() < 0.5);
    for (eye, matrix) in &EYES {
        for row in matrix {
            assert!((row.iter().sum::<f64>() - 1.0).abs() < 1e-5, "{eye}");
        }
        assert!(apart("#808080", "#7f7f7f", matrix) < 1.0, "{eye}");
    }
}

#[test]
fn tracks_are_apart_to_every_kind_of_eye() {
    for (eye, matrix) in &EYES {
        for (n, a) in TRACKS.iter().enumerate() {
            for b in &TRACKS[n + 1..] {
                let apart = apart(a, b, matrix);
                assert!(apart >= APART, "{eye}: {a} and {b} are {apart:.1} apart");
            }
        }
    }
}

#[test]
fn names_that_differ_are_not_shortened_to_the_same() {
    let names = [
        "Behind the old packing shed, row 14",
        "Behind the new packing shed, row 14",
        "Behind the red packing shed, row 14",
        "C-14",
    ];
    let rooms = names.map(|name| (name, 90.0));
    let fitted = labels::fit_apart(&rooms, WORDS);
    insta::assert_snapshot!(fitted.join("\n"), @r"
    …old pa…
    …new p…
    …red p…
    C-14
    ");
    for (n, name) in fitted.iter().enumerate() {
        assert!(labels::width(name, WORDS) <= 90.0, "{name}");
        assert!(!fitted[n + 1..].contains(name), "{name}");
    }
}

/// Six names that differ only by what has no room: they are numbered from the first grafting on.
#[test]
fn names_that_have_no_room_for_their_difference_are_numbered() {
    let names = ["Q1", "Q2", "Q3"].map(|end| format!("{}{end}{}", "W".repeat(30), "M".repeat(30)));
    let rooms: Vec<(&str, f64)> = names.iter().map(|name| (name.as_str(), 40.0)).collect();
    let fitted = labels::fit_apart(&rooms, WORDS);
    for (n, name) in fitted.iter().enumerate() {
        assert!(labels::width(name, WORDS) <= 40.0, "{name}");
        assert!(!fitted[n + 1..].contains(name), "{fitted:?}");
    }
    // One name on two days of grafting is no trouble.
    let twice = labels::fit_apart(&[("C-14", 80.0), ("C-14", 80.0)], WORDS);
    assert_eq!(twice, ["C-14", "C-14"]);
}
