//! Answers by mail: what lies in the mailbox, who wrote it, and what they said.
//!
//! `maildir` and `imap` fetch mails, `mail` reads the bytes of one, `words` makes field records of what a person wrote.
//! Nothing here decides whether somebody is believed; that is `round/answers`.

mod imap;
mod mail;
mod mailbox;
mod maildir;
mod words;

pub use imap::{Imap, ImapSettings};
pub use mail::{Mail, MailKind, read_mail};
pub use mailbox::{Arrived, LARGEST, MOST, Mailbag, Mailbox};
pub use maildir::Maildir;
pub use words::{Asking, Line, Meant, Nod, Noted, question, understand};
