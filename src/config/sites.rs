//! `[[site]]`: the places, each with its sources of temperatures.

use super::raw::Section;
use super::report::Complaint;
use super::resolve::zone;
use super::{SiteConfig, sources};
use crate::days::Thresholds;
use crate::nursery::Site;
use crate::units::DegreeDays;
use chrono::{Offset, TimeZone};
use chrono_tz::Tz;
use std::path::Path;

/// Reads every site; one that is wrong is none.
pub(super) fn read(
    top: &Section<'_>,
    zone: Option<Tz>,
    folder: &Path,
    contact: Option<&str>,
) -> Vec<Option<SiteConfig>> {
    if !top.has("site") {
        top.error(
            "the file has no site",
            "add a [[site]] with id, latitude and longitude, and a [[site.weather]]",
        );
    }
    let mut sites: Vec<Option<SiteConfig>> = Vec::new();
    for section in top.sections("site") {
        let place = section.place("id");
        let site = site(section, zone, folder, contact);
        let same = |other: &SiteConfig| site.as_ref().is_some_and(|s| s.site.id == other.site.id);
        if sites.iter().flatten().any(same) {
            let complaint = Complaint::new(
                "another site has this id",
                "give each site an id of its own",
            );
            top.findings().error(place, complaint);
        }
        sites.push(site);
    }
    sites
}

fn site(
    s: Section<'_>,
    nursery_zone: Option<Tz>,
    folder: &Path,
    contact: Option<&str>,
) -> Option<SiteConfig> {
    let id = s.need(
        "id",
        s.line("id"),
        "write the name the register uses, as in id = \"hill\"",
    );
    let latitude = s.number("latitude", -90.0..=90.0);
    let latitude = s.need(
        "latitude",
        latitude,
        "write degrees, north positive: latitude = 50.85",
    );
    let longitude = s.number("longitude", -180.0..=180.0);
    let longitude = s.need(
        "longitude",
        longitude,
        "write degrees, east positive: longitude = 4.35",
    );
    let elevation = s.number("elevation", -450.0..=6000.0);
    let standard_day = s.number("standard_day", 1.0..=40.0).map(DegreeDays);
    let zone = zone(&s).or(nursery_zone);
    if let (Some(longitude), Some(zone)) = (longitude, zone) {
        far_from_zone(&s, longitude, zone);
    }
    let weather: Vec<_> = s
        .sections("weather")
        .into_iter()
        .map(|section| sources::read(section, folder, contact))
        .collect();
    if weather.is_empty() {
        s.error(
            "this site has no source of temperatures",
            "add a [[site.weather]] with source = \"file\" or source = \"open-meteo\"",
        );
    }
    let thresholds = s.section("quality").map(thresholds).unwrap_or_default();
    let past_years = s.line("past_years").map(|path| folder.join(path));
    s.finish();
    Some(SiteConfig {
        thresholds,
        past_years,
        site: Site {
            id: id?,
            latitude: latitude?,
            longitude: longitude?,
            elevation,
            zone: zone?,
            standard_day,
        },
        weather: weather.into_iter().collect::<Option<_>>()?,
    })
}

/// What the site takes for possible and usual; what is left out is as everywhere.
fn thresholds(s: Section<'_>) -> Thresholds {
    let usual = Thresholds::default();
    let read = Thresholds {
        coldest: s.number("coldest", -90.0..=20.0).unwrap_or(usual.coldest),
        warmest: s.number("warmest", 20.0..=65.0).unwrap_or(usual.warmest),
        least_range: s
            .number("least_range", 0.0..=10.0)
            .unwrap_or(usual.least_range),
        most_range: s
            .number("most_range", 5.0..=60.0)
            .unwrap_or(usual.most_range),
        jump: s.number("jump", 5.0..=60.0).unwrap_or(usual.jump),
        equal_doubted: s
            .whole("equal_doubted", 2..=366)
            .unwrap_or(usual.equal_doubted),
        equal_rejected: s
            .whole("equal_rejected", 2..=366)
            .unwrap_or(usual.equal_rejected),
        like_fahrenheit: s
            .number("like_fahrenheit", 30.0..=90.0)
            .unwrap_or(usual.like_fahrenheit),
        apart: s.number("apart", 2.0..=30.0).unwrap_or(usual.apart),
        apart_days: s.whole("apart_days", 1..=31).unwrap_or(usual.apart_days),
    };
    s.finish();
    read
}

/// A lost minus sign puts a site into an ocean, where services answer all the same.
fn far_from_zone(s: &Section<'_>, longitude: f64, zone: Tz) {
    let ahead = zone.offset_from_utc_datetime(&chrono::NaiveDateTime::default());
    let sun = f64::from(ahead.fix().local_minus_utc()) / 240.0;
    let apart = (longitude - sun).rem_euclid(360.0);
    if apart.min(360.0 - apart) > 60.0 {
        let what = format!("longitude {longitude} lies far from the zone {zone}");
        let complaint = Complaint::new(what, "check its sign: east is positive, west negative");
        s.findings().warning(s.place("longitude"), complaint);
    }
}

#[cfg(test)]
mod tests {
    use crate::config::tests::{SMALL, check_refused, check_warned, with};

    #[test]
    fn sites_must_make_sense() {
        check_refused(&with("id = \"hill\"", ""), &["[site] has no id"]);
        check_refused(
            &with("50.85", "\"50.85\""),
            &["`latitude` cannot be the text '50.85'"],
        );
        check_refused(&with("4.35", "4.35\nstandard_day = 0.5"), &["from 1 to 40"]);
        check_refused(
            &with(
                "4.35",
                "4.35\nquality = { apart = 1, like_fahrenheit = 20, apart_days = 0 }",
            ),
            &["from 2 to 30", "from 30 to 90", "from 1 to 31"],
        );
        check_refused(&with("source = \"file\"", ""), &["no source"]);
        check_refused(
            &with("path =", "key_file ="),
            &["belongs to source = \"open-meteo\"", "no path"],
        );
        check_refused(
            &with(
                "[[site.weather]]\nsource = \"file\"\npath = \"hill.csv\"",
                "",
            ),
            &["no source of temperatures"],
        );
        check_warned(&with("4.35", "-104.35"), &["far from the zone"]);
        let (head, tail) = SMALL.split_once("[[people]]").unwrap();
        let site = &head[head.find("[[site]]").unwrap()..];
        check_refused(
            &format!("{head}{site}[[people]]{tail}"),
            &["another site has this id"],
        );
    }
}
