//! Files of the grower and of the program, damaged: config, care plans, the register's kin, files of stations.

use super::damaged_text;
use chrono_tz::America;
use graftwarden::config::Config;
use graftwarden::nursery::Site;
use graftwarden::register::{AcceptedFile, RowFile, Told, read_sightings};
use graftwarden::weather::http::Patience;
use graftwarden::weather::{Ask, Source, noaa_daily};
use proptest::prelude::*;
use std::fs;
use std::path::Path;
use std::time::Duration;
use tempfile::TempDir;

const CONFIG: &str = include_str!("../../../config/graftwarden.toml");
const PLAN: &str = include_str!("../../../config/plans/maple-field-t-graft.toml");
const DLY: &str = include_str!("../../data/weather/noaa-station.dly");
const STATION: &str = include_str!("../../data/weather/noaa-station.csv");
const ACCEPTED: &str = "id,accepted_at,date,batch,what,count,by,remarks\n\
    a1,2026-08-03T06:00:00Z,2026-08-03,C-14,lines,3/10,Jory,\"row 12, wet\"\n\
    a2,2026-08-04T06:00:00Z,2026-08-04,block:C,headed-back,,,\n";
const SIGHTINGS: &str =
    "group,above,upto,seasons_ago\nEmber Lace,180,215,0\nEmber Lace,,190.5,1\nGreen Fan,200,,2\n";

/// A folder with this in a file of this name.
fn folder(name: &str, text: &str) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join(name), text).unwrap();
    folder
}

/// A config is taken, or each thing that is wrong with it is named with a remedy, and the excerpts can be drawn.
fn is_judged(path: &Path) -> Result<(), TestCaseError> {
    let problems = match Config::load(path) {
        Ok(config) => {
            prop_assert!(!config.sites.is_empty());
            config.warnings
        }
        Err(trouble) => {
            let problems = trouble.problems();
            prop_assert!(!problems.is_empty() && !trouble.render(true).is_empty());
            problems
        }
    };
    for problem in problems {
        prop_assert!(
            !problem.what.is_empty() && !problem.remedy.is_empty(),
            "{problem}"
        );
    }
    Ok(())
}

/// The days of a station's file.
fn station(name: &str, text: &str) -> graftwarden::weather::Fetched {
    let folder = folder(name, text);
    let site = Site {
        id: "hill".into(),
        latitude: 42.5,
        longitude: -74.0,
        elevation: None,
        zone: America::New_York,
        standard_day: None,
    };
    let settings = noaa_daily::Settings {
        url: None,
        station: None,
        path: Some(folder.path().join(name)),
        contact: String::new(),
    };
    let unused = Patience {
        connect: Duration::ZERO,
        whole: Duration::ZERO,
        retries: 0,
        pause: Duration::ZERO,
        longest_pause: Duration::ZERO,
    };
    let source = noaa_daily::NoaaDaily::new(&site, settings, unused).unwrap();
    let ask = Ask {
        now: "2026-10-10T03:00:00Z".parse().unwrap(),
        from: "2026-09-01".parse().unwrap(),
        memo: None,
    };
    let runtime = tokio::runtime::Builder::new_current_thread().build();
    runtime.unwrap().block_on(source.fetch(ask))
}

/// How many rows of it can be used, and what else there is to say.
fn read_accepted(folder: &TempDir) -> (usize, Told) {
    let mut rows = 0;
    let file = AcceptedFile::open(&folder.path().join("accepted.csv"));
    let told = file.read(&mut |_| rows += 1);
    (rows, told)
}

#[test]
fn what_is_damaged_below_is_whole() {
    let config = folder("graftwarden.toml", CONFIG);
    assert!(Config::load(&config.path().join("graftwarden.toml")).is_ok());
    for (name, text) in [("a.dly", DLY), ("a.csv", STATION)] {
        assert!(!station(name, text).days.is_empty(), "{name}");
    }
    let (rows, accepted) = read_accepted(&folder("accepted.csv", ACCEPTED));
    assert_eq!((rows, accepted.problems), (2, vec![]));
    let sightings = read_sightings(&folder("s.csv", SIGHTINGS).path().join("s.csv"));
    assert_eq!(sightings.unwrap().1, []);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 192, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_config_is_judged(text in damaged_text(CONFIG)) {
        let folder = folder("graftwarden.toml", &text);
        is_judged(&folder.path().join("graftwarden.toml"))?;
    }

    #[test]
    fn a_care_plan_is_judged(plan in damaged_text(PLAN)) {
        let folder = folder("plan.toml", &plan);
        let config = CONFIG.replace("# plans = [\"plans/our-maples.toml\"]", "plans = [\"plan.toml\"]");
        prop_assert_ne!(&config, CONFIG);
        let path = folder.path().join("graftwarden.toml");
        fs::write(&path, config).unwrap();
        is_judged(&path)?;
    }

    #[test]
    fn bytes_are_no_config(bytes in prop::collection::vec(any::<u8>(), 1..400)) {
        let folder = folder("graftwarden.toml", "");
        let path = folder.path().join("graftwarden.toml");
        fs::write(&path, bytes).unwrap();
        is_judged(&path)?;
    }

    #[test]
    fn a_stations_file_is_borne(dly in damaged_text(DLY), csv in damaged_text(STATION)) {
        for (name, text) in [("a.dly", &dly), ("a.csv", &csv)] {
            let found = station(name, text);
            prop_assert!(found.days.is_sorted_by(|a, b| a.date < b.date));
            prop_assert!(found.answered || !found.problems.is_empty());
            for day in found.days {
                prop_assert!(day.min.is_finite() && day.max.is_finite(), "{:?}", day);
                prop_assert!(day.rain.is_none_or(f64::is_finite), "{:?}", day);
            }
        }
    }

    #[test]
    fn the_programs_own_records_are_borne(text in damaged_text(ACCEPTED)) {
        let folder = folder("accepted.csv", &text);
        let (rows, read) = read_accepted(&folder);
        prop_assert!(rows <= text.lines().count());
        prop_assert!(rows > 0 || !read.problems.is_empty() || text.lines().count() < 3);
    }

    #[test]
    fn sightings_are_borne(text in damaged_text(SIGHTINGS)) {
        let folder = folder("s.csv", &text);
        if let Err(problem) = read_sightings(&folder.path().join("s.csv")) {
            prop_assert!(!problem.what.is_empty());
        }
    }
}
