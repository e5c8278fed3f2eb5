//! The rules of the house that a look at the text can keep. Each rule is a function from a file to its faults, and is
//! shown to find what it is there to find.

use std::fs;
use std::path::Path;

/// One file, its path from the top of the repository.
struct File {
    path: String,
    text: String,
}

impl File {
    fn sample(path: &str, text: &str) -> Self {
        Self {
            path: path.into(),
            text: text.into(),
        }
    }

    fn is_test(&self) -> bool {
        self.path.ends_with("tests.rs") || self.path.contains("/tests/")
    }

    /// What is not its unit tests, line by line, numbered.
    fn lines(&self) -> impl Iterator<Item = (usize, &str)> {
        let end = self.text.find("#[cfg(test)]\nmod tests {");
        let text = &self.text[..end.unwrap_or(self.text.len())];
        (1..).zip(text.lines())
    }

    fn fault(&self, line: usize, what: &str) -> String {
        format!("{}:{line}: {what}", self.path)
    }

    /// The faults of all lines that are not comments.
    fn faults(&self, of: impl Fn(&str) -> Option<String>) -> Vec<String> {
        let code = self
            .lines()
            .filter(|(_, line)| !line.trim_start().starts_with("//"));
        code.filter_map(|(n, line)| Some(self.fault(n, &of(line)?)))
            .collect()
    }
}

/// The text files under a folder of the repository.
fn under(folder: &str) -> Vec<File> {
    let top = Path::new(env!("CARGO_MANIFEST_DIR"));
    let (mut folders, mut files) = (vec![top.join(folder)], Vec::new());
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if let Ok(text) = fs::read_to_string(&path) {
                let path = path.strip_prefix(top).unwrap().display().to_string();
                files.push(File { path, text });
            }
        }
    }
    assert!(!files.is_empty(), "{folder}");
    files
}

/// The Rust files under a folder.
fn sources(folder: &str) -> Vec<File> {
    let mut files = under(folder);
    files.retain(|file| Path::new(&file.path).extension().is_some_and(|e| e == "rs"));
    files
}

