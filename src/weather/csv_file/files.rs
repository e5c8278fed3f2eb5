//! Which files a path means: one, or all of a pattern, as loggers leave them that begin a new file each month.
//!
//! Hands them on with the newest last. Opens none of them.

use crate::problem::Problem;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// How a file looks from outside: when it was last written, and its length in bytes.
pub type Looks = (PathBuf, SystemTime, u64);

/// The files, the newest last; `done` says what comes of it when there is none. A path without signs of a pattern is
/// its own file, whether it is there or not.
pub fn files(path: &Path, done: &str) -> Result<Vec<PathBuf>, Problem> {
    if !is_pattern(path) {
        return Ok(vec![path.to_owned()]);
    }
    let place = path.display().to_string();
    let problem = |what: String, remedy: &str| {
        Problem::new(&place, what, done, remedy).keyed(format!("{place}: cannot be used"))
    };
    let found = glob::glob(&place).map_err(|error| {
        problem(
            format!("this is no pattern for files ({})", error.msg),
            "write * for any letters, as in \"logs/*.csv\"",
        )
    })?;
    let mut files: Vec<(SystemTime, PathBuf)> = found
        .filter_map(Result::ok)
        .filter(|path| path.is_file())
        .map(|path| {
            let about = path.metadata().and_then(|about| about.modified());
            (about.unwrap_or(SystemTime::UNIX_EPOCH), path)
        })
        .collect();
    if files.is_empty() {
        return Err(problem(
            "no file is named like this".into(),
            "put the files there, or correct the pattern in the config",
        ));
    }
    files.sort();
    Ok(files.into_iter().map(|(_, path)| path).collect())
}

/// How the files of a path look; none where one of them cannot be looked at.
pub fn looks(path: &Path) -> Option<Vec<Looks>> {
    let files = files(path, "").ok()?;
    files
        .into_iter()
        .map(|path| {
            let about = path.metadata().ok()?;
            Some((path, about.modified().ok()?, about.len()))
        })
        .collect()
}

/// A file that is there is meant, whatever signs its name has.
pub fn is_pattern(path: &Path) -> bool {
    let signs = path.to_string_lossy().contains(['*', '?', '[']);
    signs && !path.exists()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs::{self, File};
    use std::time::Duration;

    #[test]
    fn a_pattern_means_all_its_files_the_newest_last() {
        let folder = tempfile::tempdir().unwrap();
        for (name, age) in [("b.csv", 30), ("a.csv", 10), ("c.csv", 20), ("d.txt", 5)] {
            let file = File::create(folder.path().join(name)).unwrap();
            let written = SystemTime::now() - Duration::from_secs(age);
            file.set_modified(written).unwrap();
        }
        fs::create_dir(folder.path().join("e.csv")).unwrap();
        let found = files(&folder.path().join("*.csv"), "").unwrap();
        let names: Vec<_> = found.iter().filter_map(|path| path.file_name()).collect();
        assert_eq!(names, ["b.csv", "c.csv", "a.csv"]);
    }

    #[test]
    fn a_pattern_without_a_file_says_so() {
        let problem = files(Path::new("/no/such/*.csv"), "nothing was read").unwrap_err();
        assert_eq!(
            problem.to_string(),
            "/no/such/*.csv: no file is named like this; nothing was read. Put the files there, or correct the pattern in the config."
        );
        let problem = files(Path::new("/no/[such.csv"), "").unwrap_err();
        assert!(problem.what.starts_with("this is no pattern for files"));
    }

    #[test]
    fn a_name_with_signs_may_be_a_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("log[1].csv");
        assert!(is_pattern(&path));
        fs::write(&path, "x").unwrap();
        assert_eq!(files(&path, "").unwrap(), [path]);
    }
}
