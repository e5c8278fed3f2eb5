//! People of ours named in a line, and a thumb held up.

use super::*;

const BOTH: &str = "2026-07-21 C-14 headed-back\n2026-07-21 C-15 headed-back";

/// With the line as a remark on each record.
fn remarked(line: &str) -> String {
    BOTH.replace("headed-back", &format!("headed-back ({line})"))
}

#[test]
fn whoever_was_there_or_signs_is_no_place() {
    for line in [
        "headed back with Jory",
        "headed back with jory",
        "headed back with Jory Penhale",
        "Jory headed back",
        "Jory and I headed back",
        "headed back with Jory and Will",
        "Done - Jory",
        "Done, Jory",
        "done by Jory",
    ] {
        check(line, &remarked(line));
    }
    check(
        "C-14 headed back with Jory",
        "2026-07-21 C-14 headed-back (C-14 headed back with Jory)",
    );
    // The sender is taken to have done it anyhow.
    check("Done - Maren", BOTH);
    check("headed back - Maren Holt", BOTH);
    let lines = read("done\n\nJory", Some("head-back"), &["C-14"]);
    assert_eq!(lines[1].meant, Meant::Courtesy);
}

#[test]
fn what_may_be_a_place_or_a_plan_stays_in_doubt() {
    check_unread("headed back in Jory", "'Jory' is no batch or block");
    check_unread(
        "headed back with Osakazuki",
        "'Osakazuki' is no batch or block",
    );
    check_unread("headed back with Wendla", "'Wendla' is no batch or block");
    check_unread("will head back", "with 'will' in it");
    check_unread("Will head back Monday", "with 'will' in it");
    check_unread("Will head back C-14", "with 'will' in it");
    check_unread("C-14 and Jory headed back", "'Jory' is no batch or block");
}

fn nodded(words: &str, nod: Nod, asked: &[(&str, &[&str])]) -> Vec<String> {
    let season = season();
    let today = season.day(20);
    let ground = season.ground(today);
    let cares = season.cares(&ground).0;
    let step = |(step, batches): &(&str, &[&str])| Asked {
        step: (*step).into(),
        batches: batches.iter().map(|b| (*b).to_owned()).collect(),
    };
    let asked: Vec<Asked> = asked.iter().map(step).collect();
    let asking = Asking {
        today,
        asked: &asked,
        asked_on: season.day(19),
        cares: &cares,
        by: "Maren Holt",
        people: &[],
        nod,
    };
    understand(words, &asking).iter().map(meant).collect()
}

#[test]
fn a_thumb_alone_is_done_where_one_step_was_asked() {
    let one: &[(&str, &[&str])] = &[("head-back", &["C-14", "C-15"])];
    for words in [
        "👍",
        "👍🏽",
        "✅",
        "✔\u{fe0f}",
        "👍👍",
        "👍 thanks!",
        "Hi\n👍\nMaren",
    ] {
        let said = nodded(words, Nod::Done, one);
        assert!(said.contains(&BOTH.to_owned()), "{words}: {said:?}");
    }
    let two: &[(&str, &[&str])] = &[("head-back", &["C-14"]), ("tape-off", &["C-15"])];
    assert_eq!(
        nodded("👍", Nod::Done, two),
        ["which on 2026-07-21: head-back of C-14, tape-off of C-15"]
    );
    let look: &[(&str, &[&str])] = &[("callus-check", &["C-14"])];
    assert_eq!(
        nodded("👍", Nod::Done, look),
        [
            "unread: the letter asked to look, so it matters what was seen; write lines, no lines or lines 3/10"
        ]
    );
    assert!(nodded("👍", Nod::Done, &[])[0].starts_with("unread: it names no batch"));
}

#[test]
fn beside_words_or_in_answer_to_a_receipt_a_thumb_is_not_done() {
    let one: &[(&str, &[&str])] = &[("head-back", &["C-14", "C-15"])];
    assert_eq!(
        nodded("C-14 headed back\n👍", Nod::Done, one),
        ["2026-07-21 C-14 headed-back", "Courtesy"]
    );
    assert_eq!(nodded("👍", Nod::Yes, one), ["Yes"]);
    assert_eq!(nodded("👍", Nod::Read, one), ["Courtesy"]);
    assert_eq!(
        nodded("👍", Nod::Unknown, one),
        ["unread: it does not say what was seen or done; write it, as in C-14 headed back"]
    );
    // A wish is no answer, and what is crossed out is not so.
    for words in ["See you tomorrow 👍", "Have a nice weekend\n👍"] {
        let said = nodded(words, Nod::Done, one);
        assert!(said.iter().all(|meant| meant == "Courtesy"), "{said:?}");
    }
    let said = nodded("C-14 headed back ✅\nC-15 headed back ❌", Nod::Done, one);
    assert_eq!(said[0], "2026-07-21 C-14 headed-back");
    assert!(said[1].starts_with("unread: "), "{said:?}");
    let said = nodded("C-14 headed back\n👎", Nod::Done, one);
    assert!(said[1].starts_with("unread: "), "{said:?}");
    assert!(nodded("👎", Nod::Done, one)[0].starts_with("unread: it does not say what is wrong"));
    assert_eq!(nodded("❤\u{fe0f}", Nod::Done, one), ["Courtesy"]);
    assert_eq!(nodded("thanks", Nod::Done, one), ["Courtesy"]);
}
