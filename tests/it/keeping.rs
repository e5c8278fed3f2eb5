//! The memory is taken care of: copied once a day, and put back where it is damaged or gone, which the next round tells.

mod copies;
mod letters;
mod mending;
mod refusing;
mod values;

use crate::program::{FIRST, Nursery, Ran, temperatures};
use std::fs;
use std::path::Path;

const SECOND: &str = "2024-07-17T06:10:00+02:00";
const THIRD: &str = "2024-07-18T06:10:00+02:00";
const DB: &str = "state/graftwarden.db";
const OF_FIRST: &str = "state/backups/graftwarden-2024-07-16.db";
const OF_SECOND: &str = "state/backups/graftwarden-2024-07-17.db";

/// The names of the files in a folder, hidden ones too.
fn names(folder: &Path) -> Vec<String> {
    let files = fs::read_dir(folder).unwrap();
    let name = |file: std::io::Result<fs::DirEntry>| file.unwrap().file_name();
    let mut names: Vec<String> = files.map(|f| name(f).into_string().unwrap()).collect();
    names.sort();
    names
}

fn backups(nursery: &Nursery) -> Vec<String> {
    names(&nursery.path("state/backups"))
}

/// What is kept of memories that were damaged.
fn kept(nursery: &Nursery) -> Vec<String> {
    let mut names = names(&nursery.path("state"));
    names.retain(|name| name.starts_with("graftwarden.db."));
    names
}

/// The small nursery on the second morning, after a round on the first and a note since then.
fn second_morning() -> Nursery {
    let nursery = Nursery::small();
    nursery.round(FIRST).well();
    nursery.run("note A1 looked --on 2024-07-16").well();
    nursery.write("temps.csv", temperatures("2024-07-16"));
    nursery
}

/// The same on the third morning.
fn third_morning() -> Nursery {
    let nursery = second_morning();
    nursery.round(SECOND).well();
    nursery.run("note A1 lines --on 2024-07-17").well();
    nursery.write("temps.csv", temperatures("2024-07-17"));
    nursery
}

/// A part in the middle of each page but the first is written over.
fn flip(nursery: &Nursery, file: &str) {
    let file = nursery.path(file);
    let mut bytes = fs::read(&file).unwrap();
    for page in bytes.chunks_mut(4096).skip(1) {
        let end = page.len().min(2600);
        page[1500..end].fill(0xa5);
    }
    fs::write(file, bytes).unwrap();
}

/// The first two rows of a small table change places: the page is whole, and its order is not.
fn disorder(nursery: &Nursery, table: &str) {
    let root = format!("SELECT rootpage FROM sqlite_schema WHERE name = '{table}'");
    let root: usize = nursery.memory(&root)[0].parse().unwrap();
    let mut bytes = fs::read(nursery.path(DB)).unwrap();
    // Where the cells of a leaf are stands behind the eight bytes of its head, two bytes for each.
    let cells = (root - 1) * 4096 + 8;
    bytes.swap(cells, cells + 2);
    bytes.swap(cells + 1, cells + 3);
    fs::write(nursery.path(DB), bytes).unwrap();
}

fn truncate(nursery: &Nursery, file: &str) {
    let file = fs::File::options()
        .write(true)
        .open(nursery.path(file))
        .unwrap();
    file.set_len(file.metadata().unwrap().len() / 2).unwrap();
}

/// The words of the newest letter.
fn newest(nursery: &Nursery) -> String {
    let letter = nursery.letters().pop().unwrap();
    letter.split_once("\n\n").unwrap().1.to_owned()
}

fn records(nursery: &Nursery) -> Vec<String> {
    nursery.memory("SELECT batch, what, date, gone FROM record ORDER BY date")
}

fn troubles(nursery: &Nursery) -> Vec<String> {
    nursery.memory("SELECT anchor FROM notice WHERE kind = 'trouble' ORDER BY id")
}

#[track_caller]
fn mended(damage: impl Fn(&Nursery)) -> (Nursery, Ran) {
    let nursery = second_morning();
    let letters = nursery.letters().len();
    damage(&nursery);
    let ran = nursery.round(SECOND);
    assert_eq!(ran.code, 0, "{ran}");
    assert_eq!(records(&nursery), ["A1 | looked | 2024-07-16 | 0"]);
    assert_eq!(troubles(&nursery), ["memory put back 2024-07-17T04:10:00Z"]);
    assert_eq!(nursery.letters().len(), letters + 1);
    let again = nursery.round("2024-07-17T07:10:00+02:00");
    assert_eq!(again.well(), "0 notices, 0 letters\n");
    (nursery, ran)
}
