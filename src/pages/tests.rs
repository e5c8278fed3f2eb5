//! Whole pages of a small season, kept in tests/data/pages to be looked at in a browser, and what holds of every page.
//!
//! With the environment variable `WRITE_KEPT=1` the kept ones are written anew; what has changed in them is then for a
//! person to read.

use super::{Occasion, due_page, field_sheet};
use crate::care::tests::season::{Season, maple, weekdays};
use crate::care::{FORTNIGHT, workload};
use crate::kept;
use crate::letters::tests::Morning;
use crate::nursery::Batch;
use crate::problem::Problem;
use crate::units::Units;
use std::collections::HashSet;

/// `due.html` and `field-sheet.html` of day `n`, written at ten past six.
fn pages(seasons: &[Season], n: i64, problems: &[Problem]) -> [String; 2] {
    let units = Units::Metric;
    Morning { seasons, n, units }.with(|context| {
        let loads = workload(
            context.cares,
            context.outlook,
            context.workdays,
            context.today,
            FORTNIGHT,
        );
        let at = |day: chrono::NaiveDate| day.and_hms_opt(6, 10, 0).unwrap();
        let occasion = Occasion {
            context,
            loads: &loads,
            problems,
            written: at(context.today),
            next: context.today.succ_opt().map(at),
        };
        [due_page(&occasion), field_sheet(&occasion)]
    })
}

fn batch(season: &Season, name: &str, block: &str, grafts: u32, grafted: i64) -> Batch {
    Batch {
        name: name.into(),
        block: block.into(),
        site: season.site.id.as_str().into(),
        grafts,
        grafted_on: season.day(grafted),
        ..season.batches[0].clone()
    }
}

/// Two sites. At home block A is late with its look, block C is being headed back, with a hot spell to come; on the hill
/// it is cold, and nothing is due. Nobody works at the weekend.
fn small() -> [Season; 2] {
    let home = maple()
        .weather("21x20 2x24/36f 6x20f")
        .records("15 C-14 lines 8/10, 16 C-14 headed-back 40")
        .but(|s| {
            s.workdays = weekdays();
            let a = [batch(s, "A-2", "A", 60, -4), batch(s, "A-3", "A", 210, -3)];
            s.batches.splice(0..0, a);
        });
    let hill = maple().weather("60x14").but(|s| {
        s.site.id = "hill".into();
        s.batches = vec![batch(s, "H-1", "H", 310, 0)];
    });
    [home, hill]
}

fn trouble() -> Vec<Problem> {
    vec![Problem::new(
        "mail to jory@alderfold.example",
        "the mail server does not know this address",
        "the letter is not tried again",
        "check the address",
    )]
}

/// The tags of a page: name, and the rest of it.
fn tags(page: &str) -> Vec<(&str, &str)> {
    let body = page.split_once("</style>").unwrap().1;
    body.split('<')
        .skip(1)
        .map(|rest| {
            let tag = rest.split_once('>').expect("a tag ends").0;
            tag.split_once(' ').unwrap_or((tag, ""))
        })
        .collect()
}

fn attribute<'p>(rest: &'p str, name: &str) -> Option<&'p str> {
    let (_, from) = format!(" {rest}")
        .find(&format!(" {name}=\""))
        .map(|at| rest.split_at(at + name.len() + 2))?;
    from.split_once('"').map(|(value, _)| value)
}

/// What holds of every page: tags end in order, ids are unique, links lead somewhere on the page or beside it, tables
/// have captions and headings that say what they head, and nothing is fetched or run.
#[track_caller]
fn is_sound(page: &str) {
    const ALONE: [&str; 2] = ["br", "meta"];
    let tags = tags(page);
    let mut open: Vec<&str> = vec!["html", "head"];
    let mut ids = HashSet::new();
    for &(name, rest) in &tags {
        match name.strip_prefix('/') {
            Some(ended) => assert_eq!(open.pop(), Some(ended), "{ended}"),
            None if ALONE.contains(&name) => {}
            None => open.push(name),
        }
        if let Some(id) = attribute(rest, "id") {
            assert!(ids.insert(id), "{id} stands twice");
        }
        assert!(
            !["script", "link", "iframe", "form", "img"].contains(&name),
            "{name}"
        );
        assert!(
            attribute(rest, "style").is_none() && !rest.contains("onerror="),
            "{rest}"
        );
        if name == "th" {
            assert!(["col", "row", "rowgroup"].contains(&attribute(rest, "scope").unwrap()));
        }
    }
    assert_eq!(open, [""; 0]);
    let count = |of: &str| tags.iter().filter(|(name, _)| *name == of).count();
    assert_eq!(count("table"), count("caption"));
    assert_eq!((count("h1"), count("main")), (1, 1));
    for (_, rest) in tags.iter().filter(|(name, _)| *name == "a") {
        let to = attribute(rest, "href").unwrap();
        let beside = ["due.html", "field-sheet.html", "due.ics"].contains(&to);
        assert!(
            beside || ids.contains(to.strip_prefix('#').unwrap()),
            "{to}"
        );
    }
    for (_, rest) in &tags {
        if let Some(by) = attribute(rest, "aria-labelledby") {
            assert!(ids.contains(by), "{by}");
        }
    }
    assert!(!page.contains("http:") && !page.contains("https:") && !page.contains("url("));
}

