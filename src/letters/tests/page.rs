//! Letters as pages: one of every kind, kept whole, and what holds of all.
//!
//! The pages stand in tests/data/letters, to be looked at in a browser. With the environment variable `WRITE_KEPT=1`
//! they are written anew; what has changed in them is then for a person to read.

use super::away::{maren, summer};
use super::work::three;
use super::*;
use crate::care::tests::season::maple;
use crate::kept;
use crate::letters::chart::Chart;
use crate::notices::Diary;
use crate::notices::seasons::news_for;
use crate::problem::Problem;
use std::collections::HashMap;

const ADDRESS: &str = "answers+5f0c2a1be4d94f6f8f3a7c0d1e2b3a49@alderfold.example";

/// A morning with news of one kind: how the days before it were foretold, how they came, which day it is, and what could
/// not be read.
struct Case {
    foretold: Season,
    season: Season,
    n: i64,
    problems: Vec<Problem>,
}

fn case(season: Season, n: i64) -> Case {
    Case {
        foretold: season.clone(),
        season,
        n,
        problems: Vec::new(),
    }
}

fn diary(rounds: &[chrono::NaiveDate]) -> Diary<'_> {
    Diary {
        rounds,
        ..Diary::default()
    }
}

fn otherwise(foretold: Season, season: Season, n: i64) -> Case {
    Case {
        foretold,
        ..case(season, n)
    }
}

impl Case {
    fn of(kind: Kind) -> Self {
        let seen = "15 C-14 over-callused, 15 C-15 over-callused";
        let gusty = "20x20 1x20g64 1x20g78 60x20";
        match kind {
            Kind::OverCallused => case(three().records(seen), 15),
            Kind::OverCallusRisk => case(three(), 20),
            Kind::HeatSpike => case(heat::hot("20x20 4x33 40x20"), 19),
            Kind::Wind => case(weather::loose(gusty), 17),
            Kind::Frost => case(
                weather::loose("62x12 1x-3/12 60x12").but(|s| s.batches[0].grafted_on = s.day(40)),
                59,
            ),
            Kind::CatchUp => case(summer(), 19),
            Kind::Opens => case(three().records("15 lines 8/10, 15 C-15 lines"), 15),
            Kind::LastCall => case(three().records("15 lines, 15 C-15 lines"), 21),
            Kind::Sisters => case(three().records("12 lines"), 12),
            Kind::Sentinel => case(maple().but(|s| s.lines.known = Some(0)), 12),
            Kind::Late => case(three().records("15 lines, 15 C-15 lines"), 29),
            Kind::Rain => case(weather::loose("4x20 1x20r8 1x20r22 60x20"), 4),
            Kind::RiskOver => otherwise(three(), three().weather("21x20 60x8"), 22),
            Kind::SpellOver => case(heat::hot("20x20 3x33 40x20"), 23),
            Kind::ColdStall => case(maple().weather("10x20 4x8 60x20"), 13),
            Kind::NoLongerDue => otherwise(three(), three().weather("12x20 3x5 40x20"), 16),
            Kind::LookAhead => case(summer(), 16),
            Kind::HeadsUp => case(summer(), 14),
            Kind::LastGraft => case(last_graft::season(), 43),
            Kind::NoTemperatures => case(maple().without_forecast().weather("11x20"), 13),
            Kind::Trouble => Self {
                problems: trouble::rows().to_vec(),
                ..case(maple(), 3)
            },
            Kind::Reminder => case(summer(), 33),
            Kind::Weekly => case(summer(), 12),
            Kind::Season => {
                let take = "16 lines, 20 C-15 dead 10, 2027-05-10 take 92";
                case(three().records(take), 366)
            }
        }
    }

