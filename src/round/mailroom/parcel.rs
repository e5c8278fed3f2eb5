//! A letter made no larger than mail programs take: its text whole, of the page what has room beside it, and of the pictures
//! what has room beside both.

use crate::letters::{Chart, Context, Letter};
use crate::post::Pictures;
use crate::post::message::{self, Draft, DraftError, Picture};
use std::borrow::Cow;

/// A letter is no larger than this as it is sent, in bytes, unless its text leaves no room for the shortest page.
const LARGEST: usize = 100_000;
/// What a picture takes beside its bytes: its headers, and what its words take more where it has no room.
const BESIDE: usize = 1_400;

/// The bytes of a letter of which all but its page and its pictures is written.
pub(super) fn parcel(
    letter: &Letter,
    context: &Context<'_>,
    pictures: &Pictures,
    draft: &Draft<'_>,
) -> Result<Vec<u8>, DraftError> {
    let without = page(letter, context, draft)?.1;
    let room = LARGEST.saturating_sub(without + BESIDE * letter.charts.len());
    // Encoded for the way, 57 bytes are a line of 78.
    let drawn = drawn(letter, pictures, room * 57 / 78);
    let html = page(&as_drawn(letter, &drawn), context, draft)?.0;
    message::write(&Draft {
        html: Some(&html),
        pictures: &drawn,
        ..*draft
    })
}

/// The page, shortened until the letter has room for it, and how large the letter is without pictures.
fn page(
    letter: &Letter,
    context: &Context<'_>,
    draft: &Draft<'_>,
) -> Result<(String, usize), DraftError> {
    let mut most = LARGEST;
    loop {
        let html = letter.html(context, most);
        let whole = Draft {
            html: Some(&html),
            ..*draft
        };
        let size = message::write(&whole)?.len();
        // What is longer than was asked for is as short as it can be.
        if size <= LARGEST || html.len() > most {
            return Ok((html, size));
        }
        most = html.len().saturating_sub(size - LARGEST);
    }
}

/// The charts of a letter as pictures; one that cannot be drawn or has no room is left out, see [`as_drawn`].
fn drawn(letter: &Letter, pictures: &Pictures, room: usize) -> Vec<Picture> {
    let svgs: Vec<&str> = letter.charts.iter().map(|c| c.svg.as_str()).collect();
    let pictures = pictures.of_letter(&svgs, room);
    let picture = |(chart, png): (&Chart, Option<Vec<u8>>)| {
        let cid = chart.cid.clone();
        Some(Picture { cid, png: png? })
    };
    let drawn = letter.charts.iter().zip(pictures);
    drawn.filter_map(picture).collect()
}

