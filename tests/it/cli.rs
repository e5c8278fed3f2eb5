//! The program as a whole: help, usage, the config, a closed pipe.

use crate::program::Nursery;
use insta::assert_snapshot;
use std::process::Stdio;

fn bare(words: &str) -> crate::program::Ran {
    Nursery::bare().run(words)
}

#[test]
fn help_is_no_error() {
    assert_snapshot!(bare("--help"), @r"
    Follows the warmth of every batch of field grafts and tells the grower what is due

    Usage: graftwarden [OPTIONS] <COMMAND>

    Commands:
      watch     Run unattended: every scheduled round, until stopped
      round     Walk one round now
      rehearse  Play a past season from the register and temperature files
      due       Show what is due, block by block
      note      Write down something seen or done in the field
      days      Show the days of a site and where they come from
      heat      Reckon the heat of a temperature file
      tune      Learn requirements from what was seen
      check     Check the config, the register, the sources and the mail
      state     Carry the program's memory elsewhere, as plain tables
      help      Print this message or the help of the given subcommand(s)

    Options:
          --log-json  Log lines as JSON
      -h, --help      Print help
      -V, --version   Print version
    ");
    assert_snapshot!(bare("note --help"), @r"
    Write down something seen or done in the field

    Usage: graftwarden note [OPTIONS] <BATCH> <WHAT>

    Arguments:
      <BATCH>  The batch, or `block:C` for every batch of a block that has the step open
      <WHAT>   What: lines, no-lines, headed-back, tape-off, looked, take ... (all words are in config/README.md)

    Options:
          --config <FILE>  The config [default: ./graftwarden.toml, then /etc/graftwarden/graftwarden.toml]
          --on <D>         The day [default: today]
          --count <N>      How many grafts, 3/10 for lines, centimetres for head-length [default: all that is left]
          --by <NAME>      Who
          --remarks <T>    Anything else; for retract the word taken back
          --log-json       Log lines as JSON
      -h, --help           Print help
      -V, --version        Print version
    ");
}

#[test]
fn every_command_has_help_that_names_its_config() {
    for command in ["check", "round", "watch", "rehearse", "due", "note", "days"] {
        let help = bare(&format!("{command} --help")).well();
        assert!(help.contains("--config <FILE>"), "{help}");
    }
    assert!(!bare("heat --help").well().contains("--config"));
}

#[test]
fn what_cannot_be_asked() {
    assert_snapshot!(bare("graft"), @r"
    -- error --
    error: unrecognized subcommand 'graft'

    Usage: graftwarden [OPTIONS] <COMMAND>

    For more information, try '--help'.
    -- exit 64 --
    ");
    assert_snapshot!(bare("note A1"), @r"
    -- error --
    error: the following required arguments were not provided:
      <WHAT>

    Usage: graftwarden note <BATCH> <WHAT>

    For more information, try '--help'.
    -- exit 64 --
    ");
    assert_snapshot!(bare("due --on yesterday"), @r"
    -- error --
    error: invalid value 'yesterday' for '--on <ON>': 'yesterday' is not a date; write it like 2026-08-18

    For more information, try '--help'.
    -- exit 64 --
    ");
    assert_snapshot!(bare("round --at 2024-07-16"), @r"
    -- error --
    error: invalid value '2024-07-16' for '--at <RFC3339>': '2024-07-16' is not a moment; write it like 2026-08-18T06:10:00+02:00

    For more information, try '--help'.
    -- exit 64 --
    ");
}

#[test]
fn no_command_shows_the_help_as_an_error() {
    let ran = bare("");
    assert_eq!((ran.code, ran.out.as_str()), (64, ""));
    assert_eq!(ran.err, bare("--help").out);
}

#[test]
fn no_config() {
    assert_snapshot!(bare("due --config nursery.toml"), @r"
    -- error --
    error: nursery.toml: there is no such file
     |
     = help: check the path; paths in a config count from its folder
    -- exit 78 --
    ");
    for command in [
        "check",
        "round",
        "watch",
        "rehearse",
        "due",
        "note A1 lines",
        "days --site home",
    ] {
        let ran = bare(command);
        assert_eq!(ran.code, 78, "{command}: {ran}");
    }
}

#[test]
fn every_fault_of_a_config_is_shown_at_once() {
    let nursery = Nursery::small()
        .but("graftwarden.toml", "Europe/Brussels", "Europe/Bruxelles")
        .but("graftwarden.toml", "latitude = 50.8", "latitude = 508")
        .but("graftwarden.toml", "path =", "pth =")
        .but(
            "graftwarden.toml",
            "maren@alderfold.example",
            "maren at alderfold",
        );
    assert_snapshot!(nursery.run("check"), @r#"
    -- error --
    error: 'Europe/Bruxelles' is not a time zone
     --> graftwarden.toml:5:8
      |
    5 | zone = "Europe/Bruxelles"
      |        ^^^^^^^^^^^^^^^^^^
      |
      = help: perhaps "Europe/Brussels" is meant

    error: `latitude` cannot be the number 508
      --> graftwarden.toml:10:12
       |
    10 | latitude = 508
       |            ^^^
       |
       = help: write a number from -90 to 90

    error: [weather] has no path
      --> graftwarden.toml:13:1
       |
    13 | [[site.weather]]
       | ^^^^^^^^^^^^^^^^
       |
       = help: write path = "temperatures.csv"

    error: [weather] has no key `pth`
      --> graftwarden.toml:15:1
       |
    15 | pth = "temps.csv"
       | ^^^
       |
       = help: perhaps `path` is meant

    error: 'maren at alderfold' is not a mail address
      --> graftwarden.toml:19:9
       |
    19 | email = "maren at alderfold"
       |         ^^^^^^^^^^^^^^^^^^^^
       |
       = help: write it as in somebody@alderfold.example
    -- exit 78 --
    "#);
}

#[test]
fn a_config_that_is_no_toml() {
    let nursery = Nursery::bare().with("graftwarden.toml", "[nursery\nname = Alder Fold\n");
    assert_snapshot!(nursery.run("due"), @r"
    -- error --
    error: this is not TOML: unclosed table, expected `]`
     --> graftwarden.toml:1:9
      |
    1 | [nursery
      |         ^
      |
      = help: texts stand in quotes, lists in [ ], and each key once on a line of its own
    -- exit 78 --
    ");
    assert_snapshot!(Nursery::bare().with("graftwarden.toml", "").run("due"), @r"
    -- error --
    error: graftwarden.toml: the file is empty
     |
     = help: fill it in; config/README.md shows what belongs in it
    -- exit 78 --
    ");
}

#[test]
fn a_config_may_stand_elsewhere_and_its_paths_count_from_there() {
    let nursery = Nursery::small();
    let elsewhere = Nursery::bare();
    let config = nursery.path("graftwarden.toml");
    let there = elsewhere.run(&format!(
        "due --on 2024-07-15 --config {}",
        config.display()
    ));
    assert_eq!(there.well(), nursery.run("due --on 2024-07-15").well());
}

#[test]
fn a_closed_pipe_is_silence() {
    let nursery = Nursery::small();
    for words in [
        "days --site home --from 2024-01-01 --to 2024-12-31",
        "rehearse --letters there",
        "rehearse --letters there --json",
        "due --json",
    ] {
        let mut command = nursery.command(words);
        let (reader, writer) = std::io::pipe().unwrap();
        drop(reader);
        let done = command
            .stdout(writer)
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let done = done.wait_with_output().unwrap();
        assert_eq!(String::from_utf8_lossy(&done.stderr), "", "{words}");
        assert_eq!(done.status.code(), Some(0), "{words}");
    }
}
