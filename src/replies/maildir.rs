//! A mailbox as a folder of this machine: one file a mail, new ones in `new`, the others in `cur` with their flags.
//!
//! Whoever else looks into it may: a mail that somebody has read or thrown away (flags S and T) is none of ours. Ours
//! get the flag S in `cur` when they are done with. Knows nothing of what mails say.

use super::mailbox::{Arrived, HEAD, LARGEST, MOST, Mailbag, Mailbox};
use crate::post::Pending;
use crate::problem::Problem;
use std::collections::HashSet;
use std::fs::{self, File};
use std::io::{self, ErrorKind, Read};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::SystemTime;

/// A folder with `new` and `cur` in it.
#[derive(Clone, Debug)]
pub struct Maildir {
    path: PathBuf,
    /// Done with, but they could not be moved: they must not be taken for news at each look.
    stuck: Arc<Mutex<HashSet<String>>>,
}

impl Maildir {
    /// Looks at nothing yet.
    pub fn new(path: impl Into<PathBuf>) -> Self {
        Self {
            path: path.into(),
            stuck: Arc::default(),
        }
    }

    /// Looks whether the folder is there and can be read, and changes nothing.
    pub fn look_for(&self) -> Result<(), Problem> {
        self.unread().map(|_| ())
    }

    fn read(&self) -> Result<Mailbag, Problem> {
        let stuck = self.stuck().clone();
        let mut found = self.unread()?;
        found.retain(|(_, handle)| !stuck.contains(handle));
        found.sort();
        let mut bag = Mailbag::default();
        for (_, handle) in found {
            if bag.mails.len() == MOST {
                break;
            }
            match read_file(&self.path.join(&handle)) {
                Ok((bytes, size)) => bag.mails.push(Arrived::new(handle, &bytes, size)),
                // Another program was quicker.
                Err(error) if error.kind() == ErrorKind::NotFound => {}
                Err(error) => bag.problems.push(unreadable(&self.path, &handle, &error)),
            }
        }
        Ok(bag)
    }

    /// Every mail that nobody has read, with its age.
    fn unread(&self) -> Result<Vec<(SystemTime, String)>, Problem> {
        let mut found = Vec::new();
        for folder in ["new", "cur"] {
            let entries = fs::read_dir(self.path.join(folder)).map_err(|e| self.unusable(&e))?;
            for entry in entries.flatten() {
                let Ok(name) = entry.file_name().into_string() else {
                    continue;
                };
                if name.starts_with('.') || folder == "cur" && is_done(&name) {
                    continue;
                }
                let at = entry.metadata().and_then(|about| about.modified());
                found.push((
                    at.unwrap_or(SystemTime::UNIX_EPOCH),
                    format!("{folder}/{name}"),
                ));
            }
        }
        Ok(found)
    }

    fn unusable(&self, error: &io::Error) -> Problem {
        let (what, remedy) = match error.kind() {
            ErrorKind::NotFound => (
                "it has no folders new and cur, so it is not a maildir".to_owned(),
                format!(
                    "name the folder into which your mail server puts the mails for answers; most make it with the first mail, so send one. Or make it, as the user who runs graftwarden: {}",
                    self.making()
                ),
            ),
            ErrorKind::PermissionDenied => (
                "it may not be read".to_owned(),
                "let the user who runs graftwarden read and write it, as deploy/README.md shows"
                    .into(),
            ),
            _ => (
                format!("it could not be read ({error})"),
                "see whether the disk it lies on is well".into(),
            ),
        };
        Problem::new(self.place(), what, "no answer is read", remedy)
    }

    /// How the folder is made in a shell.
    fn making(&self) -> String {
        let folders = ["new", "cur", "tmp"].map(|folder| {
            let folder = self.path.join(folder).display().to_string();
            format!(" '{}'", folder.replace('\'', r"'\''"))
        });
        format!("mkdir -p{}", folders.concat())
    }

    fn place(&self) -> String {
        format!("mailbox {}", self.path.display())
    }

    fn mark(&self, handles: &[String]) -> Result<(), Problem> {
        let mut failed = None;
        for handle in handles {
            match self.mark_one(handle) {
                Err(error) if error.kind() != ErrorKind::NotFound => {
                    self.stuck().insert(handle.clone());
                    failed = Some(error);
                }
                _ => {}
            }
        }
        failed.map_or(Ok(()), |error| {
            Err(Problem::new(
                self.place(),
                format!("mails that were read could not be moved from new to cur ({error})"),
                "they are not read twice while the program runs, and known again after a restart",
                "let the user who runs graftwarden write it, as deploy/README.md shows",
            ))
        })
    }

    fn mark_one(&self, handle: &str) -> io::Result<()> {
        let name = handle.rsplit('/').next().unwrap_or(handle);
        let to = self.path.join("cur").join(as_done(name));
        if to.exists() {
            return Err(io::Error::from(ErrorKind::AlreadyExists));
        }
        fs::rename(self.path.join(handle), to)
    }

