//! Pages kept whole under tests/data, against which tests compare what is written now. Outside of the core, since it reads
//! files; compiled for tests only.

use std::path::PathBuf;

/// Elements before which a page is broken: it is nearly one line, and changes in it are to be read.
const BLOCKS: &str = "html head meta title style body div a header main nav section footer h1 h2 h3 p ul li dl dt dd table caption colgroup col thead tbody tr th td img";

fn folder(room: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("tests/data")
        .join(room)
}

/// Compares a page with the one kept under tests/data, or writes it where `WRITE_KEPT` is set.
#[track_caller]
pub(crate) fn same_as(room: &str, name: &str, page: &str) {
    let file = folder(room).join(name);
    let found = BLOCKS.split(' ').fold(page.to_owned(), |page, tag| {
        page.replace(&format!("<{tag}>"), &format!("\n<{tag}>"))
            .replace(&format!("<{tag} "), &format!("\n<{tag} "))
    }) + "\n";
    if std::env::var_os("WRITE_KEPT").is_some() {
        std::fs::create_dir_all(folder(room)).unwrap();
        std::fs::write(&file, &found).unwrap();
    }
    let kept = std::fs::read_to_string(&file).unwrap();
    let mut lines = kept.lines().zip(found.lines());
    if let Some((was, is)) = lines.find(|(was, is)| was != is) {
        panic!("{room}/{name} (WRITE_KEPT=1 writes it anew):\n- {was}\n+ {is}");
    }
    assert_eq!(kept, found, "{room}/{name}");
}

/// How many files are kept there.
pub(crate) fn count(room: &str) -> usize {
    std::fs::read_dir(folder(room)).unwrap().count()
}
