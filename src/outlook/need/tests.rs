//! What is learned, against closed forms and by symmetry; `tests/outside/learning.py` has it against integration.

use super::*;

fn prior() -> Prior {
    Prior::new(200.0, 0.25, 0.15).unwrap()
}

fn seen(above: impl Into<Option<f64>>, upto: impl Into<Option<f64>>) -> Sighting {
    Sighting::new(above.into(), upto.into()).unwrap()
}

#[track_caller]
fn near(found: f64, expected: f64, tolerance: f64) {
    assert!(
        (found - expected).abs() <= tolerance,
        "{found} is not {expected}"
    );
}

#[track_caller]
fn check(seen: &[Sighting], need: f64, sd: f64) {
    let learned = learn(&prior(), seen);
    assert_eq!(learned.batches, seen.len());
    near(learned.mean.exp(), need, 0.005);
    near(learned.sd, sd, 5e-6);
}

#[test]
fn exact_sightings_by_the_closed_form() {
    // Worked by hand: w = n tau²/(n tau² + s²), v = 1/(1/tau² + n/s²).
    check(
        &[seen(240.0, 240.0)],
        228.69,
        (0.0625 * 0.0225 / 0.085 + 0.0225_f64).sqrt(),
    );
    let three = [240.0, 228.0, 251.0].map(|need| seen(need, need));
    check(
        &three,
        234.90,
        (1.0 / (16.0 + 3.0 / 0.0225) + 0.0225_f64).sqrt(),
    );
    check(&[], 200.0, 0.085_f64.sqrt());
}

#[test]
fn an_exact_sighting_is_an_interval_of_no_width() {
    let exact = learn(&prior(), &[seen(240.0, 240.0)]);
    for width in [1e-9, 1e-7, 1e-5, 1e-3] {
        let narrow = learn(&prior(), &[seen(240.0 - width, 240.0 + width)]);
        near(narrow.mean, exact.mean, 1e-6);
        near(narrow.variance, exact.variance, 1e-6);
    }
}

#[test]
fn what_tells_nothing_teaches_nothing() {
    for nothing in [seen(1e-6, 1e9), seen(1e-6, None), seen(None, 1e9)] {
        let learned = learn(&prior(), &[nothing; 3]);
        near(learned.mean, 200.0_f64.ln(), 1e-9);
        near(learned.variance, 0.0625, 1e-9);
    }
}

/// One bound only has a closed form: the normal law skewed by its share (Azzalini 1985, Scand. J. Statist. 12:171).
/// With r² = tau² + s² and z = (ln K0 - ln a)/r, the mean moves by tau²/r · φ(z)/Φ(z).
#[test]
fn one_bound_by_its_closed_form() {
    let r = 0.085_f64.sqrt();
    // φ(0)/Φ(0) = 2/sqrt(2 pi)
    let moved = 0.0625 / r * (2.0 / std::f64::consts::PI).sqrt();
    near(
        learn(&prior(), &[seen(200.0, None)]).mean,
        200.0_f64.ln() + moved,
        1e-9,
    );
    near(
        learn(&prior(), &[seen(None, 200.0)]).mean,
        200.0_f64.ln() - moved,
        1e-9,
    );
    // z = -2: φ/Φ = 0.053990966513188/0.022750131948179 (Abramowitz & Stegun, table 26.1)
    let above = 200.0 * (2.0 * r).exp();
    let moved = 0.0625 / r * 0.053_990_966_513_188 / 0.022_750_131_948_179;
    near(
        learn(&prior(), &[seen(above, None)]).mean,
        200.0_f64.ln() + moved,
        1e-9,
    );
}

#[test]
fn both_sides_mirror_each_other() {
    let right = learn(&prior(), &[seen(180.0, 260.0), seen(250.0, None)]);
    let mirror = |need: f64| 40_000.0 / need;
    let left = learn(
        &prior(),
        &[
            seen(mirror(260.0), mirror(180.0)),
            seen(None, mirror(250.0)),
        ],
    );
    near(
        right.mean - 200.0_f64.ln(),
        200.0_f64.ln() - left.mean,
        1e-9,
    );
    near(right.variance, left.variance, 1e-9);
}

#[test]
fn far_out_and_many_it_stays_finite() {
    for sightings in [
        vec![seen(2e6, None)],
        vec![seen(None, 2e-6)],
        vec![seen(2000.0, 2001.0), seen(2.0, 2.1)],
        vec![seen(300.0, None); 2000],
    ] {
        let learned = learn(&prior(), &sightings);
        assert!(
            learned.mean.is_finite() && learned.variance > 0.0,
            "{sightings:?}"
        );
        assert!(learned.variance <= 0.0625 + 1e-12);
    }
}

#[test]
fn older_seasons_weigh_less() {
    // After five seasons two sightings weigh as much as one.
    let old = seen(240.0, 240.0).seasons_ago(5.0);
    let (two_old, one) = (
        learn(&prior(), &[old; 2]),
        learn(&prior(), &[seen(240.0, 240.0)]),
    );
    near(two_old.mean, one.mean, 1e-12);
    near(two_old.variance, one.variance, 1e-12);
    let old = seen(230.0, 260.0).seasons_ago(10.0);
    let (four_old, one) = (
        learn(&prior(), &[old; 4]),
        learn(&prior(), &[seen(230.0, 260.0)]),
    );
    near(four_old.mean, one.mean, 1e-12);
}

#[test]
fn what_cannot_be_is_refused() {
    let refused = |above, upto| Sighting::new(above, upto).unwrap_err();
    assert_eq!(
        refused(Some(250.0), Some(240.0)),
        "it cannot be above 250 and yet no more than 240"
    );
    assert_eq!(
        refused(Some(0.0), Some(240.0)),
        "0 is not an amount above 0"
    );
    assert_eq!(
        refused(None, Some(f64::NAN)),
        "NaN is not an amount above 0"
    );
    assert_eq!(refused(None, None), "it says neither above nor up to what");
    assert!(Prior::new(200.0, 0.0, 0.1).is_err());
}
