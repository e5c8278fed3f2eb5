//! What the program has to say of itself.

use crate::letters::letter::Section;
use crate::letters::words::day_short;
use crate::notices::Notice;

pub(super) fn no_temperatures(notice: &Notice) -> Section {
    let site = notice.about.subject();
    let since = notice.until.map_or_else(
        || "None have come so far.".into(),
        |last| format!("None are known after {}.", day_short(last)),
    );
    Section {
        heading: format!("No temperatures from {site}"),
        subject: format!("No temperatures from {site}"),
        paragraphs: vec![format!(
            "{since} Until they come, days are put in from their neighbours or from the years before where there are any; else windows open only by records and by the calendar. Look at the instrument, its file, or the line to the weather service; `graftwarden check --online` tries each."
        )],
        ..Section::default()
    }
}

pub(super) fn trouble(notices: &[&Notice]) -> Section {
    let first = &notices[0].say;
    let short = first.split(';').next().unwrap_or(first);
    let subject = match notices.len() {
        1 => format!("Trouble: {short}"),
        n => format!("Trouble: {short}, and {} more", n - 1),
    };
    Section {
        heading: "Trouble".into(),
        subject,
        paragraphs: notices.iter().map(|n| n.say.clone()).collect(),
        ..Section::default()
    }
}