#[test]
fn a_small_season() {
    let [due, sheet] = pages(&small(), 19, &trouble());
    is_sound(&due);
    is_sound(&sheet);
    kept::same_as("pages", "due.html", &due);
    kept::same_as("pages", "field-sheet.html", &sheet);
    assert!(!due.contains('@') || due.split('@').skip(1).all(|rest| rest.starts_with("media")));
}

#[test]
fn names_stay_text() {
    let nasty = [
        "</th><script>alert(1)</script>",
        "\"><img src=x onerror=alert(1)>",
        "C\u{202e}41-\0\u{1b}[2J",
        "&amp;<!--",
    ];
    let season = maple().but(|s| {
        let origin = s.batches[0].clone();
        s.batches = nasty
            .iter()
            .map(|text| Batch {
                name: (*text).into(),
                block: (*text).into(),
                scion: (*text).into(),
                understock: (*text).into(),
                ..origin.clone()
            })
            .collect();
    });
    let problem = Problem::new(nasty[0], nasty[1], nasty[2], nasty[3]);
    for page in pages(&[season], 19, &[problem]) {
        is_sound(&page);
        assert!(!page.contains("<script") && !page.contains("<img") && !page.contains("<!--"));
        assert!(!page.contains(['\0', '\u{1b}']));
        assert!(page.contains("<bdi>&lt;/th&gt;&lt;script&gt;alert(1)&lt;/script&gt;</bdi>"));
        assert!(page.contains("<bdi>&amp;amp;&lt;!--</bdi>"));
    }
}

#[test]
fn an_empty_nursery_says_so() {
    let season = maple().but(|s| s.batches.clear());
    let [due, sheet] = pages(&[season], 19, &[]);
    is_sound(&due);
    is_sound(&sheet);
    assert!(due.contains("No batch is open: nothing is due."));
    assert!(due.contains("None: all was read, fetched and sent."));
    assert!(sheet.contains("Nothing is due today."));
}

#[test]
fn a_finished_nursery_too() {
    let season = maple().records("15 closed");
    let [due, sheet] = pages(&[season], 19, &[]);
    is_sound(&due);
    assert!(due.contains("No batch is open: nothing is due."));
    assert!(sheet.contains("Nothing is due today."));
}

#[test]
fn two_thousand_batches_are_a_page_that_a_phone_takes() {
    let season = maple().but(|s| {
        s.batches = (0..2000)
            .map(|k| {
                let (block, grafted) = (format!("Lower field {:02}", k / 40), i64::from(k % 9) - 4);
                batch(s, &format!("C-{k:04}"), &block, 90 + k % 7, grafted)
            })
            .collect();
    });
    let [due, sheet] = pages(&[season], 20, &[]);
    is_sound(&due);
    is_sound(&sheet);
    for page in [&due, &sheet] {
        assert!(page.len() < 2_000_000, "{}", page.len());
        assert!(page.contains("<bdi>C-0000</bdi>") && page.contains("<bdi>C-1999</bdi>"));
    }
}

#[test]
fn a_day_off_names_the_next_working_day() {
    // Day 17 is a Saturday.
    let [_, sheet] = pages(&small(), 17, &[]);
    assert!(sheet.contains("Nobody works today</strong>; the next working day is Mon 20 Jul."));
    let [_, sheet] = pages(&small(), 19, &[]);
    assert!(!sheet.contains("Nobody works today"));
}