    fn check(&self) -> Result<String, Problem> {
        let waiting = self.unread()?.len();
        for folder in ["new", "cur"] {
            let probe = self.path.join(folder).join(".graftwarden-was-here");
            let made = File::create(&probe).and_then(|_| fs::remove_file(&probe));
            made.map_err(|error| {
                Problem::new(
                    self.place(),
                    format!("nothing can be written into {folder} ({error})"),
                    "mails that were read could not be marked",
                    "let the user who runs graftwarden write it, as deploy/README.md shows",
                )
            })?;
        }
        Ok(format!("{}: {}", self.place(), waiting_mails(waiting)))
    }

    fn stuck(&self) -> std::sync::MutexGuard<'_, HashSet<String>> {
        self.stuck.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Does something on a thread of its own: a folder on another machine may hang, which must not hold up the rest.
    fn aside<T: Send + 'static>(
        &self,
        work: impl FnOnce(&Self) -> Result<T, Problem> + Send + 'static,
    ) -> Pending<'_, Result<T, Problem>> {
        let theirs = self.clone();
        Box::pin(async move {
            match tokio::task::spawn_blocking(move || work(&theirs)).await {
                Ok(done) => done,
                Err(stopped) => std::panic::resume_unwind(stopped.into_panic()),
            }
        })
    }
}

impl Mailbox for Maildir {
    fn look(&self) -> Pending<'_, Result<Mailbag, Problem>> {
        self.aside(Self::read)
    }

    fn put_aside(&self, handles: Vec<String>) -> Pending<'_, Result<(), Problem>> {
        self.aside(move |theirs| theirs.mark(&handles))
    }

    fn try_out(&self) -> Pending<'_, Result<String, Problem>> {
        self.aside(Self::check)
    }
}

/// "2 mails wait to be read".
pub(super) fn waiting_mails(waiting: usize) -> String {
    match waiting {
        0 => "no mail waits to be read".into(),
        1 => "1 mail waits to be read".into(),
        n => format!("{n} mails wait to be read"),
    }
}

/// The flags in a name of `cur`: `1721.M3P8.mail:2,RS` has R and S.
fn flags(name: &str) -> &str {
    name.rsplit_once(":2,").map_or("", |(_, flags)| flags)
}

/// Somebody has read it, or thrown it away.
fn is_done(name: &str) -> bool {
    flags(name).contains(['S', 'T'])
}

/// The name with the flag S, flags in order of the alphabet.
fn as_done(name: &str) -> String {
    let base = name.rsplit_once(":2,").map_or(name, |(base, _)| base);
    let mut flags: Vec<char> = flags(name).chars().chain(['S']).collect();
    flags.sort_unstable();
    flags.dedup();
    format!("{base}:2,{}", flags.into_iter().collect::<String>())
}

/// The bytes of a mail and its size; of one that is too large the beginning only.
fn read_file(path: &Path) -> io::Result<(Vec<u8>, u64)> {
    let about = fs::symlink_metadata(path)?;
    // A pipe would be waited for without end, and a link may lead anywhere.
    if !about.is_file() {
        return Err(io::Error::other("it is not a file"));
    }
    let wanted = if about.len() > LARGEST { HEAD } else { LARGEST };
    let mut bytes = Vec::new();
    File::open(path)?.take(wanted).read_to_end(&mut bytes)?;
    Ok((bytes, about.len()))
}

