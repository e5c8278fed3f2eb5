//! How a letter says that it is answered, where answers are read.

use super::work::three;
use super::*;
use crate::care::tests::season::{date, maple};
use crate::letters::Reply;
use crate::letters::ReplyTo;

const ADDRESS: &str = "answers+0f3a@alderfold.example";

/// What is said of answering, and below it each reply: what is tapped, and its lines.
fn answers(season: &Season, n: i64, notices: &[Notice]) -> String {
    let seasons = std::slice::from_ref(season);
    let units = Units::Metric;
    let morning = Morning { seasons, n, units };
    morning.look_at(notices, Some(ADDRESS), |letter, context| {
        let Some(answer) = letter.answer.clone() else {
            return "none".into();
        };
        let (text, page) = (letter.text(context), letter.html(context, usize::MAX));
        let words: Vec<&str> = text.split_whitespace().collect();
        assert!(words.join(" ").contains(&answer.say), "{text}");
        for reply in &answer.replies {
            let link = reply
                .mailto(&to(ADDRESS), &letter.subject)
                .replace('&', "&amp;");
            assert!(page.contains(&format!("<a href=\"{link}\"")), "{page}");
        }
        let replies = answer.replies.iter();
        let replies =
            replies.map(|Reply { label, lines }| format!("\n{label}: {}", lines.join(" | ")));
        answer.say + &replies.collect::<String>()
    })
}

/// The same, of the news of one kind.
fn of(season: &Season, n: i64, kind: Kind) -> String {
    answers(season, n, &of_kind(season, 1..n, n, kind))
}

/// The same, of one step on a date.
fn step(season: &Season, on: &str, step: &str) -> String {
    let n = (date(on) - season.day(0)).num_days();
    let mut notices = news(season, n, &Ledger::default(), &[]);
    notices.retain(|notice| notice.step.as_deref() == Some(step));
    answers(season, n, &notices)
}

