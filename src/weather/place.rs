//! Places on the globe, as services take and give them. Knows no service.

use crate::nursery::Site;

/// A coordinate with four decimals, 11 m, which is also the most that some services take; never a minus before nought.
pub fn coordinate(degrees: f64) -> String {
    // Adding nought turns -0 into 0.
    format!("{:.4}", (degrees * 1e4).round() / 1e4 + 0.0)
}

/// How far a place is from a site, in degrees of latitude (111 km each); good for neighbours, which is all it is for.
pub fn degrees_apart(site: &Site, latitude: f64, longitude: f64) -> f64 {
    let north = latitude - site.latitude;
    let around = (longitude - site.longitude + 540.0).rem_euclid(360.0) - 180.0;
    north.hypot(around * site.latitude.to_radians().cos())
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono_tz::Tz;

    #[track_caller]
    fn check(degrees: f64, text: &str) {
        assert_eq!(coordinate(degrees), text);
    }

    #[test]
    fn coordinates_have_four_decimals() {
        check(59.913_868, "59.9139");
        check(-0.127_76, "-0.1278");
        check(7.0, "7.0000");
        check(-179.999_96, "-180.0000");
        check(-0.000_04, "0.0000");
    }

    #[track_caller]
    fn apart((latitude, longitude): (f64, f64), other: (f64, f64), degrees: f64) {
        let site = Site {
            id: "hill".into(),
            latitude,
            longitude,
            elevation: None,
            zone: Tz::UTC,
            standard_day: None,
        };
        let found = degrees_apart(&site, other.0, other.1);
        assert!((found - degrees).abs() < 1e-9, "{found}");
    }

    #[test]
    fn distances_hold_at_the_date_line_the_equator_and_the_pole() {
        apart((-17.0, 180.0), (-17.0, -180.0), 0.0);
        apart((0.0, 179.9), (0.0, -179.9), 0.2);
        // A degree of longitude is half as long at 60° north, and nothing at the pole.
        apart((60.0, 10.0), (60.0, 12.0), 1.0);
        apart((90.0, 0.0), (89.0, 0.0), 1.0);
        apart((90.0, 0.0), (90.0, 120.0), 0.0);
    }
}
