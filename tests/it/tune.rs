//! `tune --intervals` through the command line.

use std::process::Command;

/// Runs it on a file of that text; the name of its folder is taken out of what is said.
#[track_caller]
fn check(text: &str, arguments: &str, code: i32, out: &str, err: &str) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("seen.csv");
    std::fs::write(&path, text).unwrap();
    let done = Command::new(env!("CARGO_BIN_EXE_graftwarden"))
        .args(["tune", "--intervals"])
        .arg(&path)
        .args(arguments.split_whitespace())
        .output()
        .unwrap();
    let place = format!("{}/", folder.path().display());
    assert_eq!(String::from_utf8(done.stdout).unwrap(), out);
    assert_eq!(
        String::from_utf8(done.stderr).unwrap().replace(&place, ""),
        err
    );
    assert_eq!(done.status.code(), Some(code));
}

const PRIOR: &str = "--need 200 --prior-sd 0.25 --batch-sd 0.15";

/// The figures are those of the closed form, worked by hand: three exact sightings give a weight of 0.8929.
#[test]
fn a_table_of_groups() {
    check(
        "group,above,upto,remark\nEmber Lace,240,240,\nEmber Lace,228,228,\nEmber Lace,251,251,\nTarn,240,240,\n",
        PRIOR,
        0,
        "group       batches   need     sd  80 of 100 between\n\
         Ember Lace        3  234.9  0.171    188.7 and 292.4\n\
         Tarn              1  228.7  0.198    177.5 and 294.6\n",
        "seen.csv: the column remark is not known; it is left unread.\n",
    );
}

#[test]
fn bad_rows_are_named_and_the_rest_used() {
    check(
        "group,above,upto\nTarn,240,240\nTarn,250,240\n",
        PRIOR,
        65,
        "group  batches   need     sd  80 of 100 between\n\
         Tarn         1  228.7  0.198    177.5 and 294.6\n",
        "seen.csv, row 3: it cannot be above 250 and yet no more than 240; this row is left out, the rest is used. Write the last amount without it under above, the first with it under upto.\n",
    );
}

#[test]
fn nothing_to_learn_from_is_said() {
    check(
        "group,above,upto\n",
        PRIOR,
        65,
        "",
        "seen.csv: there is nothing in it to learn from.\n",
    );
    check(
        "group,above,upto\nTarn,240,240\n",
        "--need 200 --prior-sd 0",
        64,
        "",
        "the spread of groups must be a number above 0, and 0 is none\n",
    );
}