fn unreadable(maildir: &Path, handle: &str, error: &io::Error) -> Problem {
    Problem::new(
        format!("mail {}", maildir.join(handle).display()),
        format!("it could not be read ({error})"),
        "nothing in it is written down, and it stays where it is",
        "see that the user who runs graftwarden may read it, or take it away",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    const MAIL: &str =
        "From: jory@alderfold.example\r\nMessage-ID: <1@phone.example>\r\n\r\nC-14 lines\r\n";

    /// A maildir with these files in it, all of one age.
    fn maildir(files: &[(&str, &str)]) -> (tempfile::TempDir, Maildir) {
        let folder = tempfile::tempdir().unwrap();
        for name in ["new", "cur", "tmp"] {
            fs::create_dir(folder.path().join(name)).unwrap();
        }
        for (name, text) in files {
            fs::write(folder.path().join(name), text).unwrap();
        }
        let mailbox = Maildir::new(folder.path());
        (folder, mailbox)
    }

    fn handles(mailbox: &Maildir) -> Vec<String> {
        let bag = mailbox.read().unwrap();
        bag.mails.into_iter().map(|mail| mail.handle).collect()
    }

    #[test]
    fn unread_mails_are_those_without_a_mark() {
        let (_folder, mailbox) = maildir(&[
            ("new/1", MAIL),
            ("new/.2", MAIL),
            ("tmp/3", MAIL),
            ("cur/4:2,", MAIL),
            ("cur/5:2,RS", MAIL),
            ("cur/6:2,T", MAIL),
            ("cur/7:2,FR", MAIL),
            ("cur/8", MAIL),
        ]);
        let mut found = handles(&mailbox);
        found.sort();
        assert_eq!(found, ["cur/4:2,", "cur/7:2,FR", "cur/8", "new/1"]);
    }

    #[track_caller]
    fn check_done(name: &str, done: &str) {
        assert_eq!(as_done(name), done);
        assert!(is_done(done));
    }

    #[test]
    fn what_is_done_with_has_the_mark() {
        check_done("1", "1:2,S");
        check_done("1:2,", "1:2,S");
        check_done("1:2,FT", "1:2,FST");
        check_done("1.mail:2,a:2,R", "1.mail:2,a:2,RS");
        let (folder, mailbox) = maildir(&[("new/1", MAIL), ("cur/2:2,R", MAIL)]);
        mailbox
            .mark(&["new/1".into(), "cur/2:2,R".into(), "new/gone".into()])
            .unwrap();
        assert_eq!(handles(&mailbox), [""; 0]);
        for name in ["cur/1:2,S", "cur/2:2,RS"] {
            let text = fs::read_to_string(folder.path().join(name)).unwrap();
            assert_eq!(text, MAIL, "{name}");
        }
    }

    #[test]
    fn what_cannot_be_marked_is_told_and_not_read_at_each_look() {
        let (_folder, mailbox) = maildir(&[("new/1", MAIL), ("cur/1:2,S", "another")]);
        let problem = mailbox.mark(&["new/1".into()]).unwrap_err();
        assert!(problem.what.contains("could not be moved"), "{problem}");
        assert_eq!(handles(&mailbox), [""; 0]);
    }

    #[test]
    fn forty_at_a_look_the_oldest_first() {
        let (folder, mailbox) = maildir(&[]);
        let begin = SystemTime::now();
        for n in 0..MOST + 2 {
            let file = File::create(folder.path().join(format!("new/{n}"))).unwrap();
            let age = std::time::Duration::from_secs(60 * n as u64);
            file.set_modified(begin - age).unwrap();
        }
        let found = handles(&mailbox);
        assert_eq!(found.len(), MOST);
        assert_eq!((found[0].as_str(), found[1].as_str()), ("new/41", "new/40"));
    }

    #[test]
    fn a_mail_that_is_too_large_is_known_by_its_head_only() {
        let (folder, mailbox) = maildir(&[]);
        let path = folder.path().join("new/1");
        fs::write(&path, MAIL).unwrap();
        let file = File::options().write(true).open(&path).unwrap();
        file.set_len(30_000_000).unwrap();
        let bag = mailbox.read().unwrap();
        let [arrived] = bag.mails.as_slice() else {
            panic!("{bag:?}");
        };
        assert_eq!(arrived.too_large, Some(30_000_000));
        assert_eq!(arrived.mail.from.as_deref(), Some("jory@alderfold.example"));
        assert_eq!(
            (arrived.mail.id.as_str(), arrived.mail.words.as_str()),
            ("1@phone.example", "")
        );
        file.set_len(LARGEST).unwrap();
        assert_eq!(mailbox.read().unwrap().mails[0].too_large, None);
    }

    #[test]
    fn what_is_no_file_is_a_problem_and_the_rest_is_read() {
        let (folder, mailbox) = maildir(&[("new/1", MAIL)]);
        fs::create_dir(folder.path().join("new/2")).unwrap();
        std::os::unix::fs::symlink("/etc/passwd", folder.path().join("new/3")).unwrap();
        let bag = mailbox.read().unwrap();
        assert_eq!(bag.mails.len(), 1);
        let what: Vec<&str> = bag.problems.iter().map(|p| p.what.as_str()).collect();
        assert_eq!(what, ["it could not be read (it is not a file)"; 2]);
    }

    #[test]
    fn a_folder_that_is_no_maildir_is_said() {
        let folder = tempfile::tempdir().unwrap();
        let problem = Maildir::new(folder.path()).read().unwrap_err();
        assert!(problem.what.contains("not a maildir"), "{problem}");
    }

    #[test]
    fn a_look_for_the_check_says_what_waits_and_leaves_nothing() {
        let (folder, mailbox) = maildir(&[("new/1", MAIL)]);
        let said = mailbox.check().unwrap();
        assert!(said.ends_with(": 1 mail waits to be read"), "{said}");
        assert_eq!(fs::read_dir(folder.path().join("new")).unwrap().count(), 1);
        assert_eq!(fs::read_dir(folder.path().join("cur")).unwrap().count(), 0);
    }
}
