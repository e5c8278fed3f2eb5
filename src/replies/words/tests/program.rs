//! Words to the program, and what leaves open whether anything was done.

use super::*;

#[test]
fn words_to_the_program() {
    for undo in [
        "undo",
        "Undo that.",
        "undo please",
        "Please undo",
        "undo, sorry",
        "Sorry, undo that!",
        "can you undo that please",
        "take it back, thanks",
    ] {
        check(undo, "Undo");
    }
    for yes in [
        "Yes",
        "yes please",
        "Yes, that's right.",
        "OK",
        "correct, thanks",
    ] {
        check(yes, "Yes");
    }
    for no in ["No", "no, sorry", "No, that's wrong", "not mine"] {
        check(no, "No");
    }
    for wrong in [
        "wrong",
        "That was wrong",
        "mistake!",
        "sorry, my mistake",
        "wrong batch",
    ] {
        check(wrong, "Wrong");
    }
    check("sorry, not yet", "Later");
    check("not yet", "Later");
    check("Can't today", "Later");
    check("can’t today!", "Later");
    check("C-14 not yet", "Later");
    for courtesy in [
        "Hi,",
        "Thanks!",
        "Best regards",
        "Maren",
        "Maren Holt",
        "Good morning",
        "--",
    ] {
        check(courtesy, "Courtesy");
    }
}

#[test]
fn what_is_not_certain_is_not_written_down() {
    check_unread("C-14 not headed back", "with 'not' in it");
    check_unread("will head back C-14 tomorrow", "with 'will' in it");
    check_unread("headed back most of C-14", "with 'most' in it");
    check_unread("C-14 headed back?", "with ");
    check_unread("C-99 headed back", "there is no batch C-99");
    check_unread(
        "C-14 looks good",
        "it does not say what was seen or done; write it as in C-14 headed back",
    );
    check_unread("C-14", "it does not say what was seen or done");
    check_unread("180", "it does not say what was seen or done");
    check_unread("the weather is fine here", "it does not say");
    check_unread("C-14 take", "take needs a count");
    check_unread("C-14 headed back 80 20", "it has two counts");
    check_unread(
        "block C and C-14 headed back",
        "it names a block and batches",
    );
    check_unread(&"x ".repeat(300), "it is longer than 500 characters");
}

#[test]
fn what_is_asked_planned_or_taken_back_is_no_record() {
    for (line, word) in [
        ("C-14 ready for heading back", "ready"),
        ("start heading back C-14", "start"),
        ("can I head back C-14", "can"),
        ("please head back C-14", "please"),
    ] {
        check_unread(line, &format!("with '{word}' in it, it is not sure that"));
    }
    for line in ["undo C-14 headed back", "wrong, C-14 headed back"] {
        check_unread(
            line,
            "nothing is taken back by this. To take back what a receipt says",
        );
    }
}
