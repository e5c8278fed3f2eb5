//! What the hook is handed: one JSON object a letter, in UTF-8. Its keys are a promise, as config/README.md says.

use crate::excerpt::one_line;
use chrono::{DateTime, FixedOffset};
use serde_json::json;

/// The version of the object; keys may be added to it, and none changes its meaning.
pub const FORMAT: u32 = 1;

/// A letter as it is told to the hook.
#[derive(Clone, Copy, Debug)]
pub struct Told<'a> {
    /// The name of the nursery.
    pub nursery: &'a str,
    /// The person's name and address.
    pub person: (&'a str, &'a str),
    /// The subject line.
    pub subject: &'a str,
    /// One line that fits into a text message.
    pub short: &'a str,
    /// The whole letter as text.
    pub text: &'a str,
    /// Whether it cannot wait for a working day.
    pub urgent: bool,
    /// The moment of the letter.
    pub dated: DateTime<FixedOffset>,
    /// Without angle brackets.
    pub message_id: &'a str,
}

/// The bytes that are handed over at every try.
pub fn body(told: &Told<'_>) -> Vec<u8> {
    let (name, email) = told.person;
    let body = json!({
        "version": FORMAT,
        "nursery": told.nursery,
        "person": { "name": name, "email": email },
        "subject": one_line(told.subject),
        "short": one_line(told.short),
        "text": told.text,
        "urgent": told.urgent,
        "dated": told.dated.to_rfc3339(),
        "message_id": told.message_id,
    });
    body.to_string().into_bytes()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_whole_body() {
        let told = Told {
            nursery: "Alder Fold \"Nursery\"",
            person: ("Field crew", "crew@alderfold.example"),
            subject: "Block C: head back now\r\n(310 grafts)",
            short: "Block C: head back now",
            text: "By Tuesday.\n18 °C\n",
            urgent: true,
            dated: DateTime::parse_from_rfc3339("2026-08-13T06:10:00+02:00").unwrap(),
            message_id: "0123@alderfold.example",
        };
        insta::assert_snapshot!(String::from_utf8(body(&told)).unwrap(), @r#"{"version":1,"nursery":"Alder Fold \"Nursery\"","person":{"name":"Field crew","email":"crew@alderfold.example"},"subject":"Block C: head back now (310 grafts)","short":"Block C: head back now","text":"By Tuesday.\n18 °C\n","urgent":true,"dated":"2026-08-13T06:10:00+02:00","message_id":"0123@alderfold.example"}"#);
    }
}
