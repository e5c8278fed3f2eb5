//! Learning through the program: what it shows, what it moves, what it says of it.
//!
//! A day of 10 to 30 °C gives 15 °C·d, one standard day, so a batch has as many as days since grafting. T1 shows lines
//! between days 11 and 12, T2 between 12 and 14, T3 by day 13: 12.73 standard days, 0.1051 sure on the log scale, and all
//! scions together 13.51 (integrated by hand in Python). 14 · 12.73 / 17.15 = 10.39 are met on day 11, 14 · 13.51 / 17.15 =
//! 11.03 on day 12.

use crate::program::{Nursery, Ran};
use insta::assert_snapshot;

fn rows(from: &str, to: &str) -> String {
    let day = |text: &str| text.parse::<chrono::NaiveDate>().unwrap();
    let days = day(from).iter_days().take_while(|date| *date <= day(to));
    let rows: String = days.map(|date| format!("{date},10,30\n")).collect();
    format!("date,tmin_c,tmax_c\n{rows}")
}

/// Three batches that teach, and two that wait for lines, one of another scion.
fn nursery(learn: &str) -> Nursery {
    Nursery::small()
        .learning(learn)
        .with("temps.csv", &rows("2024-06-10", "2024-07-21"))
        .with(
            "batches.csv",
            "batch,block,plan,scion,grafts,grafted_on\n\
             F1,F,maple field T-graft,Fox Cinder,80,2024-07-10\n\
             L1,L,maple field T-graft,Ember Lace,90,2024-07-10\n\
             T1,T,maple field T-graft,Ember Lace,10,2024-06-20\n\
             T2,T,maple field T-graft,Ember Lace,20,2024-06-20\n\
             T3,T,maple field T-graft,Ember Lace,30,2024-06-20\n",
        )
        .with(
            "records.csv",
            "date,batch,what,count\n\
             2024-07-01,T1,no-lines,\n2024-07-02,T1,lines,6/10\n2024-07-02,T2,no-lines,\n2024-07-04,T2,lines,\n\
             2024-07-03,T3,lines,\n2024-07-08,block:T,headed-back,\n2024-07-12,block:T,tape-off,\n",
        )
}

/// A round on the morning of that day, with the temperatures up to the day before.
fn walk(nursery: &Nursery, day: &str) -> Ran {
    let before = day
        .parse::<chrono::NaiveDate>()
        .unwrap()
        .pred_opt()
        .unwrap();
    nursery.write("temps.csv", rows("2024-06-10", &before.to_string()));
    nursery.round(&format!("{day}T06:10:00+02:00"))
}

