//! ISO 8601 spans, as services write them.
#![no_main]

use chrono::DateTime;
use graftwarden::weather::interval::parse;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    if let Ok((from, to)) = parse(text, DateTime::UNIX_EPOCH) {
        assert!(from <= to);
    }
});
