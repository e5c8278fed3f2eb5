//! Pages in their folder: written by each round, whole, for everybody to read; a folder in trouble stops nothing.

use crate::program::{CONFIG, FIRST, Nursery};
use insta::assert_snapshot;

/// The morning after.
const SECOND: &str = "2024-07-17T06:10:00+02:00";
const THIRD: &str = "2024-07-18T06:10:00+02:00";

fn nursery() -> Nursery {
    let config = format!("{CONFIG}\n[pages]\nfolder = \"pages\"\n");
    Nursery::small().with("graftwarden.toml", &config)
}

/// What lies in the folder of pages, hidden files too.
fn files(nursery: &Nursery) -> Vec<String> {
    let files = std::fs::read_dir(nursery.path("pages")).unwrap();
    let name = |file: std::io::Result<std::fs::DirEntry>| file.unwrap().file_name();
    let mut names: Vec<String> = files
        .map(|file| name(file).into_string().unwrap())
        .collect();
    names.sort();
    names
}

/// A page's words, each run of them on a line of its own.
fn words(page: &str) -> String {
    let body = page.split_once("</style>").unwrap().1;
    let texts = body.split('<').filter_map(|tag| tag.split_once('>'));
    let texts = texts.map(|(_, text)| text.trim());
    let lines: Vec<&str> = texts.filter(|text| !text.is_empty()).collect();
    lines.join("\n")
}

#[test]
fn a_round_writes_them() {
    let nursery = nursery();
    nursery.round(FIRST).well();
    assert_eq!(files(&nursery), ["due.html", "due.ics", "field-sheet.html"]);
    let due = words(&nursery.read("pages/due.html"));
    assert!(
        due.starts_with("To the blocks\nWhat is due, Alder Fold Nursery\n"),
        "{due}"
    );
    for line in [
        "Tuesday 16 July 2024",
        ". Written Tue 16 Jul 06:10; the next page is due Wed 17 Jul 06:10. If that is over, see whether graftwarden runs.",
        "Block A: 1 thing due",
        "310 grafts left, open since Mon 15 Jul",
        "None: all was read, fetched and sent.",
    ] {
        assert!(due.contains(line), "{line} is not in\n{due}");
    }
    let sheet = words(&nursery.read("pages/field-sheet.html"));
    assert!(
        sheet.contains("1 thing to do in 1 block, 310 grafts, about 1.0 h of crew time."),
        "{sheet}"
    );
}

#[test]
fn a_round_again_writes_the_same() {
    let nursery = nursery();
    let all = |nursery: &Nursery| -> Vec<String> {
        let names = files(nursery).into_iter();
        names
            .map(|name| nursery.read(&format!("pages/{name}")))
            .collect()
    };
    nursery.round(FIRST).well();
    let first = all(&nursery);
    std::fs::write(nursery.path("pages/.due.html.part"), "half a page").unwrap();
    nursery.round(FIRST).well();
    assert_eq!(all(&nursery), first);
}

/// Title and number of every entry of the calendar.
fn entries(nursery: &Nursery) -> String {
    let calendar = nursery.read("pages/due.ics").replace("\r\n ", "");
    let of = |name: &str| -> Vec<String> {
        let lines = calendar.lines().filter_map(|line| line.strip_prefix(name));
        lines.map(str::to_owned).collect()
    };
    let lines = of("SUMMARY:").into_iter().zip(of("SEQUENCE:"));
    let starts = of("DTSTART;VALUE=DATE:");
    let lines = lines.zip(starts);
    lines
        .map(|((title, number), start)| format!("{start} {number} {title}\n"))
        .collect()
}

