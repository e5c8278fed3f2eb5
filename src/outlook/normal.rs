//! Logarithms of the normal law's probabilities, right far out in the tails where the probabilities themselves vanish.
//!
//! Near the middle by Marsaglia's series (2004, J. Stat. Softw. 11(4), all terms of one sign), beyond by Laplace's
//! continued fraction (Abramowitz & Stegun 1964, 26.2.14). Shares are right to 12 digits, those of a narrow stretch to 9.

use std::f64::consts::PI;

/// Up to here the series, beyond the continued fraction.
const MIDDLE: f64 = 3.0;

/// Terms of the continued fraction; 60 give full precision from [`MIDDLE`] on.
const FRACTION_TERMS: u32 = 60;

/// Below this width two logarithms are too near each other to be told apart.
const NARROW: f64 = 1e-5;

/// ln φ(x), φ being the density.
pub fn ln_density(x: f64) -> f64 {
    -0.5 * (x * x + (2.0 * PI).ln())
}

/// ln Φ(x), Φ(x) being the share of the law up to x.
pub fn ln_share(x: f64) -> f64 {
    if x < -MIDDLE {
        ln_tail(-x)
    } else if x <= MIDDLE {
        (0.5 + series(x)).ln()
    } else {
        (-ln_tail(x).exp()).ln_1p()
    }
}

/// ln (Φ(b) - Φ(a)), for a < b, either of which may be infinite.
pub fn ln_between(a: f64, b: f64) -> f64 {
    if a > 0.0 {
        return ln_between(-b, -a); // in the lower tail differences are of small numbers
    }
    if b - a < NARROW {
        return ln_density(f64::midpoint(a, b)) + (b - a).ln();
    }
    if b > MIDDLE {
        return (-(ln_share(-b).exp() + ln_share(a).exp())).ln_1p();
    }
    if a >= -MIDDLE {
        return (series(b) - series(a)).ln();
    }
    let upper = ln_share(b);
    upper + (-(ln_share(a) - upper).exp()).ln_1p()
}

/// Φ(x) - 1/2, for x near the middle.
fn series(x: f64) -> f64 {
    let (mut term, mut sum, mut odd) = (x, x, 1.0);
    while term.abs() > sum.abs() * 1e-17 {
        odd += 2.0;
        term *= x * x / odd;
        sum += term;
    }
    sum * ln_density(x).exp()
}

/// ln (1 - Φ(x)), for x beyond the middle.
fn ln_tail(x: f64) -> f64 {
    if x.is_infinite() {
        return f64::NEG_INFINITY;
    }
    let fraction = (1..=FRACTION_TERMS)
        .rev()
        .fold(x, |below, k| x + f64::from(k) / below);
    ln_density(x) - fraction.ln()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn near(found: f64, expected: f64) {
        let tolerance = 1e-12 * expected.abs().max(1e-300);
        assert!(
            (found - expected).abs() <= tolerance,
            "{found:e} is not {expected:e}"
        );
    }

    /// mpmath 1.4.1 at 40 digits, `log(erfc(-x/sqrt(2))/2)`, with which scipy 1.17.1, `special.log_ndtr`, agrees to 12
    /// digits; at 12, where 40 digits are too few, scipy's.
    #[test]
    fn shares_far_out_and_near() {
        let table = [
            (-38.0, -726.557_216_018_820_1),
            (-12.0, -75.410_673_001_568_8),
            (-8.5, -39.197_396_428_217_67),
            (-5.0, -15.064_998_393_988_725),
            (-3.1, -6.940_688_458_421_228),
            (-3.0, -6.607_726_221_510_349),
            (-2.9, -6.284_058_234_947_419),
            (-1.0, -1.841_021_645_009_263_6),
            (-0.25, -0.913_061_764_811_135_1),
            (0.0, -std::f64::consts::LN_2),
            (0.25, -0.512_984_075_409_430_5),
            (1.0, -0.172_753_779_023_449_88),
            (1.96, -0.025_315_649_164_282_115),
            (2.9, -0.001_867_556_098_180_921_8),
            (3.1, -0.000_968_071_643_401_549_7),
            (5.0, -2.866_516_129_637_636e-7),
            (8.5, -9.479_534_822_203_318e-18),
            (12.0, -1.776_482_112_077_653e-33),
        ];
        for (x, expected) in table {
            near(ln_share(x), expected);
        }
        assert!(ln_share(38.0).abs() < 1e-300);
    }

    /// Abramowitz & Stegun 1964, table 26.1.
    #[test]
    fn the_printed_table() {
        for (x, expected) in [
            (1.0, 0.841_344_746_068_543),
            (2.0, 0.977_249_868_051_821),
            (0.5, 0.691_462_461_274_013),
        ] {
            assert!((ln_share(x).exp() - expected).abs() < 1e-14, "{x}");
        }
    }

    /// mpmath 1.4.1 at 40 digits, `log(cdf(b) - cdf(a))`.
    #[test]
    fn shares_between() {
        let table = [
            (-1.0, 1.0, -0.381_715_146_302_126_05),
            (-3.0, -2.0, -3.844_353_426_334_205_6),
            (2.0, 3.0, -3.844_353_426_334_205_6),
            (-0.5, 8.0, -0.368_946_415_288_657_3),
            (-9.0, 9.0, -2.257_176_811_907_681e-19),
            (9.0, 9.5, -43.637_491_414_572_416),
            (-30.0, -29.5, -439.429_474_950_018_7),
            (30.0, 31.0, -454.321_243_956_343_27),
            (-2.0, 40.0, -0.023_012_909_328_963_49),
            (-40.0, -2.0, -3.783_184_333_682_032),
            (3.0, 3.05, -8.489_134_540_016_202),
            (-3.05, -3.0, -8.489_134_540_016_202),
        ];
        for (a, b, expected) in table {
            near(ln_between(a, b), expected);
        }
    }

    /// The same; so narrow that only 9 digits are to be had.
    #[test]
    fn narrow_shares_between() {
        let table = [
            (1.0, 1.000_001, -15.234_449_591_251_34),
            (6.0, 6.000_001, -32.734_452_091_027_83),
            (-20.0, -19.999_999, -214.734_439_090_124_48),
            (0.3, 0.300_01, -12.476_865_498_190_193),
        ];
        for (a, b, expected) in table {
            assert!((ln_between(a, b) - expected).abs() < 1e-9, "{a} {b}");
        }
    }

    #[test]
    fn open_ends() {
        near(ln_between(f64::NEG_INFINITY, -5.0), ln_share(-5.0));
        near(ln_between(5.0, f64::INFINITY), ln_share(-5.0));
        assert!(ln_between(f64::NEG_INFINITY, f64::INFINITY).abs() < 1e-300);
    }
}