    /// What Maren Holt is told of that kind.
    fn notices(&self, kind: Kind) -> Vec<Notice> {
        let mut ledger = Ledger::default();
        let mut rounds = Vec::new();
        // What a year brings is not played day by day.
        let first = (self.n - 40).max(0);
        for day in first..self.n {
            let told = news_for(
                &self.foretold,
                day,
                &ledger,
                &[],
                &[maren()],
                diary(&rounds),
            );
            for notice in told {
                if notice.kind != Kind::Season {
                    enter(&mut ledger, &notice, self.foretold.day(day));
                }
            }
            rounds.push(self.foretold.day(day));
        }
        let (day, people) = (self.n, [maren()]);
        let mut found = news_for(
            &self.season,
            day,
            &ledger,
            &self.problems,
            &people,
            diary(&rounds),
        );
        found.retain(|notice| notice.kind == kind);
        found
    }

    /// Text and page.
    fn written(&self, kind: Kind, reply_to: Option<&str>) -> (String, String) {
        let seasons = std::slice::from_ref(&self.season);
        let (n, units) = (self.n, Units::Metric);
        let notices = self.notices(kind);
        assert!(!notices.is_empty(), "nothing of {}", kind.name());
        Morning { seasons, n, units }.look_at(&notices, reply_to, |letter, context| {
            (letter.text(context), letter.html(context, usize::MAX))
        })
    }
}

#[test]
fn one_of_every_kind() {
    for kind in Kind::ALL {
        let case = Case::of(kind);
        let (text, page) = case.written(kind, Some(ADDRESS));
        says_the_same(&text, &page);
        kept::same_as("letters", &format!("{}.html", kind.name()), &page);
        assert!(!text.contains("graftwarden note"), "{text}");
        let (text, page) = case.written(kind, None);
        says_the_same(&text, &page);
        assert!(!page.contains("mailto:"), "{page}");
    }
    assert_eq!(
        kept::count("letters"),
        Kind::ALL.len() + 1,
        "one more has forty batches"
    );
}

/// What holds of every page: it says what the text says, is closed in itself, and short.
#[track_caller]
pub(super) fn says_the_same(text: &str, page: &str) {
    is_closed_in_itself(page);
    let mut said: HashMap<String, usize> = HashMap::new();
    for word in words(&seen(page)) {
        *said.entry(word).or_default() += 1;
    }
    for word in words(text) {
        let left = said.get_mut(&word).filter(|left| **left > 0);
        *left.unwrap_or_else(|| panic!("the page does not say {word:?} as often as the text")) -= 1;
    }
}

/// Nothing is fetched or run; every element ends; it is not cut off by any mail program.
#[track_caller]
fn is_closed_in_itself(page: &str) {
    assert!(page.len() < 100_000, "{} bytes", page.len());
    assert!(page.starts_with("<!DOCTYPE html><html lang=\"en\"><head>"));
    let mut open: Vec<&str> = Vec::new();
    for tag in tags(page) {
        let name = tag.split([' ', '>']).next().unwrap();
        match name.strip_prefix('/') {
            Some(name) => assert_eq!(open.pop(), Some(name)),
            None if ["meta", "br", "col", "img", "!DOCTYPE"].contains(&name) => {}
            None => open.push(name),
        }
        assert!(!["script", "link", "iframe", "object", "form"].contains(&name));
        for (attribute, value) in attributes(tag) {
            let may = match attribute {
                "href" => value.starts_with("mailto:"),
                "src" => value.starts_with("cid:"),
                "style" => !value.contains("url("),
                _ => [
                    "alt", "charset", "class", "colspan", "content", "dir", "lang", "name",
                    "scope", "width",
                ]
                .contains(&attribute),
            };
            assert!(may, "{tag}");
        }
    }
    assert!(open.is_empty(), "{open:?}");
    let style = page.split("<style>").nth(1).unwrap();
    let style = style.split("</style>").next().unwrap();
    assert!(!style.contains("url(") && !style.contains("@import"));
}

/// What stands between `<` and `>`.
fn tags(page: &str) -> impl Iterator<Item = &str> {
    page.split('<')
        .skip(1)
        .map(|part| part.split('>').next().unwrap())
}

