//! Any logger's file. The first byte chooses how it is said to be laid out.
#![no_main]

use chrono_tz::Europe;
use graftwarden::weather::csv_file::read_from;
use graftwarden::weather::layout::{EXCEL, Layout, UNIX, Unit};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let Some((choice, file)) = bytes.split_first() else {
        return;
    };
    let forms = [
        None,
        Some("%d.%m.%Y"),
        Some("%m/%d/%Y %I:%M %p"),
        Some(EXCEL),
        Some(UNIX),
    ];
    let layout = Layout {
        date_format: forms[usize::from(choice % 5)].map(str::to_owned),
        unit: (choice & 0x20 != 0).then_some(Unit::F),
        decimal: (choice & 0x40 != 0).then_some(','),
        interval_end: choice & 0x80 != 0,
        ..Layout::default()
    };
    let found = read_from(file, "hill.csv", &layout, Some(Europe::Brussels));
    assert!(found.usable || found.days.is_empty());
    assert!(found.days.is_sorted_by(|a, b| a.date < b.date));
    for day in found.days {
        assert!(day.min.is_finite() && day.max.is_finite());
    }
});
