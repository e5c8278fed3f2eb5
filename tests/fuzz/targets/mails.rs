//! Mails, from their bytes to what a person wrote, and that to records.
#![no_main]

use chrono::NaiveDate;
use graftwarden::replies::{Asking, read_mail, understand};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let mail = read_mail(bytes);
    assert!(!mail.id.is_empty());
    let asking = Asking {
        today: NaiveDate::MIN,
        asked: &[],
        asked_on: NaiveDate::MIN,
        cares: &[],
        by: "Maren Holt",
        people: &[],
        nod: graftwarden::replies::Nod::Done,
    };
    let lines = understand(&mail.words, &asking);
    let written = mail.words.lines().filter(|line| !line.trim().is_empty());
    assert_eq!(lines.len(), written.count());
});