#[test]
fn the_calendar_moves_with_the_work() {
    let nursery = nursery();
    nursery.round(FIRST).well();
    assert_snapshot!(entries(&nursery), @r"
    20240715 0 Block A: look for callus lines (1 batch\, 310 grafts)
    20240717 0 Block A: look for callus lines\, foreseen (1 batch\, 120 grafts)
    20240719 0 Block A: head back\, foreseen (1 batch\, 310 grafts)
    20240720 0 Block A: head back\, foreseen (1 batch\, 120 grafts)
    20240722 0 Block A: tape off and tie in\, foreseen (1 batch\, 310 grafts)
    20240724 0 Block A: tape off and tie in\, foreseen (1 batch\, 120 grafts)
    20240724 0 Block B: look for callus lines\, foreseen (1 batch\, 90 grafts)
    20240727 0 Block B: head back\, foreseen (1 batch\, 90 grafts)
    20240731 0 Block B: tape off and tie in\, foreseen (1 batch\, 90 grafts)
    ");
    nursery.append("records.csv", "2024-07-17,A1,lines,,Maren,\n");
    nursery.round(SECOND).well();
    assert_snapshot!(entries(&nursery), @r"
    20240715 1 Block A: look for callus lines\, done (1 batch)
    20240717 1 Block A: head back (1 batch\, 310 grafts)
    20240717 0 Block A: look for callus lines\, foreseen (1 batch\, 120 grafts)
    20240720 0 Block A: head back\, foreseen (1 batch\, 120 grafts)
    20240722 0 Block A: tape off and tie in\, foreseen (1 batch\, 310 grafts)
    20240724 0 Block A: tape off and tie in\, foreseen (1 batch\, 120 grafts)
    20240724 0 Block B: look for callus lines\, foreseen (1 batch\, 90 grafts)
    20240727 0 Block B: head back\, foreseen (1 batch\, 90 grafts)
    20240731 0 Block B: tape off and tie in\, foreseen (1 batch\, 90 grafts)
    ");
}

#[test]
fn a_folder_that_cannot_be_written_is_told_and_stops_nothing() {
    let nursery = nursery().with("pages", "a file in the way");
    let first = nursery.round(FIRST);
    assert_snapshot!(first, @r"
    to Maren Holt: Block A: look for callus lines now (1 batch, 310 grafts)
    1 notice, 1 letter
    -- error --
    [time] ERROR the pages in pages: they could not be written: due.html: File exists (os error 17); what lies there is of an earlier round; letters leave all the same. See that the folder is there, that this program may write into it, and that there is room.
    ");
    assert_eq!(nursery.letters().len(), 1);
    // The next round tells of it, the one after does not.
    assert_snapshot!(nursery.round(SECOND), @r"
    to Maren Holt: Trouble: the pages in pages: they could not be written: due.html: File exists (os error 17)
    1 notice, 1 letter
    -- error --
    [time] ERROR the pages in pages: they could not be written: due.html: File exists (os error 17); what lies there is of an earlier round; letters leave all the same. See that the folder is there, that this program may write into it, and that there is room.
    the pages in pages: they could not be written: due.html: File exists (os error 17); what lies there is of an earlier round; letters leave all the same. See that the folder is there, that this program may write into it, and that there is room.
    ");
    assert_snapshot!(nursery.round(THIRD), @r"
    to Maren Holt: No temperatures from home
    1 notice, 1 letter
    -- error --
    [time] ERROR the pages in pages: they could not be written: due.html: File exists (os error 17); what lies there is of an earlier round; letters leave all the same. See that the folder is there, that this program may write into it, and that there is room.
    the pages in pages: they could not be written: due.html: File exists (os error 17); what lies there is of an earlier round; letters leave all the same. See that the folder is there, that this program may write into it, and that there is room.
    ");
    assert_eq!(nursery.read("pages"), "a file in the way");
    // Made room for, it is written again, and nothing is said any more.
    std::fs::remove_file(nursery.path("pages")).unwrap();
    assert_eq!(nursery.round(THIRD).code, 0);
    assert_eq!(files(&nursery).len(), 3);
    assert!(
        !nursery
            .read("pages/due.html")
            .contains("could not be written")
    );
    nursery.round(THIRD).well();
}

#[test]
fn there_are_none_where_none_are_wanted_and_none_in_a_rehearsal() {
    let without = Nursery::small();
    without.round(FIRST).well();
    assert!(!without.path("pages").exists());
    let nursery = nursery();
    assert_eq!(nursery.run("rehearse --letters played").code, 0);
    assert!(!nursery.path("pages").exists());
}

#[test]
fn check_says_where_they_go() {
    let nursery = nursery();
    let said = nursery.run("check").out;
    assert!(said.contains("ok    pages go into pages\n"), "{said}");
    nursery.write("pages", "a file in the way");
    let said = nursery.run("check");
    assert_eq!(said.code, 65);
    assert!(
        said.out
            .contains("mend  pages: pages are to go into this folder, but it is a file"),
        "{said}"
    );
}