#[track_caller]
fn holds(files: &[File], rule: impl Fn(&File) -> Vec<String>) {
    let faults: Vec<String> = files.iter().flat_map(rule).collect();
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

/// The rule finds this fault in this text.
#[track_caller]
fn finds(rule: impl Fn(&File) -> Vec<String>, path: &str, text: &str, fault: &str) {
    assert_eq!(rule(&File::sample(path, text)), [fault]);
}

#[track_caller]
fn passes(rule: impl Fn(&File) -> Vec<String>, path: &str, text: &str) {
    assert_eq!(rule(&File::sample(path, text)), [""; 0]);
}

/// The words and the pure core, each of which may use those before it.
const CORE: [&str; 11] = [
    "texts", "units", "problem", "nursery", "days", "heat", "outlook", "care", "notices",
    "letters", "pages",
];

/// What the core uses of the library beside values.
const IMPURE: [&str; 12] = [
    "Utc::now",
    "Local::now",
    "SystemTime",
    "Instant",
    "std::fs",
    "std::io",
    "std::env",
    "std::net",
    "std::process",
    "std::thread",
    "async ",
    "println!",
];

/// Rule 1: the core imports only what stands before it, chrono and std, and touches nothing outside. Letters write HTML with
/// a library that only writes, and gather what they list in collections that only hold.
fn core_is_pure(file: &File) -> Vec<String> {
    let room = file
        .path
        .trim_start_matches("src/")
        .split(['/', '.'])
        .next()
        .unwrap_or_default();
    let Some(rank) = CORE
        .iter()
        .position(|core| *core == room)
        .filter(|_| !file.is_test())
    else {
        return Vec::new();
    };
    let own = |root: &str| {
        file.text.contains(&format!("mod {root};")) || root.starts_with(char::is_uppercase)
    };
    file.faults(|line| {
        let word = |text: &str| {
            text.split(|c: char| !c.is_alphanumeric() && c != '_')
                .next()
                .unwrap_or_default()
                .to_owned()
        };
        let outside = line.split("crate::").skip(1).map(word).find(|module| {
            let place = CORE.iter().position(|core| core == module);
            place.is_none_or(|place| place > rank)
        });
        if let Some(module) = outside {
            return Some(format!("{room} knows nothing of {module}"));
        }
        if let Some(impure) = IMPURE.iter().find(|impure| line.contains(**impure)) {
            return Some(format!("{} is not for the core", impure.trim()));
        }
        let root = word(line.trim_start().strip_prefix("use ")?);
        let usual = [
            "crate",
            "super",
            "self",
            "std",
            "chrono",
            "chrono_tz",
            "proptest",
        ];
        let writes = ["letters", "pages"].contains(&room) && root == "maud";
        let holds = room == "letters" && ["hashbrown", "indexmap"].contains(&root.as_str());
        (!usual.contains(&root.as_str()) && !writes && !holds && !own(&root))
            .then(|| format!("the core does not import {root}"))
    })
}

#[test]
fn the_core_is_pure() {
    let files = sources("src");
    for core in CORE {
        let is_there = |file: &File| file.path.starts_with(&format!("src/{core}"));
        assert!(files.iter().any(is_there), "{core}");
    }
    holds(&files, core_is_pure);
    let heat = "src/heat/totals.rs";
    finds(
        core_is_pure,
        heat,
        "use crate::care::By;",
        "src/heat/totals.rs:1: heat knows nothing of care",
    );
    finds(
        core_is_pure,
        heat,
        "\nlet d = crate::store::Store;",
        "src/heat/totals.rs:2: heat knows nothing of store",
    );
    finds(
        core_is_pure,
        heat,
        "use tracing::warn;",
        "src/heat/totals.rs:1: the core does not import tracing",
    );
    finds(
        core_is_pure,
        "src/units.rs",
        "let now = Utc::now();",
        "src/units.rs:1: Utc::now is not for the core",
    );
    finds(
        core_is_pure,
        heat,
        "use std::fs::File;",
        "src/heat/totals.rs:1: std::fs is not for the core",
    );
    passes(
        core_is_pure,
        heat,
        "use crate::units::Celsius;\nuse chrono::NaiveDate;\nuse super::curve::Curve;",
    );
    finds(
        core_is_pure,
        heat,
        "use maud::html;",
        "src/heat/totals.rs:1: the core does not import maud",
    );
    passes(core_is_pure, "src/letters/html.rs", "use maud::html;");
    passes(
        core_is_pure,
        heat,
        "mod curve;\nuse curve::Curve;\n// use crate::store\n#[cfg(test)]\nmod tests {\nuse std::fs;",
    );
    passes(core_is_pure, "src/round/mod.rs", "use crate::store::Store;");
}

/// Rule 5: what only one room may know: the words by which it shows, and where they may stand.
const ALONE: [(&str, &[&str], &[&str]); 6] = [
    (
        "SQL",
        &[
            "rusqlite",
            "SELECT ",
            "INSERT INTO",
            "DELETE FROM",
            "PRAGMA ",
        ],
        &["src/store/"],
    ),
    ("the mail library", &["lettre::"], &["src/post/"]),
    ("the argument parser", &["clap::", "#[arg("], &["src/cli/"]),
    (
        "the machine's clock",
        &["Utc::now", "Local::now", "SystemTime::now"],
        &["src/clock.rs"],
    ),
    ("the service manager", &["sd_notify"], &["src/watch.rs"]),
    ("cron texts", &["cron::Schedule"], &["src/schedule"]),
];

fn each_outside_thing_has_one_room(file: &File) -> Vec<String> {
    if file.is_test() {
        return Vec::new();
    }
    file.faults(|line| {
        let (what, _, _) = ALONE.iter().find(|(_, words, rooms)| {
            words.iter().any(|word| line.contains(word))
                && !rooms.iter().any(|room| file.path.starts_with(room))
        })?;
        Some(format!("{what} is known elsewhere only"))
    })
}

#[test]
fn outside_things_are_known_in_one_room() {
    let files = sources("src");
    for (what, words, rooms) in ALONE {
        let shows = |file: &File| {
            rooms.iter().any(|room| file.path.starts_with(room))
                && words.iter().any(|word| file.text.contains(word))
        };
        assert!(files.iter().any(shows), "nobody knows {what}");
        let sample = format!("\n{}", words[0]);
        let fault = format!("src/survey.rs:2: {what} is known elsewhere only");
        finds(
            each_outside_thing_has_one_room,
            "src/survey.rs",
            &sample,
            &fault,
        );
        passes(each_outside_thing_has_one_room, rooms[0], &sample);
    }
    holds(&files, each_outside_thing_has_one_room);
}

/// Nobody reads longer files.
const LONGEST: usize = 450;

fn is_short(file: &File) -> Vec<String> {
    let lines = file.text.lines().count();
    let long = (lines > LONGEST).then(|| file.fault(lines, "the file is too long"));
    long.into_iter().collect()
}

#[test]
fn files_are_short() {
    holds(&sources("src"), is_short);
    let line = "x\n";
    finds(
        is_short,
        "src/x.rs",
        &line.repeat(451),
        "src/x.rs:451: the file is too long",
    );
    passes(is_short, "src/x.rs", &line.repeat(450));
}

fn says_what_it_is(file: &File) -> Vec<String> {
    let silent = !file.is_test() && !file.text.starts_with("//! ");
    silent
        .then(|| file.fault(1, "begins without saying what it is"))
        .into_iter()
        .collect()
}

#[test]
fn every_file_says_what_it_is() {
    holds(&sources("src"), says_what_it_is);
    holds(&sources("tests/it"), says_what_it_is);
    holds(&sources("benches"), says_what_it_is);
    finds(
        says_what_it_is,
        "src/x.rs",
        "use std::fmt;\n//! Late.",
        "src/x.rs:1: begins without saying what it is",
    );
    passes(
        says_what_it_is,
        "src/register/words/tests.rs",
        "use super::*;",
    );
}

/// Words that stand for work left lying; put together here so that this file has none.
fn nothing_is_left_lying(file: &File) -> Vec<String> {
    let marks = [
        concat!("TO", "DO"),
        concat!("FIX", "ME"),
        concat!("to", "do!"),
        concat!("un", "implemented!"),
        concat!("#[ig", "nore"),
    ];
    let lines = (1..).zip(file.text.lines());
    let left =
        lines.filter_map(|(n, line)| Some((n, marks.iter().find(|mark| line.contains(**mark))?)));
    left.map(|(n, mark)| file.fault(n, mark)).collect()
}

#[test]
fn no_work_is_left_lying() {
    for folder in ["src", "tests", "benches", "config", "demo-data"] {
        holds(&under(folder), nothing_is_left_lying);
    }
    let sample = format!("a\n// {}: b\n", concat!("TO", "DO"));
    finds(
        nothing_is_left_lying,
        "src/x.rs",
        &sample,
        &format!("src/x.rs:2: {}", concat!("TO", "DO")),
    );
    let sample = format!("{}]", concat!("#[ig", "nore"));
    finds(
        nothing_is_left_lying,
        "tests/x.rs",
        &sample,
        &format!("tests/x.rs:1: {}", concat!("#[ig", "nore")),
    );
}

/// What may stand at the top; `target` and `.git` come and go.
const TOP: [&str; 16] = [
    ".ci",
    ".git",
    ".gitignore",
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "benches",
    "config",
    "demo-data",
    "deploy",
    "src",
    "target",
    "tests",
    "deny.toml",
];

fn strangers(names: &[String]) -> Vec<&str> {
    names
        .iter()
        .map(String::as_str)
        .filter(|name| !TOP.contains(name))
        .collect()
}

#[test]
fn the_top_holds_what_the_house_has() {
    let top = fs::read_dir(env!("CARGO_MANIFEST_DIR")).unwrap();
    let names: Vec<String> = top
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    assert_eq!(strangers(&names), [""; 0]);
    assert_eq!(
        strangers(&["src".into(), "notes.txt".into()]),
        ["notes.txt"]
    );
}

#[test]
fn every_kind_of_news_stands_in_the_table_of_the_readme() {
    let readme = fs::read_to_string("README.md").unwrap();
    for kind in graftwarden::notices::Kind::ALL {
        let row = format!("\n| `{}` | ", kind.name());
        assert!(readme.contains(&row), "{}", kind.name());
    }
}