/// The letter with the words of those charts that have no picture: a page must not ask for what is not there.
fn as_drawn<'l>(letter: &'l Letter, pictures: &[Picture]) -> Cow<'l, Letter> {
    let is_drawn = |chart: &Chart| pictures.iter().any(|picture| picture.cid == chart.cid);
    if letter.charts.iter().all(is_drawn) {
        return Cow::Borrowed(letter);
    }
    let mut letter = letter.clone();
    for chart in &mut letter.charts {
        chart.shown = is_drawn(chart);
    }
    Cow::Owned(letter)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::care::tests::season::{Season, maple};
    use crate::letters::compose;
    use crate::letters::tests::Morning;
    use crate::notices::seasons::news;
    use crate::notices::{Ledger, Notice};
    use crate::nursery::Batch;
    use crate::post::message::Cause;
    use crate::units::Units;
    use chrono::{DateTime, Days};

    fn letter(cids: &[&str]) -> Letter {
        let chart = |cid: &&str| Chart {
            site: "home".into(),
            cid: (*cid).into(),
            alt: "Warmth".into(),
            svg: "<svg".into(),
            shown: true,
        };
        Letter {
            subject: "Block C: head back now".into(),
            sections: Vec::new(),
            charts: cids.iter().map(chart).collect(),
            cautions: Vec::new(),
            answer: None,
            asked: Vec::new(),
            small_print: Vec::new(),
        }
    }

    #[track_caller]
    fn check(charts: &[&str], drawn: &[&str], expected: &[bool]) {
        let picture = |cid: &&str| Picture {
            cid: (*cid).into(),
            png: Vec::new(),
        };
        let pictures: Vec<Picture> = drawn.iter().map(picture).collect();
        let letter = letter(charts);
        let shown = as_drawn(&letter, &pictures);
        let shown: Vec<bool> = shown.charts.iter().map(|c| c.shown).collect();
        assert_eq!(shown, expected);
    }

    #[test]
    fn a_page_asks_for_the_pictures_that_are_there() {
        check(&["home", "hill"], &["home", "hill"], &[true, true]);
        check(&["home", "hill"], &["hill"], &[false, true]);
        check(&["home"], &[], &[false]);
        check(&[], &[], &[]);
    }

    /// Six sites of forty batches each with long names, of which nobody has written anything down.
    fn six_sites() -> Vec<Season> {
        let site = |n: u64| {
            maple().but(|s| {
                s.site.id = format!("The walled garden behind the old packing shed {n}");
                let first = s.batches[0].clone();
                s.batches = (0..40)
                    .map(|b| Batch {
                        name: format!("Site {n}, long bed beside the hedge, row {b}"),
                        site: s.site.id.as_str().into(),
                        block: format!("Long bed {}", b % 4).into(),
                        scion: "Ember Lace, selected from the old tree at the gate".into(),
                        grafted_on: first.grafted_on + Days::new(b % 10),
                        ..first.clone()
                    })
                    .collect();
            })
        };
        (0..6).map(site).collect()
    }

    /// The letter of that morning about that step with so many lines of text more, as it is sent, and its pictures.
    fn sent(seasons: &[Season], (n, step): (i64, &str), more: usize) -> (String, usize) {
        let told = |season| news(season, n, &Ledger::default(), &[]);
        let mut notices: Vec<Notice> = seasons.iter().flat_map(told).collect();
        notices.retain(|notice| notice.step.as_deref() == Some(step));
        let units = Units::Metric;
        Morning { seasons, n, units }.with(|context| {
            let told: Vec<&Notice> = notices.iter().collect();
            let letter = compose(&told, context).unwrap();
            let text = letter.text(context) + &"More to read.\n".repeat(more);
            let draft = Draft {
                from: ("Graftwarden", "letters@alderfold.example"),
                to: ("Anna Birch", "anna@alderfold.example"),
                subject: &letter.subject,
                text: &text,
                html: None,
                pictures: &[],
                calendar: None,
                reply_to: None,
                thread: &[],
                cause: Cause::Notice,
                dated: DateTime::parse_from_rfc3339("2026-08-13T06:10:00+02:00").unwrap(),
                message_id: "0123@alderfold.example",
            };
            let bytes = parcel(&letter, context, &Pictures::default(), &draft).unwrap();
            let sent = String::from_utf8(bytes).unwrap();
            let pictures = sent.matches("Content-Type: image/png").count();
            // Each picture that the page asks for is there, and each other is told in words.
            let page = sent.replace("=\r\n", "");
            assert_eq!(page.matches("src=3D\"cid:").count(), pictures);
            let left_out = page.matches("A picture is left out").count();
            assert_eq!(left_out + pictures, letter.charts.len());
            (sent, pictures)
        })
    }

    #[test]
    fn a_letter_of_many_sites_is_no_larger_than_is_taken() {
        let (sent, _) = sent(&six_sites(), (24, "callus-check"), 0);
        assert!(sent.len() <= LARGEST, "{}", sent.len());
        // Its text is whole.
        for n in 0..6 {
            let row = format!("Site {n}, long bed beside the hedge, row 39");
            assert!(sent.contains(&row), "{row}");
        }
    }

    #[test]
    fn pictures_have_what_text_and_page_leave() {
        let season = maple();
        let seasons = std::slice::from_ref(&season);
        // Fifteen bytes a line: at last there is no room for the picture, and its words stand there.
        for more in (0..6_000).step_by(500) {
            let (sent, pictures) = sent(seasons, (16, "callus-check"), more);
            assert!(sent.len() <= LARGEST, "{more}: {}", sent.len());
            assert!(pictures == 1 || more > 2_000, "{more}");
            assert!(pictures == 0 || more < 5_500, "{more}");
        }
    }
}
