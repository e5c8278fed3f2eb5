//! A thumb held up or down, with nothing else in the mail: as people answer from a phone (RFC 9078 and by hand).

use super::heard::Heard;
use super::{Asking, Meant, Nod, told, unread};

/// A sign that stands for words.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sign {
    Up,
    Down,
}

const UP: &[char] = &['👍', '✅', '✔', '☑'];
const DOWN: &[char] = &['👎', '❌', '✖'];

/// The sign in a line; none where there is none, or one of each.
pub fn of(line: &str) -> Option<Sign> {
    match (line.contains(UP), line.contains(DOWN)) {
        (true, false) => Some(Sign::Up),
        (false, true) => Some(Sign::Down),
        _ => None,
    }
}

/// Whether there is a sign in a line that something is not so, whatever else stands there.
pub fn is_denied(line: &str) -> bool {
    line.contains(DOWN)
}

impl Sign {
    /// What it means in answer to that letter.
    pub fn meant(self, asking: &Asking<'_>, heard: &mut Heard) -> Meant {
        let like = asking.like(None);
        match (self, asking.nod) {
            (Self::Up, Nod::Done) => told::records("done", asking, heard).unwrap_or_else(unread),
            (Self::Up, Nod::Yes) => Meant::Yes,
            (Self::Up, Nod::Read) => Meant::Courtesy,
            (Self::Up, Nod::Unknown) => unread(format!(
                "it does not say what was seen or done; write it, as in {like} headed back"
            )),
            (Self::Down, _) => unread(format!(
                "it does not say what is wrong, and nothing is taken back by it. Write \"not yet\" where it is not done, \"undo\" in answer to a receipt that is wrong, or what is right, as in {like} headed back"
            )),
        }
    }
}
