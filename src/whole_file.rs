//! A file that is there whole or not at all: what reads it never sees half of it.
//!
//! Written beside its place under a hidden name, brought to the disk, then given its name. Knows nothing of what is in it.

use std::fs::{self, File};
use std::io::{self, Write};
use std::os::unix::fs::{MetadataExt, OpenOptionsExt, PermissionsExt, fchown};
use std::path::Path;

/// Writes a file so that only its owner's rules say who may read it; the folder is made where there is none.
pub fn write(file: &Path, bytes: &[u8]) -> io::Result<()> {
    put(file, bytes, false)
}

/// The same, for everybody to read, whatever the usual permissions are; also the folder, where it is made.
pub fn write_public(file: &Path, bytes: &[u8]) -> io::Result<()> {
    put(file, bytes, true)
}

fn put(file: &Path, bytes: &[u8], public: bool) -> io::Result<()> {
    let (Some(folder), Some(name)) = (file.parent(), file.file_name()) else {
        return Err(io::Error::other("not a file name"));
    };
    // A bare name lies in the present folder, which an empty path does not name.
    let folder = if folder.as_os_str().is_empty() {
        Path::new(".")
    } else {
        folder
    };
    if !folder.is_dir() {
        fs::create_dir_all(folder)?;
        if public {
            open_to_all(folder, 0o755)?;
        }
    }
    let part = folder.join(format!(".{}.part", name.display()));
    // What was left of an earlier try goes; made anew, it is no link to somewhere else.
    match fs::remove_file(&part) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
        _ => {}
    }
    let mut out = File::options().write(true).create_new(true).open(&part)?;
    out.write_all(bytes)?;
    if public {
        open_to_all(&part, 0o644)?;
    }
    out.sync_all()?;
    fs::rename(&part, file)?;
    File::open(folder)?.sync_all()
}

/// Makes an empty file, for its owner alone, where there is none. One that root makes in a folder of another user belongs to
/// that user: a service that is not root goes on with it. What is there already stays as it is: it may be a link to
/// somewhere else.
pub fn begin(path: &Path) -> io::Result<()> {
    let mut new = File::options();
    let file = match new.write(true).create_new(true).mode(0o600).open(path) {
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => return Ok(()),
        made => made?,
    };
    let owner = |of: fs::Metadata| (of.uid(), of.gid());
    let folder = path
        .parent()
        .filter(|parent| !parent.as_os_str().is_empty());
    let (user, group) = owner(fs::metadata(folder.unwrap_or(Path::new(".")))?);
    if (user, group) != owner(file.metadata()?) {
        // Only root may; for others it stays theirs, as it was made.
        let _ = fchown(&file, Some(user), Some(group));
    }
    Ok(())
}

fn open_to_all(path: &Path, mode: u32) -> io::Result<()> {
    fs::set_permissions(path, fs::Permissions::from_mode(mode))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_begun_is_the_owners_alone_and_what_is_there_is_not_touched() {
        let folder = tempfile::tempdir().unwrap();
        let (new, link) = (folder.path().join("new"), folder.path().join("link"));
        begin(&new).unwrap();
        assert_eq!(fs::metadata(&new).unwrap().mode() & 0o777, 0o600);
        fs::write(&new, "kept").unwrap();
        begin(&new).unwrap();
        assert_eq!(fs::read_to_string(&new).unwrap(), "kept");
        std::os::unix::fs::symlink("/nowhere/at/all", &link).unwrap();
        begin(&link).unwrap();
        assert!(fs::metadata(&link).is_err());
    }

    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn it_takes_the_place_of_the_one_before_and_leaves_nothing_beside_it() {
        let folder = tempfile::tempdir().unwrap();
        let inner = folder.path().join("a/b");
        let file = inner.join("due.html");
        write(&file, b"one").unwrap();
        fs::write(inner.join(".due.html.part"), "half of").unwrap();
        write(&file, b"two").unwrap();
        assert_eq!(fs::read(&file).unwrap(), b"two");
        assert_eq!(names(&inner), ["due.html"]);
    }

    #[cfg(unix)]
    #[test]
    fn a_public_one_can_be_read_by_everybody() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("pages/due.html");
        write_public(&file, b"x").unwrap();
        let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode() & 0o777;
        assert_eq!(mode(&file), 0o644);
        assert_eq!(mode(file.parent().unwrap()), 0o755);
    }

    /// Whoever may write into the folder cannot have another file written over.
    #[cfg(unix)]
    #[test]
    fn a_link_laid_in_the_way_is_not_followed() {
        let folder = tempfile::tempdir().unwrap();
        let (other, file) = (folder.path().join("other"), folder.path().join("due.html"));
        fs::write(&other, "mine").unwrap();
        std::os::unix::fs::symlink(&other, folder.path().join(".due.html.part")).unwrap();
        write(&file, b"page").unwrap();
        assert_eq!(fs::read(&other).unwrap(), b"mine");
        assert_eq!(fs::read(&file).unwrap(), b"page");
    }

    #[test]
    fn a_file_in_the_place_of_the_folder_is_an_error_and_stays() {
        let folder = tempfile::tempdir().unwrap();
        let taken = folder.path().join("pages");
        fs::write(&taken, "mine").unwrap();
        assert!(write(&taken.join("due.html"), b"x").is_err());
        assert_eq!(fs::read(&taken).unwrap(), b"mine");
    }
}