fn attributes(tag: &str) -> impl Iterator<Item = (&str, &str)> {
    let mut parts = tag.split('"');
    std::iter::from_fn(move || {
        let name = parts.next()?;
        let value = parts.next()?;
        Some((name.strip_suffix('=')?.rsplit(' ').next()?, value))
    })
}

/// The words of a page as a reader sees them.
fn seen(page: &str) -> String {
    let body = page.split("<body").nth(1).unwrap();
    let parts = body.split('<').map(|part| part.split_once('>').unwrap().1);
    let parts: Vec<&str> = parts.collect();
    let text: Vec<&str> = parts.iter().flat_map(|p| p.split_whitespace()).collect();
    text.join(" ")
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&amp;", "&")
}

/// Small, and without the marks around them; a heading of the text is in capitals.
fn words(text: &str) -> impl Iterator<Item = String> {
    let bare = |word: &str| {
        word.trim_matches(|c: char| ".,:;?-()\"".contains(c))
            .to_lowercase()
    };
    text.split_whitespace().map(bare).filter(|w| !w.is_empty())
}

#[test]
fn what_the_page_does_not_say_is_found() {
    let (text, page) = Case::of(Kind::Opens).written(Kind::Opens, None);
    let missed = |text: &str| std::panic::catch_unwind(|| says_the_same(text, &page)).is_err();
    assert!(!missed(&text));
    assert!(missed(&format!("{text} elsewhere")));
    let open = |page: &str| std::panic::catch_unwind(|| is_closed_in_itself(page)).is_err();
    assert!(!open(&page));
    for hole in [
        "<script>1</script>",
        "<img src=\"https://alderfold.example/x.png\">",
        "<a href=\"https://alderfold.example\">x</a>",
        "<p onclick=\"x\">x</p>",
        "<p style=\"background:url(x)\">x</p>",
        "<p>",
        &"x".repeat(100_000),
    ] {
        assert!(
            open(&page.replace("</main>", &format!("{hole}</main>"))),
            "{hole}"
        );
    }
}

/// The page of a letter about batches of these names.
fn page_of(names: &[&str], reply_to: Option<&str>) -> (String, String) {
    let season = maple().but(|s| {
        s.batches[0].name = names[0].into();
        for name in &names[1..] {
            another(s, name, |b| b.scion = (*name).into());
        }
        for batch in &mut s.batches {
            batch.block = batch.name.as_str().into();
        }
    });
    let notices = of_kind(&season, 0..0, 15, Kind::Opens);
    let seasons = std::slice::from_ref(&season);
    let (n, units) = (15, Units::Metric);
    Morning { seasons, n, units }.look_at(&notices, reply_to, |letter, context| {
        (letter.text(context), letter.html(context, usize::MAX))
    })
}

#[test]
fn names_are_names_and_nothing_else() {
    let names = [
        "<script>alert(1)</script>",
        "\"><img src=x onerror=alert(1)>",
        "&amp;",
        "</table></main>",
        "🌳 C-14 – Blütenhügel",
    ];
    let (text, page) = page_of(&names, Some(ADDRESS));
    says_the_same(&text, &page);
    let seen = seen(&page);
    for name in names {
        assert!(seen.contains(name), "{name}");
    }
    // The page is built as with any other names.
    let (_, plain) = page_of(&["A-1", "B-2", "C-3", "D-4", "E-5"], Some(ADDRESS));
    let built = |page: &str| -> String {
        let names = tags(page).map(|tag| tag.split(' ').next().unwrap());
        let names: Vec<&str> = names.filter(|name| !name.ends_with("span")).collect();
        names.join(" ")
    };
    assert_eq!(built(&page), built(&plain));
}

#[test]
fn marks_that_turn_round_what_stands_beside_them_are_left_out() {
    let (_, page) = page_of(
        &["C-\u{202e}41\u{202c}\u{2067}x\u{0}\u{7}\u{fffe}", "D"],
        None,
    );
    assert!(seen(&page).contains("Block C-41x"));
    let turns = [
        '\u{202e}', '\u{202c}', '\u{2067}', '\u{0}', '\u{7}', '\u{fffe}',
    ];
    assert!(!page.contains(turns));
    // Letters that are written from right to left are letters.
    let (_, page) = page_of(&["כרם 3", "D"], None);
    assert!(seen(&page).contains("Block כרם 3"));
}

