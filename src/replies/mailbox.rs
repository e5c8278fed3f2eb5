//! What any mailbox with answers gives and takes: mails that nobody has read yet, and which of them are done with.
//!
//! A mail is never deleted. It is marked as read only once what it brought is committed; whoever is killed in between
//! sees it again and knows it by its Message-ID.

use super::mail::{Mail, read_mail};
use crate::post::Pending;
use crate::problem::Problem;

/// No more mails are taken at one look; the rest waits for the next.
pub const MOST: usize = 40;
/// A larger mail is not read whole, in bytes.
pub const LARGEST: u64 = 25_000_000;
/// So much of a larger one is read, for who wrote it and in answer to what.
pub const HEAD: u64 = 64 * 1024;

/// A mail as it lies in the mailbox.
#[derive(Clone, Debug, PartialEq)]
pub struct Arrived {
    /// The mailbox finds it again by this.
    pub handle: String,
    /// What it says; of one that is too large, without its words.
    pub mail: Mail,
    /// Its size in bytes, where it is too large.
    pub too_large: Option<u64>,
}

/// What one look into a mailbox gave.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Mailbag {
    /// The oldest first, [`MOST`] at most.
    pub mails: Vec<Arrived>,
    /// What could not be read of single mails.
    pub problems: Vec<Problem>,
}

/// One mailbox.
pub trait Mailbox: Send + Sync {
    /// The mails that nobody has read yet. An error is one of the mailbox as a whole.
    fn look(&self) -> Pending<'_, Result<Mailbag, Problem>>;
    /// Marks mails as read. What could not be marked comes again.
    fn put_aside(&self, handles: Vec<String>) -> Pending<'_, Result<(), Problem>>;
    /// Whether it can be used; what was found, in a sentence.
    fn try_out(&self) -> Pending<'_, Result<String, Problem>>;
}

impl Arrived {
    /// A mail of that size, of which these bytes were read.
    pub(super) fn new(handle: String, bytes: &[u8], size: u64) -> Self {
        let mut mail = read_mail(bytes);
        let too_large = (size > LARGEST).then_some(size);
        if too_large.is_some() {
            mail.words.clear();
        }
        Self {
            handle,
            mail,
            too_large,
        }
    }
}