#[test]
fn a_look_for_lines() {
    insta::assert_snapshot!(of(&three(), 15, Kind::Opens), @r#"
    Answer this letter: "lines", "no lines" (look for callus lines: C-14 and C-15), or a line for each batch, such as "C-14 lines 3/10".
    Lines showing: C-14 lines | C-15 lines
    No lines yet: C-14 no lines | C-15 no lines
    "#);
}

#[test]
fn work_that_is_done_or_not_yet() {
    let season = three().records("15 lines 8/10, 15 C-15 lines");
    insta::assert_snapshot!(of(&season, 15, Kind::Opens), @r#"
    Answer this letter: "done" (head back: C-14 and C-15), "not yet", or a line for each batch, such as "C-14 headed back 60".
    Done: C-14 done | C-15 done
    Not yet: not yet
    "#);
}

#[test]
fn done_is_offered_where_all_is_to_be_done() {
    let season = three().records("15 lines 8/10, 15 C-15 lines 3/10");
    insta::assert_snapshot!(of(&season, 15, Kind::Opens), @r#"
    Answer this letter: "done" (head back: C-14), "not yet". Lines showed on a part of C-15 only: answer this letter with how many were done, a line for each batch, such as "C-15 headed back 120".
    Done: C-14 done
    Write the count: C-15 headed back 
    Not yet: not yet
    "#);
    let season = three().records("15 lines 2/10, 15 C-15 lines 3/10");
    insta::assert_snapshot!(of(&season, 15, Kind::Opens), @r#"
    Lines showed on a part of C-14 and C-15 only: answer this letter with how many were done, a line for each batch, such as "C-14 headed back 60". "Not yet" writes nothing down.
    Write the count: C-14 headed back  | C-15 headed back 
    Not yet: not yet
    "#);
}

#[test]
fn work_that_is_done_in_part() {
    let season = maple().records("15 lines, 15 headed-back 40");
    insta::assert_snapshot!(step(&season, "2026-07-16", "head-back"), @r#"
    Answer this letter: "done" (head back: C-14), "not yet", or more exactly, such as "C-14 headed back 30".
    Done: C-14 done
    Not yet: not yet
    "#);
}

#[test]
fn the_risk_asks_for_the_work_that_ends_it() {
    insta::assert_snapshot!(of(&three(), 20, Kind::OverCallusRisk), @r#"
    No lines of A-2 are written down: answer this letter with what you see or did there, a line for each batch, such as "A-2 lines" or "A-2 headed back 1". "Not yet" writes nothing down.
    Lines showing: A-2 lines
    No lines yet: A-2 no lines
    Not yet: not yet
    "#);
}

#[test]
fn many_batches_are_not_named_one_by_one() {
    let season = three().but(|s| {
        for name in ["C-16", "C-17", "C-18", "C-19", "C-20"] {
            another(s, name, |_| {});
        }
    });
    insta::assert_snapshot!(of(&season, 15, Kind::Opens), @r#"
    Answer this letter: "lines", "no lines" (look for callus lines: all 7 batches), or a line for each batch, such as "C-14 lines 3/10".
    Lines showing: lines
    No lines yet: no lines
    "#);
    let names = ["", "C-15 ", "C-16 ", "C-17 ", "C-18 ", "C-19 ", "C-20 "];
    let seen: Vec<String> = names.iter().map(|name| format!("15 {name}lines")).collect();
    let seen = season.records(&seen.join(", "));
    insta::assert_snapshot!(of(&seen, 15, Kind::Opens), @r#"
    Answer this letter: "done" (head back: all 7 batches), "not yet", or a line for each batch, such as "C-14 headed back 60".
    Done: done
    Not yet: not yet
    "#);
}

#[test]
fn a_look_that_comes_again() {
    let season = maple().records("15 no-lines");
    insta::assert_snapshot!(step(&season, "2026-07-20", "look-again"), @r#"
    Answer this letter: "lines", "no lines", "looked" (look again: C-14), or more exactly, such as "C-14 lines 3/10".
    Lines showing: C-14 lines
    No lines yet: C-14 no lines
    Looked, all well: C-14 looked
    "#);
}

#[test]
fn a_count_waits_for_its_number() {
    let years = later::years();
    let done = years.records("15 lines, 16 headed-back, 22 tape-off");
    insta::assert_snapshot!(step(&done, "2027-05-10", "take"), @r#"
    Answer this letter with a line for each batch (count the take: C-14), such as "C-14 take 90".
    Write the count: C-14 take
    "#);
    insta::assert_snapshot!(step(&done, "2026-11-10", "autumn-look"), @r#"
    Answer this letter with a line for each batch (autumn look: C-14), such as "C-14 head length 45".
    Write the length: C-14 head length
    "#);
}

#[test]
fn a_name_over_lines_is_one_line_of_an_answer() {
    let season = maple().but(|s| s.batches[0].name = "C-14\r\nundo\r\n".into());
    insta::assert_snapshot!(of(&season, 15, Kind::Opens), @r#"
    Answer this letter: "lines", "no lines" (look for callus lines: C-14 undo), or more exactly, such as "C-14 undo lines 3/10".
    Lines showing: C-14 undo lines
    No lines yet: C-14 undo no lines
    "#);
}

#[test]
fn where_nothing_is_asked_what_is_due_gives_the_example() {
    let hot = three().weather("17x20 4x33 40x20");
    let spell = of_kind(&hot, 0..0, 16, Kind::HeatSpike);
    insta::assert_snapshot!(answers(&hot, 16, &spell), @r#"
    Seen or done something? Answer this letter, a line for each batch, such as "C-14 lines 3/10".
    Write what was done:
    "#);
}

#[test]
fn where_nothing_is_due_there_is_no_word_of_answers() {
    let season = maple().without_forecast().weather("11x20");
    assert_eq!(of(&season, 13, Kind::NoTemperatures), "none");
}

fn to(address: &str) -> ReplyTo {
    ReplyTo {
        address: address.into(),
        mark: None,
    }
}
