//! What became of a season's grafts.

use crate::letters::letter::{List, Section};
use crate::letters::words::{count_of, grouped};
use crate::notices::{Held, Season, Share, ToLines};

/// So many batches are named in one line.
const LINE: usize = 8;

/// The summary of a season.
pub fn season(digest: &Season) -> Section {
    let whole = &digest.whole;
    let all = format!(
        "{} of {}",
        grouped(whole.taken),
        count_of(whole.of, "graft")
    );
    let waiting = digest.uncounted.len() as u32;
    let counted = match waiting {
        0 => "The take of every batch is counted.".to_owned(),
        n => format!(
            "Not counted yet: {}. What is not written down of these as lost or dead counts as living.",
            count_of(n, "batch")
        ),
    };
    let lead = if digest.counted == 0 {
        format!("Living: {all}. {counted}")
    } else {
        format!("Living: {all}, {}. {counted}", percent(whole))
    };
    let mut lists: Vec<List> = digest
        .groups
        .iter()
        .filter(|(_, shares)| !shares.is_empty())
        .map(|(by, shares)| List {
            title: format!("By {by}:"),
            lines: shares.iter().map(|s| share(s, digest.counted)).collect(),
        })
        .collect();
    lists.push(List {
        title: "From grafting to lines written down:".into(),
        lines: digest.to_lines.iter().map(to_lines).collect(),
    });
    lists.push(List {
        title: "Not counted yet:".into(),
        lines: digest
            .uncounted
            .chunks(LINE)
            .map(|names| names.join(", "))
            .collect(),
    });
    lists.retain(|list| !list.lines.is_empty());
    let mut paragraphs = vec![lead];
    if digest.counted > 0 {
        paragraphs.push("The range after a share holds the true one 95 times out of 100; where two ranges overlap, the difference may be chance.".into());
    }
    paragraphs.extend(digest.held.map(|held| dates_held(&held)));
    Section {
        heading: format!("The season of {}", digest.year),
        subject: format!("The season of {}: {all} living", digest.year),
        paragraphs,
        lists,
        ..Section::default()
    }
}

/// "92 % (88 - 95)", "all (21 - 100 %)", "none".
fn percent(share: &Share) -> String {
    if share.of == 0 {
        return "no grafts".into();
    }
    let of_hundred = |x: f64| format!("{:.0}", 100.0 * x);
    let (least, most) = (of_hundred(share.interval.0), of_hundred(share.interval.1));
    // Of many grafts the range may be no wider than what is written.
    let range = if least == most {
        String::new()
    } else {
        format!(" ({least} - {most})")
    };
    match share.taken {
        0 if range.is_empty() => "none".into(),
        0 => format!("none ({least} - {most} %)"),
        taken if taken == share.of && range.is_empty() => "all".into(),
        taken if taken == share.of => format!("all ({least} - {most} %)"),
        taken => format!(
            "{} %{range}",
            of_hundred(f64::from(taken) / f64::from(share.of))
        ),
    }
}

fn share(share: &Share, counted: u32) -> String {
    // A share of what nobody has counted would look like a success.
    let percent = if counted == 0 {
        String::new()
    } else {
        format!(", {}", percent(share))
    };
    format!(
        "{}: {} of {}{percent}",
        share.name,
        grouped(share.taken),
        grouped(share.of)
    )
}

fn to_lines(lines: &ToLines) -> String {
    let heat = lines
        .standard_days
        .map_or_else(String::new, |s| format!(", {s:.0} standard days"));
    let scion = if lines.scion.is_empty() {
        "no scion named"
    } else {
        &lines.scion
    };
    let average = match lines.batches {
        1 => " (1 batch)".to_owned(),
        n => format!(" on average of {}", count_of(n, "batch")),
    };
    format!("{scion}: {:.0} days{heat}{average}", lines.days)
}

fn dates_held(held: &Held) -> String {
    let late = if held.later < 0.0 { "early" } else { "late" };
    format!(
        "Of {} given for openings beforehand, {} held ({:.0} %; 80 % is what they promise). They were {:.1} days off on average, {:.1} too {late}.",
        count_of(held.given, "date"),
        held.inside,
        100.0 * f64::from(held.inside) / f64::from(held.given.max(1)),
        held.off,
        held.later.abs()
    )
}
