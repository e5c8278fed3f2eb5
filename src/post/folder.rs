//! Every letter as an `.eml` file, which any mail program opens.
//!
//! A file appears whole or not at all, under a name that a person can read and that the same letter always gets.
//! Knows nothing of mail but the Date header.

use super::{Carrier, Outcome, Parcel, Pending};
use crate::{fingerprint, whole_file};
use chrono::{DateTime, FixedOffset};
use std::path::PathBuf;
use std::time::Duration;
use tokio::time::timeout;

/// A folder on another machine may hang.
const LIMIT: Duration = Duration::from_secs(60);

/// Bytes of the subject and of the address in a name; file systems take 255 in all.
const SUBJECT: usize = 80;
const ADDRESS: usize = 60;

/// A folder of letters.
#[derive(Clone, Debug)]
pub struct Folder {
    path: PathBuf,
}

impl Folder {
    /// Letters go into `path`, which is made when the first one comes.
    pub fn new(path: impl Into<PathBuf>) -> Self {
        Self { path: path.into() }
    }

    /// The file in which a letter is kept:
    /// `2026-07-19 0610 block-c-head-back-now anna-alderfold-example 1f3a9c04.eml`.
    pub fn file_of(&self, parcel: &Parcel) -> PathBuf {
        let dated = date(&parcel.bytes).map_or_else(
            || "undated".into(),
            |date| date.format("%Y-%m-%d %H%M").to_string(),
        );
        let subject = slug(&parcel.subject, SUBJECT);
        let recipient = slug(&parcel.recipient, ADDRESS);
        let id = short_id(parcel);
        self.path
            .join(format!("{dated} {subject} {recipient} {id}.eml"))
    }
}

impl Carrier for Folder {
    fn name(&self) -> &'static str {
        "folder"
    }

    fn disturbs(&self) -> bool {
        false
    }

    fn carry<'a>(&'a self, parcel: &'a Parcel) -> Pending<'a, Outcome> {
        let file = self.file_of(parcel);
        let bytes = parcel.bytes.clone();
        let shown = file.display().to_string();
        Box::pin(async move {
            let written = tokio::task::spawn_blocking(move || whole_file::write(&file, &bytes));
            let why = match timeout(LIMIT, written).await {
                Ok(Ok(Ok(()))) => return Outcome::Delivered,
                Ok(Ok(Err(error))) => error.to_string(),
                Ok(Err(stopped)) => stopped.to_string(),
                Err(_) => {
                    let seconds = LIMIT.as_secs();
                    let why = format!("nothing could be written to {shown} within {seconds} s");
                    return Outcome::Away { why, rest: None };
                }
            };
            Outcome::Later {
                why: format!("the letter could not be written to {shown}: {why}"),
            }
        })
    }
}

/// The moment in the Date header.
fn date(message: &[u8]) -> Option<DateTime<FixedOffset>> {
    String::from_utf8_lossy(message)
        .lines()
        .take_while(|line| !line.is_empty())
        .find_map(|line| {
            line.split_once(':')
                .filter(|(name, _)| name.eq_ignore_ascii_case("date"))
        })
        .and_then(|(_, value)| DateTime::parse_from_rfc2822(value.trim()).ok())
}

/// Letters and digits, everything else a single dash; at most `most` bytes.
fn slug(text: &str, most: usize) -> String {
    let mut slug = String::new();
    for c in text.chars().flat_map(char::to_lowercase) {
        let c = if c.is_alphanumeric() { c } else { '-' };
        if slug.len() + c.len_utf8() > most {
            break;
        }
        if c != '-' || !(slug.is_empty() || slug.ends_with('-')) {
            slug.push(c);
        }
    }
    let slug = slug.trim_matches('-');
    if slug.is_empty() {
        "letter".into()
    } else {
        slug.into()
    }
}

/// Eight hexadecimal digits that two letters hardly share.
fn short_id(parcel: &Parcel) -> String {
    let mut id = fingerprint::of(format!("{}\0{}", parcel.message_id, parcel.recipient));
    id.truncate(8);
    id
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    fn parcel(subject: &str, recipient: &str) -> Parcel {
        Parcel {
            recipient: recipient.into(),
            message_id: "<n1@alderfold.example>".into(),
            subject: subject.into(),
            bytes: b"Subject: x\r\nDate: Sun, 19 Jul 2026 06:10:00 +0200\r\n\r\nHead back.\r\n"
                .to_vec(),
        }
    }

    /// The name without its eight digits.
    #[track_caller]
    fn check(subject: &str, recipient: &str, name: &str) {
        let file = Folder::new("out").file_of(&parcel(subject, recipient));
        let file = file.strip_prefix("out").unwrap().display().to_string();
        let (readable, id) = file.rsplit_once(' ').unwrap();
        assert_eq!(readable, name);
        let digits = id.strip_suffix(".eml").unwrap();
        assert!(
            digits.len() == 8 && digits.bytes().all(|b| b.is_ascii_hexdigit()),
            "{id}"
        );
    }

    #[test]
    fn names_are_readable_and_safe() {
        check(
            "Block C: head back now (2 batches, 310 grafts)",
            "anna@alderfold.example",
            "2026-07-19 0610 block-c-head-back-now-2-batches-310-grafts anna-alderfold-example",
        );
        check(
            "../../etc/x\0\n",
            "../b@alderfold.example",
            "2026-07-19 0610 etc-x b-alderfold-example",
        );
        check("...", "@", "2026-07-19 0610 letter letter");
        check(
            "Höhe 3",
            "a@b.example",
            "2026-07-19 0610 höhe-3 a-b-example",
        );
    }

    #[test]
    fn a_long_subject_still_makes_a_name_that_file_systems_take() {
        let long = parcel(&"Ж".repeat(300), &"ж".repeat(300));
        let file = Folder::new("out").file_of(&long);
        assert_eq!(
            file.file_name().unwrap().len(),
            15 + 1 + 80 + 1 + 60 + 1 + 12
        );
    }

    #[tokio::test]
    async fn the_same_letter_is_one_file_however_often_it_is_carried() {
        let place = tempfile::tempdir().unwrap();
        let folder = Folder::new(place.path().join("letters"));
        let first = parcel("Block C", "anna@alderfold.example");
        let other = parcel("Block C", "ben@alderfold.example");
        for letter in [&first, &first, &other] {
            assert_eq!(folder.carry(letter).await, Outcome::Delivered);
        }
        let files = fs::read_dir(place.path().join("letters")).unwrap();
        assert_eq!(files.count(), 2);
        assert_eq!(fs::read(folder.file_of(&first)).unwrap(), first.bytes);
    }

    #[tokio::test]
    async fn a_folder_that_cannot_be_written_is_tried_again_and_named() {
        let place = tempfile::tempdir().unwrap();
        fs::write(place.path().join("letters"), "a file in the way").unwrap();
        let folder = Folder::new(place.path().join("letters"));
        let outcome = folder
            .carry(&parcel("Block C", "anna@alderfold.example"))
            .await;
        let Outcome::Later { why } = outcome else {
            panic!("{outcome:?}");
        };
        assert!(why.contains("letters"), "{why}");
    }
}
