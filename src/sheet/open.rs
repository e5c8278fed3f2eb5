//! Opens a file to be read, or says in one sentence why that cannot be done.

use crate::problem::Problem;
use std::fs::{self, File};
use std::io::{self, ErrorKind, Read, Seek, SeekFrom};
use std::path::Path;
use std::time::SystemTime;

/// How workbooks begin: the zipped kind and the one before it.
const WORKBOOKS: [&[u8; 4]; 2] = [b"PK\x03\x04", b"\xD0\xCF\x11\xE0"];

/// A regular file with something in it, under its cap.
#[derive(Debug)]
pub struct Opened {
    /// At its beginning.
    pub file: File,
    /// Bytes.
    pub length: u64,
    /// When it was last written, where the file system says so.
    pub modified: Option<SystemTime>,
}

/// Opens the file; `done` says what comes of it when it cannot be used. `cap` is in bytes.
pub fn open(path: &Path, cap: u64, done: &str) -> Result<Opened, Problem> {
    let problem = |what: &str, remedy: &str| trouble(path, done, what, remedy);
    let failed = |error: io::Error| refused(path, done, &error);
    let about = fs::metadata(path).map_err(failed)?;
    if about.is_dir() {
        return Err(problem(
            "this is a folder, not a file",
            "name a file inside it in the config",
        ));
    }
    // A pipe or a device could keep the program waiting for ever.
    if !about.is_file() {
        return Err(problem(
            "this is not an ordinary file",
            "name an ordinary file in the config",
        ));
    }
    if about.len() == 0 {
        return Err(problem(
            "the file is empty",
            "save it again; its first row must name the columns",
        ));
    }
    if about.len() > cap {
        return Err(problem(
            &format!(
                "the file has {}, and no more than {} are read",
                size(about.len()),
                size(cap)
            ),
            "move what is no longer needed into another file",
        ));
    }
    let mut file = File::open(path).map_err(failed)?;
    let mut head = Vec::new();
    file.by_ref()
        .take(4)
        .read_to_end(&mut head)
        .map_err(failed)?;
    if WORKBOOKS.iter().any(|mark| head == *mark) {
        return Err(problem(
            "this is a spreadsheet workbook, not a CSV file",
            "save it from the spreadsheet as CSV (UTF-8)",
        ));
    }
    file.seek(SeekFrom::Start(0)).map_err(failed)?;
    Ok(Opened {
        file,
        length: about.len(),
        modified: about.modified().ok(),
    })
}

/// The sentence for what the system answered.
fn refused(path: &Path, done: &str, error: &io::Error) -> Problem {
    match error.kind() {
        ErrorKind::NotFound => trouble(
            path,
            done,
            "there is no such file",
            "put it there, or correct its path in the config",
        ),
        ErrorKind::PermissionDenied => trouble(
            path,
            done,
            "the program is not allowed to read this file",
            "let the user that runs graftwarden read it and the folders above it",
        ),
        _ => trouble(
            path,
            done,
            &format!("the file could not be read ({error})"),
            "see whether the disk or the share it lies on is well",
        ),
    }
}

fn trouble(path: &Path, done: &str, what: &str, remedy: &str) -> Problem {
    Problem::new(path.display().to_string(), what, done, remedy)
        .keyed(format!("{}: cannot be used", path.display()))
}

/// A size as people say it.
pub fn size(bytes: u64) -> String {
    const UNITS: [(u64, &str); 3] = [(1 << 30, "GiB"), (1 << 20, "MiB"), (1 << 10, "KiB")];
    for (unit, name) in UNITS {
        if bytes >= unit {
            let tenths = u128::from(bytes) * 10 / u128::from(unit);
            return match tenths % 10 {
                0 => format!("{} {name}", tenths / 10),
                part => format!("{}.{part} {name}", tenths / 10),
            };
        }
    }
    format!("{bytes} bytes")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(path: &Path, cap: u64, expect: &str) {
        let problem = open(path, cap, "nothing was read from it").unwrap_err();
        let told = problem
            .to_string()
            .replace(&path.display().to_string(), "FILE");
        assert_eq!(told, expect);
    }

    #[test]
    fn each_trouble_has_its_sentence() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("batches.csv");
        check(
            &file,
            9,
            "FILE: there is no such file; nothing was read from it. Put it there, or correct its path in the config.",
        );
        check(
            folder.path(),
            9,
            "FILE: this is a folder, not a file; nothing was read from it. Name a file inside it in the config.",
        );
        fs::write(&file, "").unwrap();
        check(
            &file,
            9,
            "FILE: the file is empty; nothing was read from it. Save it again; its first row must name the columns.",
        );
        fs::write(&file, vec![b'x'; 1537]).unwrap();
        check(
            &file,
            1024,
            "FILE: the file has 1.5 KiB, and no more than 1 KiB are read; nothing was read from it. Move what is no longer needed into another file.",
        );
        fs::write(&file, b"PK\x03\x04rest").unwrap();
        check(
            &file,
            99,
            "FILE: this is a spreadsheet workbook, not a CSV file; nothing was read from it. Save it from the spreadsheet as CSV (UTF-8).",
        );
        check(
            Path::new("/dev/null"),
            9,
            "FILE: this is not an ordinary file; nothing was read from it. Name an ordinary file in the config.",
        );
    }

    /// A superuser may read everything, so the system's answers are made here.
    #[test]
    fn each_answer_of_the_system_has_its_sentence() {
        let told = |error: io::Error| refused(Path::new("FILE"), "", &error).to_string();
        assert_eq!(
            told(ErrorKind::PermissionDenied.into()),
            "FILE: the program is not allowed to read this file. Let the user that runs graftwarden read it and the folders above it."
        );
        assert_eq!(
            told(io::Error::other("stale handle")),
            "FILE: the file could not be read (stale handle). See whether the disk or the share it lies on is well."
        );
    }

    #[test]
    fn a_good_file_is_at_its_beginning() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("batches.csv");
        fs::write(&file, "batch\n").unwrap();
        let mut opened = open(&file, 9, "").unwrap();
        let mut text = String::new();
        opened.file.read_to_string(&mut text).unwrap();
        assert_eq!((text.as_str(), opened.length), ("batch\n", 6));
    }
}