#[test]
fn tune_shows_what_was_learned_and_what_it_would_move() {
    let nursery = nursery("show");
    assert_snapshot!(nursery.run("tune --on 2024-07-15"), @r#"
    Standard days from grafting until callus lines

    group                             batches  with lines  asked early  by the plan  learned     sd  80 of 100 between
    maple field T-graft, every scion        3           3            0        17.15    13.51  0.158      11.0 and 16.5
    maple field T-graft, Ember Lace         3           3            0        17.15    12.73  0.105      11.1 and 14.6

    With learn = "use" in the config the first look at callus lines would open:
    batch  opens
    F1     Mon 22 Jul instead of Wed 24 Jul, 2 days sooner  tuned: 13.5 standard days by 3 batches of maple field T-graft
    L1     Sun 21 Jul instead of Wed 24 Jul, 3 days sooner  tuned: 12.7 standard days by 3 batches of Ember Lace
    "#);
    assert_snapshot!(nursery.run("tune --on 2024-07-15 --json"), @r#"
    {"group":"maple field T-graft, every scion","n":3,"need":13.514060652856692,"sd":0.15811388300841897,"low80":11.035303899888413,"high80":16.549597273069764,"with_lines":3,"asked_early":0,"usual":17.15,"usual_sd":0.15811388300841897,"tunes":true,"moves":[{"batch":"F1","opens_on":"2024-07-24","tuned_opens_on":"2024-07-22"},{"batch":"L1","opens_on":"2024-07-24","tuned_opens_on":"2024-07-21"}]}
    {"group":"maple field T-graft, Ember Lace","n":3,"need":12.72567964759161,"sd":0.10505217077580019,"low80":11.122745963576076,"high80":14.559617114644684,"with_lines":3,"asked_early":0,"usual":17.15,"usual_sd":0.15811388300841897,"tunes":true,"moves":[{"batch":"L1","opens_on":"2024-07-24","tuned_opens_on":"2024-07-21"}]}
    "#);
    // A prior of one's own.
    assert_snapshot!(nursery.run("tune --on 2024-07-15 --need 12"), @r#"
    Standard days from grafting until callus lines

    group                             batches  with lines  asked early  by the plan  learned     sd  80 of 100 between
    maple field T-graft, every scion        3           3            0        12.00    11.83  0.158       9.7 and 14.5
    maple field T-graft, Ember Lace         3           3            0        12.00    11.94  0.106      10.4 and 13.7

    With learn = "use" in the config the first look at callus lines would open:
    batch  opens
    F1     Mon 22 Jul instead of Wed 24 Jul, 2 days sooner  tuned: 13.5 standard days by 3 batches of maple field T-graft
    L1     Sun 21 Jul instead of Wed 24 Jul, 3 days sooner  tuned: 12.7 standard days by 3 batches of Ember Lace
    "#);
}

#[test]
fn tune_with_too_few_batches_moves_nothing() {
    let nursery = nursery("use").but("records.csv", "2024-07-03,T3,lines,\n", "");
    assert_snapshot!(nursery.run("tune --on 2024-07-15"), @r"
    Standard days from grafting until callus lines

    group                             batches  with lines  asked early  by the plan  learned     sd  80 of 100 between
    maple field T-graft, every scion        2           2            0        17.15    14.15  0.158      11.6 and 17.3
    maple field T-graft, Ember Lace         2           2            0        17.15    13.09  0.109      11.4 and 15.0

    By the plan, for fewer than 3 batches with lines are known: F1 and L1.
    ");
}

#[test]
fn without_learning_nothing_is_shown() {
    assert_snapshot!(nursery("off").run("tune --on 2024-07-15"), @r#"
    -- error --
    learn = "off" in the config: nothing is learned from the field records. Write learn = "show" to see it.
    -- exit 78 --
    "#);
}

#[test]
fn records_that_contradict_each_other_are_named() {
    let nursery = nursery("show");
    nursery.append("records.csv", "2024-07-09,T2,no-lines,\n");
    let shown = nursery.run("tune --on 2024-07-15").to_string();
    let named = "field records of T2: lines were written down for 2024-07-04 and none for 2024-07-09, which is not before it; nothing is learned from this batch.";
    assert!(shown.contains(named), "{shown}");
    walk(&nursery, "2024-07-15");
    let letter = nursery.letters().concat().replace('\n', " ");
    assert!(
        letter.contains("nothing is learned from this batch"),
        "{letter}"
    );
}

#[test]
fn windows_move_and_it_is_said_where_the_config_says_so() {
    let nursery = nursery("use");
    assert_snapshot!(nursery.run("due --on 2024-07-21"), @r"
    Alder Fold Nursery, Sunday 21 July 2024

    Block L
    batch  warmth  to do                  left  since       until
    L1     11.0 d  look for callus lines    90  Sun 21 Jul  roughly Fri 26 Jul

    Nothing due yet on 4 batches:
    batch  where    warmth  next                   when
    F1     block F  11.0 d  look for callus lines  roughly Mon 22 Jul
    T1     block T  31.0 d  count the take         not in sight
    T2     block T  31.0 d  count the take         not in sight
    T3     block T  31.0 d  count the take         not in sight

    F1: tuned: 13.5 standard days by 3 batches of maple field T-graft
    L1: tuned: 12.7 standard days by 3 batches of Ember Lace

    Work of the next 14 days, a graft counted once a day (of two figures: half the time no more than the first, nine times in ten than the second)
    day         grafts  crew hours
    Mon 22 Jul      90         0.3
    Tue 23 Jul      80         0.3
    Thu 25 Jul      90         1.1
    Fri 26 Jul      80         1.0
    Thu 1 Aug      170         4.2
    ");
    walk(&nursery, "2024-07-22").well();
    let letters = nursery.letters();
    assert_eq!(letters.len(), 1);
    let print: Vec<&str> = letters[0]
        .lines()
        .skip_while(|line| !line.starts_with("Windows"))
        .take(2)
        .collect();
    assert_snapshot!(print.join("\n"), @r"
    Windows of L1: tuned: 12.7 standard days by 3 batches of Ember
    Lace.
    ");
}

/// What `due --json` says on days before and after the windows open.
fn due(nursery: &Nursery) -> String {
    ["2024-07-05", "2024-07-15", "2024-07-21"]
        .map(|day| nursery.run(&format!("due --on {day} --json")).well())
        .concat()
}

#[test]
fn learning_that_is_only_shown_moves_nothing() {
    let plain = due(&nursery("off"));
    assert_eq!(due(&nursery("show")), plain);
    assert_ne!(due(&nursery("use")), plain);
    // Two batches with lines are too few to move anything.
    let few = |learn: &str| due(&nursery(learn).but("records.csv", "2024-07-03,T3,lines,\n", ""));
    assert_eq!(few("use"), few("off"));
}

#[test]
fn learned_windows_hang_on_nothing_that_is_not_known_yet() {
    // On 30 June nobody has looked yet.
    let on = |learn: &str| nursery(learn).run("due --on 2024-06-30 --json").well();
    assert_eq!(on("use"), on("off"));
}

#[test]
fn a_plan_that_reckons_otherwise_under_running_batches_is_noticed_once() {
    let plan = include_str!("../../config/plans/maple-field-t-graft.toml");
    let nursery = nursery("off").with("plan.toml", plan).but(
        "graftwarden.toml",
        "version = 1",
        "version = 1\nplans = [\"plan.toml\"]",
    );
    walk(&nursery, "2024-07-15").well();
    nursery.change("plan.toml", "base = 5.0", "base = 6.0");
    // A Saturday: trouble waits for Monday.
    walk(&nursery, "2024-07-20");
    walk(&nursery, "2024-07-22");
    walk(&nursery, "2024-07-23");
    let told: Vec<String> =
        nursery.memory("SELECT told_on || ' ' || anchor FROM notice WHERE kind = 'trouble'");
    assert_eq!(
        told,
        [
            "2024-07-22 care plan maple field T-graft: since 2024-07-20 its heat is reckoned otherwise, under running batches: it was single-sine, base 5 °C, upper 30 °C (horizontal cutoff), reference 20 °C, it is single-sine, base 6 °C, upper 30 °C (horizontal cutoff), reference 20 °C"
        ],
    );
    // Put back, and it is as it always was.
    nursery.change("plan.toml", "base = 6.0", "base = 5.0");
    walk(&nursery, "2024-07-24").well();
    assert_eq!(
        nursery.memory("SELECT count(*) FROM notice WHERE kind = 'trouble'"),
        ["1"]
    );
}

#[test]
fn a_plan_that_reckons_otherwise_before_its_batches_is_no_trouble() {
    let plan = include_str!("../../config/plans/maple-field-t-graft.toml");
    let all = nursery("off").read("batches.csv");
    let (head, _) = all.split_once('\n').unwrap();
    let nursery = nursery("off")
        .with("plan.toml", plan)
        .with("batches.csv", head)
        .with("records.csv", "date,batch,what\n")
        .but(
            "graftwarden.toml",
            "version = 1",
            "version = 1\nplans = [\"plan.toml\"]",
        );
    walk(&nursery, "2024-06-12");
    nursery.change("plan.toml", "base = 5.0", "base = 6.0");
    walk(&nursery, "2024-06-13");
    nursery.write("batches.csv", &all);
    walk(&nursery, "2024-07-12");
    // It went through, and there are batches now.
    assert_eq!(nursery.memory("SELECT count(*) FROM batch"), ["5"]);
    assert_eq!(
        nursery.memory(
            "SELECT count(*) FROM notice WHERE kind = 'trouble' AND anchor LIKE 'care plan%'"
        ),
        ["0"]
    );
}

/// One early look a scion and season, and only once.
#[test]
fn an_early_look_is_asked_for_once() {
    let nursery = nursery("show");
    for day in 20..=24 {
        walk(&nursery, &format!("2024-07-{day}")).well();
    }
    let told = nursery.memory(
        "SELECT told_on || ' ' || subject || ' ' || on_day FROM notice WHERE kind = 'sentinel'",
    );
    // F1 has 11 standard days at the end of 21 July, a Sunday. Of Ember Lace T1 was the first this season, and is past it.
    assert_eq!(told, ["2024-07-22 F1 2024-07-21"]);
    let shown = nursery.run("tune --on 2024-07-24 --json").well();
    assert!(!shown.contains("\"asked_early\":1"), "{shown}");
    nursery.append("records.csv", "2024-07-22,F1,no-lines,\n");
    let shown = nursery.run("tune --on 2024-07-24 --json").well();
    let fox = shown
        .lines()
        .find(|line| line.contains("Fox Cinder"))
        .unwrap();
    assert!(fox.contains("\"asked_early\":1"), "{fox}");
}