#[test]
fn what_is_beyond_a_page_is_counted_and_stands_in_the_text() {
    let names: Vec<String> = (0..1_200).map(|n| format!("{n:04}")).collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let (text, page) = page_of(&names, Some(ADDRESS));
    is_closed_in_itself(&page);
    for name in &names {
        assert!(text.contains(&format!("Block {name}: 1 batch")), "{name}");
        assert!(text.contains(&format!("\n  {name}  ")), "{name}");
    }
    let seen = seen(&page);
    assert!(
        seen.contains(
            "And 1,170 batches more, in the text of this letter and on the server: graftwarden due"
        ),
        "{seen}"
    );
    assert!(
        seen.contains("And 1100 more, in the text of this letter."),
        "{seen}"
    );
    assert!(
        page.contains("&amp;body=lines\""),
        "more than a few are not named"
    );
}

#[test]
fn forty_batches_in_six_blocks_are_shown_whole() {
    let seasons = [
        crowd::site("home", ["A", "B", "C"]),
        crowd::site("hill", ["H1", "H2", "H3"]),
    ];
    let told = |season| of_kind(season, 0..0, 16, Kind::Opens);
    let notices: Vec<Notice> = seasons.iter().flat_map(told).collect();
    let (seasons, n, units) = (&seasons[..], 16, Units::Us);
    let morning = Morning { seasons, n, units };
    let (text, page) = morning.look_at(&notices, Some(ADDRESS), |letter, context| {
        (letter.text(context), letter.html(context, usize::MAX))
    });
    says_the_same(&text, &page);
    kept::same_as("letters", "forty-batches.html", &page);
}

#[test]
fn a_long_name_is_cut_where_nothing_else_helps() {
    let long = "long ".repeat(30_000);
    let (text, page) = page_of(&[&long, "D"], Some(ADDRESS));
    is_closed_in_itself(&page);
    assert!(text.split_whitespace().filter(|w| *w == "long").count() >= 60_000);
    assert!(seen(&page).contains("long ... (the rest stands in the text of this letter)"));
}

#[test]
fn the_chart_stands_after_the_batches_and_says_what_it_shows() {
    let season = three();
    let notices = of_kind(&season, 0..0, 15, Kind::Opens);
    let seasons = std::slice::from_ref(&season);
    let (n, units) = (15, Units::Metric);
    let page = Morning { seasons, n, units }.look_at(&notices, None, |letter, context| {
        letter.charts.push(Chart {
            site: "home".into(),
            cid: "home-1@alderfold.example".into(),
            alt: "Heat of \"C-14\" & C-15".into(),
            svg: String::new(),
            shown: true,
        });
        letter.html(context, usize::MAX)
    });
    is_closed_in_itself(&page);
    let at = |what: &str| page.find(what).unwrap();
    let picture =
        "<img src=\"cid:home-1@alderfold.example\" alt=\"Heat of &quot;C-14&quot; &amp; C-15\"";
    assert!(at("</table>") < at(picture));
    assert!(at(picture) < at("Done? Write it"));
    assert!(at("Done? Write it") < at("<footer"));
}

#[test]
fn a_chart_that_could_not_be_drawn_is_said_in_words() {
    let season = three();
    let notices = of_kind(&season, 0..0, 15, Kind::Opens);
    let seasons = std::slice::from_ref(&season);
    let (n, units) = (15, Units::Metric);
    let page = Morning { seasons, n, units }.look_at(&notices, None, |letter, context| {
        for chart in &mut letter.charts {
            chart.shown = false;
        }
        letter.html(context, usize::MAX)
    });
    is_closed_in_itself(&page);
    assert!(!page.contains("<img") && !page.contains("cid:"));
    assert!(seen(&page).contains("warmth since grafting in standard days"));
}
