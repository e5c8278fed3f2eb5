//! `note` on a small nursery: what is written down, and what is not taken.

use crate::program::{FIRST, Nursery, temperatures, today};
use insta::assert_snapshot;

#[test]
fn a_note_is_written_down_and_counts() {
    let nursery = Nursery::small();
    nursery.round(FIRST).well();
    nursery.run("note block:A no-lines --on 2024-07-16").well();
    assert_snapshot!(nursery.run_words(&["note", "A1", "lines", "--on", "2024-07-16", "--count", "8/10", "--by", "Jory", "--remarks", "north rows, wet"]), @r"written down: A1 lines on 2024-07-16, 8/10");
    let accepted = nursery.read("state/accepted.csv");
    let without_chance: Vec<&str> = accepted
        .lines()
        .map(|line| line.splitn(3, ',').last().unwrap())
        .collect();
    assert_eq!(
        without_chance,
        [
            "date,batch,what,count,by,remarks",
            "2024-07-16,block:A,no-lines,,,",
            "2024-07-16,A1,lines,8/10,Jory,\"north rows, wet\""
        ]
    );
    nursery.write("temps.csv", temperatures("2024-07-16"));
    assert_snapshot!(nursery.round("2024-07-17T06:10:00+02:00"), @r"
    to Maren Holt: Block A: head back now (1 batch, 310 grafts)
    1 notice, 1 letter
    ");
}

#[test]
fn a_note_that_cannot_be_meant_is_not_taken() {
    let nursery = Nursery::small();
    assert_snapshot!(nursery.run("note A11 lines --on 2024-07-16"), @r"
    -- error --
    not written down: there is no batch A11 in the register; did you mean A1?
    -- exit 64 --
    ");
    assert_snapshot!(nursery.run("note A1 line --on 2024-07-16"), @r"
    -- error --
    not written down: 'line' is not a word of the field records; perhaps 'lines' is meant
    -- exit 64 --
    ");
    assert_snapshot!(nursery.run("note A1 lines --on 16.7.2024"), @r"
    -- error --
    not written down: '16.7.2024' may have the day first or the month first; write the year first, as 2026-08-18 for 18 August 2026
    -- exit 64 --
    ");
    assert_snapshot!(nursery.run("note A1 lines --on 2024-06-30"), @r"
    -- error --
    not written down: 2024-06-30 lies before A1 was grafted on 2024-07-01
    -- exit 64 --
    ");
    assert_snapshot!(nursery.run("note A1 lines --on 2024-07-16 --count 11/10"), @r"
    -- error --
    not written down: '11/10' is not a count for lines; write how many of how many show lines, as 3/10, or leave it empty
    -- exit 64 --
    ");
    assert_snapshot!(nursery.run("note block:D looked --on 2024-07-16"), @r"
    -- error --
    not written down: there is no block D in the register
    -- exit 64 --
    ");
    assert_snapshot!(nursery.run("note A1 retract --on 2024-07-16 --remarks lins"), @r"
    -- error --
    not written down: 'lins' is not a word that retract can take back; perhaps 'lines' is meant
    -- exit 64 --
    ");
    assert!(!nursery.path("state/accepted.csv").exists());
}

#[test]
fn a_note_of_a_day_to_come_is_not_taken() {
    let nursery = Nursery::small();
    let tomorrow = today().succ_opt().unwrap();
    let said = nursery.run(&format!("note A1 lines --on {tomorrow}"));
    let told = format!(
        "not written down: {tomorrow} is in the future (today is {}); correct the date if it is a slip\n",
        today()
    );
    assert_eq!((said.code, said.err), (64, told));
}

#[test]
fn a_note_that_the_memory_does_not_take_is_written_down_all_the_same() {
    let nursery = Nursery::small();
    nursery.round(FIRST).well();
    nursery.memory(
        "CREATE TRIGGER no BEFORE INSERT ON record BEGIN SELECT RAISE(ABORT, 'not now'); END",
    );
    assert_snapshot!(nursery.run("note A1 looked --on 2024-07-16"), @r"
    written down in accepted.csv: A1 looked on 2024-07-16; the next round reads it
    note: the store failed: not now
    ");
    nursery.memory("DROP TRIGGER no");
    nursery.round(FIRST).well();
    assert_eq!(
        nursery.memory("SELECT batch, what FROM record"),
        ["A1 | looked"]
    );
}

#[test]
fn a_note_needs_no_date() {
    let nursery = Nursery::small();
    let before = today();
    let said = nursery.run("note A1 looked").well();
    let after = today();
    let day = |day| format!("written down: A1 looked on {day}\n");
    assert!(said == day(before) || said == day(after), "{said}");
}

#[test]
fn a_note_of_a_block_says_for_which_batches_it_counts() {
    let nursery = Nursery::small();
    nursery.round(FIRST).well();
    // A1's callus check opened on 15 July, A2's is to come.
    assert_snapshot!(nursery.run("note block:A no-lines --on 2024-07-16"), @r"
    written down: block:A no-lines on 2024-07-16
    it counts for A1
    not for A2 ('look for callus lines' was not due on 2024-07-16)
    ");
    nursery.write("temps.csv", temperatures("2024-07-20"));
    assert_snapshot!(nursery.run("note block:a lines --on 2024-07-20"), @r"
    written down: block:a lines on 2024-07-20
    it counts for A1 and A2
    ");
}

#[test]
fn a_note_of_a_block_says_which_of_its_batches_it_leaves_out_and_why() {
    let row = |(name, on): (String, &str)| {
        let block = &name[..1];
        format!("{name},{block},maple field T-graft,Ember Lace,120,{on}\n")
    };
    let early = ["A1", "A12", "B1"].map(|name| (name.to_owned(), "2024-07-01"));
    let late = (2..12).map(|n| (format!("A{n}"), "2024-07-12"));
    let rows: String = early.into_iter().chain(late).map(row).collect();
    let batches = format!("batch,block,plan,scion,grafts,grafted_on\n{rows}");
    let nursery = Nursery::small().with("batches.csv", &batches);
    nursery.run("note A12 closed --on 2024-07-15").well();
    nursery.round(FIRST);
    assert_snapshot!(nursery.run("note block:A no-lines --on 2024-07-16"), @r"
    written down: block:A no-lines on 2024-07-16
    it counts for A1
    not for A10, A11, A2, A3, A4, A5 and 4 more ('look for callus lines' was not due on 2024-07-16); A12 (closed on 2024-07-15)
    ");
}

#[test]
fn a_count_above_what_is_there_is_written_down_and_questioned_at_once() {
    let nursery = Nursery::small();
    nursery.round(FIRST).well();
    let lost = "note A1 lost --on 2024-07-16 --count 70";
    assert_snapshot!(nursery.run(lost), @r"written down: A1 lost on 2024-07-16, 70");
    let many = "note A1 headed-back --on 2024-07-16 --count 500";
    assert_snapshot!(nursery.run(many), @r"
    written down: A1 headed-back on 2024-07-16, 500
    question: 500 headed-back on A1, where 240 were left; is the count right? If not, take it back: graftwarden note A1 retract --on 2024-07-16 --remarks headed-back
    ");
    // A second one too, though the sum was doubtful before.
    let more = "note A1 headed-back --on 2024-07-16 --count 3";
    assert_snapshot!(nursery.run(more), @r"
    written down: A1 headed-back on 2024-07-16, 3
    question: A1 was all written down as headed-back before; was this another time? If not, take it back: graftwarden note A1 retract --on 2024-07-16 --remarks headed-back
    ");
    let dead = "note A1 dead --on 2024-07-16 --count 400";
    assert_snapshot!(nursery.run(dead), @r"
    written down: A1 dead on 2024-07-16, 400
    note: field records of A1: lost and dead add up to 470, more than its 310 grafts; the figures stay as written. Check the counts, or grafts in the register.
    ");
    // What was questioned before is not questioned again.
    assert_snapshot!(nursery.run("note A2 looked --on 2024-07-16"), @r"written down: A2 looked on 2024-07-16");
    assert_eq!(nursery.read("state/accepted.csv").lines().count(), 6);
}

#[test]
fn a_retract_is_no_question_and_says_where_it_took_nothing_back() {
    let nursery = Nursery::small();
    nursery.round(FIRST).well();
    nursery.run("note A1 closed --on 2024-07-16").well();
    assert_snapshot!(nursery.run("note A1 retract --on 2024-07-16 --remarks closed"), @"written down: A1 retract on 2024-07-16");
    assert_snapshot!(nursery.run("note A1 retract --on 2024-07-16 --remarks closed"), @r"
    written down: A1 retract on 2024-07-16
    note: field record of batch A1: retract of closed on 2024-07-16: no closed of that day or before was written down of this batch before it; it takes back nothing, nor what is written down after it. See its date and its word; a retract is written after the record that it takes back.
    ");
    assert_snapshot!(nursery.run("note A2 retract --on 2024-07-16 --remarks headed-back"), @r"
    written down: A2 retract on 2024-07-16
    note: field record of batch A2: retract of headed-back on 2024-07-16: no headed-back of that day or before was written down of this batch before it; it takes back nothing, nor what is written down after it. See its date and its word; a retract is written after the record that it takes back.
    ");
}

/// Those that were grafted anew are a batch of their own.
#[test]
fn what_is_grafted_anew_twice_is_questioned_by_what_is_left() {
    let nursery = Nursery::small();
    nursery.round(FIRST).well();
    let some = |count: u32| {
        nursery.run(&format!(
            "note A1 regrafted --on 2024-07-16 --count {count}"
        ))
    };
    assert_snapshot!(some(200), @r"
    written down: A1 regrafted on 2024-07-16, 200
    question: 're-graft' of A1 is not due yet; is regrafted really meant for it? If not, take it back: graftwarden note A1 retract --on 2024-07-16 --remarks regrafted
    ");
    assert_snapshot!(some(100), @r"
    written down: A1 regrafted on 2024-07-16, 100
    question: 're-graft' of A1 is not due yet; is regrafted really meant for it? If not, take it back: graftwarden note A1 retract --on 2024-07-16 --remarks regrafted
    ");
    assert_snapshot!(some(60), @r"
    written down: A1 regrafted on 2024-07-16, 60
    question: 60 regrafted on A1, where 10 were left; is the count right? If not, take it back: graftwarden note A1 retract --on 2024-07-16 --remarks regrafted
    ");
    assert_snapshot!(some(5), @r"
    written down: A1 regrafted on 2024-07-16, 5
    question: all grafts of A1 were written down as regrafted or lost before; was this another time? If not, take it back: graftwarden note A1 retract --on 2024-07-16 --remarks regrafted
    ");
}

#[test]
fn a_count_below_nothing_is_refused_in_our_own_words() {
    let nursery = Nursery::small();
    assert_snapshot!(nursery.run("note A1 headed-back --on 2024-07-16 --count -5"), @r"
    -- error --
    not written down: '-5' is not a count for headed-back; write a whole number above 0, or leave it empty for all that is left
    -- exit 64 --
    ");
    assert!(!nursery.path("state/accepted.csv").exists());
}

#[test]
fn a_note_of_a_block_that_counts_for_no_batch_is_not_taken() {
    let nursery = Nursery::small();
    nursery.round(FIRST).well();
    assert_snapshot!(nursery.run("note block:A tape-off --on 2024-07-16"), @r"
    -- error --
    not written down: it counts for no batch of block A
    not for A1 and A2 ('tape off and tie in' was not due on 2024-07-16)
    If it is true of a batch all the same, write it down by the name of that batch.
    -- exit 64 --
    ");
    assert!(!nursery.path("state/accepted.csv").exists());
    assert_eq!(nursery.memory("SELECT what FROM record"), [""; 0]);
}

/// What is written down after a retract stands, and the retract that hit nothing is told of.
#[test]
fn a_retract_takes_back_only_what_was_written_before_it() {
    let nursery = Nursery::small();
    nursery.round(FIRST).well();
    nursery
        .run("note A1 retract --on 2024-07-16 --remarks lines")
        .well();
    nursery.run("note block:A retract --on 2024-07-16 --remarks lines");
    nursery.run("note A1 lines --on 2024-07-16").well();
    let due = nursery.run("due --on 2024-07-16 --json");
    let first = due.out.lines().next().unwrap();
    assert!(
        first.contains(r#""step":"callus-check","state":"done""#),
        "{first}"
    );
    let told = nursery.round("2024-07-16T07:10:00+02:00").to_string();
    let says = "field record of batch A1: retract of lines on 2024-07-16: no lines of that day or before was written down of this batch before it";
    assert!(told.contains(says), "{told}");
}
