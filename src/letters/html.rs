//! A letter as a page: what `text` says, for a phone in the sun.
//!
//! One column; nothing is fetched, run or shown that is not within the letter. The order is that of the text. What was
//! written by others goes in through `shown` or `plain` only. A page that would be too long for mail programs is shortened and says
//! so; the text never is.

mod look;

use super::answer::Answer;
use super::chart::Chart;
use super::letter::{Context, Letter, List, Place, Row, Section};
use super::places::by_place;
use super::words::{count_of, day};
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// A page is no longer than this, in bytes: a large mail service cuts off what is beyond 102 kB, and encoding for the
/// way takes some more.
const LARGEST: usize = 90_000;

/// A name up to this long is not broken at its hyphens.
const LONGEST_WHOLE: usize = 20;

/// A word up to this long leaves room for the other columns.
const LONGEST_WORD: usize = 14;

/// How much of a letter its page shows.
struct Room {
    /// Batches in tables, of all sections together.
    rows: usize,
    /// Lines of each other part, and sections.
    lines: usize,
    /// Characters of a line.
    characters: usize,
}

/// From everything to what always fits: the tables of batches are shortened first.
const ROOMS: [Room; 7] = [
    Room::new(usize::MAX, usize::MAX, usize::MAX),
    Room::new(150, usize::MAX, usize::MAX),
    Room::new(75, usize::MAX, usize::MAX),
    Room::new(30, 100, 5_000),
    Room::new(20, 30, 1_000),
    Room::new(10, 10, 400),
    Room::new(5, 3, 200),
];

impl Room {
    const fn new(rows: usize, lines: usize, characters: usize) -> Self {
        Self {
            rows,
            lines,
            characters,
        }
    }

    /// Those of the lines that are shown, and how many are not.
    fn some<'t, T>(&self, lines: &'t [T]) -> (&'t [T], usize) {
        let shown = lines.len().min(self.lines);
        (&lines[..shown], lines.len() - shown)
    }

    /// What somebody wrote, as it may stand in a page: without marks that are not seen but turn round what stands beside
    /// them.
    fn plain(&self, text: &str) -> String {
        let mut plain: String = text
            .chars()
            .filter(|c| !turns(*c))
            .map(|c| if c.is_control() { ' ' } else { c })
            .take(self.characters)
            .collect();
        if plain.len() < text.len() && text.chars().count() > self.characters {
            plain.push_str(" ... (the rest stands in the text of this letter)");
        }
        plain
    }

    /// The same, with names such as C-14, dates and measures kept on one line.
    fn shown(&self, text: &str) -> Markup {
        let plain = self.plain(text);
        let words: Vec<&str> = plain.split(' ').collect();
        let blank = |n: usize| match n {
            0 => "",
            n if belongs(words[n - 1], words[n]) => "\u{a0}",
            _ => " ",
        };
        html! {
            @for (n, word) in words.iter().enumerate() {
                (blank(n))
                @if is_name(word) { span class="whole" { (word) } } @else { (word) }
            }
        }
    }
}

/// Whether a word is a name with hyphens, and short enough for one line.
fn is_name(word: &str) -> bool {
    let short = word.chars().count() <= LONGEST_WHOLE;
    short && word.contains('-') && word.contains(|c: char| c.is_ascii_digit())
}

/// Whether a word is the measure or the month of the number before it.
fn belongs(before: &str, word: &str) -> bool {
    let number = before.ends_with(|c: char| c.is_ascii_digit());
    let month = || MONTHS.iter().any(|name| word.starts_with(name));
    number && (word.starts_with(['°', '%']) || month())
}

const MONTHS: [&str; 12] = [
    "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
];

/// Marks of direction (Unicode Annex 9), and what is no character.
pub(super) fn turns(c: char) -> bool {
    let none = c as u32 & 0xfffe == 0xfffe || ('\u{fdd0}'..='\u{fdef}').contains(&c);
    let mark = matches!(
        c,
        '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}'
    );
    none || mark
}

impl Letter {
    /// The whole letter as a page of HTML, of no more than so many bytes where that can be.
    pub fn html(&self, context: &Context<'_>, most: usize) -> String {
        let mut written = String::new();
        for room in &ROOMS {
            written = page(self, context, room).into_string();
            if written.len() <= most.min(LARGEST) {
                break;
            }
        }
        written
    }
}

fn page(letter: &Letter, context: &Context<'_>, room: &Room) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                // A date in a letter is no link.
                meta name="format-detection" content="telephone=no, date=no, address=no, email=no, url=no";
                title { (room.plain(&letter.subject)) }
                style { (PreEscaped(look::STYLE)) }
            }
            body class="page" style=(look::PAGE) {
                // Said once more, for mail programs that take the body only.
                div class="page sheet" lang="en" dir="ltr" style=(look::SHEET) {
                    (body(letter, context, room))
                }
            }
        }
    }
}

fn body(letter: &Letter, context: &Context<'_>, room: &Room) -> Markup {
    let (sections, more) = room.some(&letter.sections);
    let mut rows = room.rows;
    html! {
        main {
            p class="quiet" style=(look::QUIET) {
                (room.shown(context.nursery)) ", " (day(context.today))
            }
            @for (n, part) in sections.iter().enumerate() {
                (section(part, n == 0, &mut rows, context, room))
            }
            (left_out(more))
            @for chart in room.some(&letter.charts).0 { (picture(chart, room)) }
            @for caution in &letter.cautions { (careful(caution, room)) }
            @if let Some(answer) = &letter.answer { (how_to_answer(answer, letter, context, room)) }
        }
        @if !letter.small_print.is_empty() {
            footer class="quiet" style=(look::SMALL) { (paragraphs(&letter.small_print, room)) }
        }
    }
}

/// The first section stands on a board of its own with what, where and by when.
fn section(
    section: &Section,
    first: bool,
    rows: &mut usize,
    context: &Context<'_>,
    room: &Room,
) -> Markup {
    let shown = section.rows.len().min(*rows);
    *rows -= shown;
    let rest = html! {
        (paragraphs(&section.paragraphs, room))
        @for list in &section.lists { (lines(list, first, room)) }
        @if !section.rows.is_empty() { (batches(&section.rows, shown, room)) }
    };
    html! {
        @if first {
            section {
                div class="top" style=(look::TOP) {
                    h1 style=(look::FIRST) { (room.shown(&section.heading)) }
                    @if let Some(lead) = lead(section) {
                        p style=(look::LEAD) { (room.shown(lead)) }
                    }
                    (places(&section.places, context, room))
                }
                (rest)
            }
        } @else {
            section style=(look::NEXT) {
                h2 style=(look::HEADING) { (room.shown(&section.heading)) }
                (places(&section.places, context, room))
                (rest)
            }
        }
    }
}

/// Where nothing is to be done at a place, what the subject adds to the heading.
fn lead(section: &Section) -> Option<&str> {
    let lead = section.subject.strip_prefix(&section.heading)?;
    lead.strip_prefix(": ")
        .filter(|_| section.places.is_empty())
}

fn places(places: &[Place], context: &Context<'_>, room: &Room) -> Markup {
    let (some, more) = room.some(places);
    html! {
        @if !some.is_empty() {
            ul style=(look::PLACES) {
                @for place in some {
                    li style=(look::PLACE) {
                        strong style=(look::BIG) { (room.shown(&place.name())) } ": " (place.size())
                        @if let Some(until) = place.until(context.today).strip_prefix(", ") {
                            " " strong style=(look::UNTIL) { (room.shown(until)) }
                        }
                    }
                }
            }
            (left_out(more))
        }
    }
}

fn paragraphs(said: &[String], room: &Room) -> Markup {
    let (some, more) = room.some(said);
    html! {
        @for paragraph in some { p style=(look::PARAGRAPH) { (room.shown(paragraph)) } }
        (left_out(more))
    }
}

fn lines(list: &List, first: bool, room: &Room) -> Markup {
    let (some, more) = room.some(&list.lines);
    html! {
        @if first {
            h2 style=(look::TITLE) { (room.shown(&list.title)) }
        } @else {
            h3 style=(look::TITLE) { (room.shown(&list.title)) }
        }
        ul style=(look::LIST) {
            @for line in some { li { (room.shown(line)) } }
        }
        (left_out(more))
    }
}

fn batches(rows: &[Row], shown: usize, room: &Room) -> Markup {
    let dated = rows.iter().any(|row| !row.by.is_empty());
    let more = rows.len() - shown;
    let long = rows
        .iter()
        .any(|row| has_long_word(&row.batch) || has_long_word(&row.scion));
    html! {
        @if shown > 0 {
            table style=(if long { look::NARROW } else { look::TABLE }) {
                caption style=(look::CAPTION) { "The batches" }
                thead {
                    tr {
                        th scope="col" style=(look::COLUMN) { "Batch" }
                        th scope="col" style=(look::COLUMN) {
                            @if dated { "Grafts, by when" } @else { "Grafts" }
                        }
                        th scope="col" style=(look::COLUMN) { "Warmth so far" }
                    }
                }
                @for (place, rows) in by_place(&rows[..shown]) {
                    tbody {
                        @if !place.is_empty() {
                            tr {
                                th scope="rowgroup" colspan="3" style=(look::GROUP) {
                                    (room.shown(place))
                                }
                            }
                        }
                        @for row in rows { (batch(row, room)) }
                    }
                }
            }
        }
        @if more > 0 {
            p style=(look::PARAGRAPH) {
                "And " (count_of(more as u32, "batch"))
                " more, in the text of this letter and on the server: graftwarden due"
            }
        }
    }
}

/// Words must be broken where one alone fills most of a column of a phone.
fn has_long_word(name: &str) -> bool {
    let mut words = name.split_whitespace();
    words.any(|word| word.chars().count() > LONGEST_WORD)
}

fn batch(row: &Row, room: &Room) -> Markup {
    html! {
        tr {
            th scope="row" style=(look::CELL) {
                strong { (room.shown(&row.batch)) }
                @if !row.scion.is_empty() { br; (room.shown(&row.scion)) }
            }
            td style=(look::CELL) {
                (room.shown(&row.grafts))
                @if !row.by.is_empty() { br; strong { (room.shown(&row.by)) } }
            }
            td style=(look::CELL) { (room.shown(&row.warmth)) }
        }
    }
}

/// What it shows is said in its words too, for where pictures are off or it could not be drawn.
fn picture(chart: &Chart, room: &Room) -> Markup {
    html! {
        @if chart.shown {
            img src={ "cid:" (chart.cid) } alt=(room.plain(&chart.alt)) width="568" style=(look::CHART);
        } @else {
            p style=(look::PARAGRAPH) { "A picture is left out of this letter. In words: " (room.shown(&chart.alt)) }
        }
    }
}

fn careful(caution: &str, room: &Room) -> Markup {
    html! {
        p class="care" style=(look::CARE) {
            @match caution.split_once(": ") {
                Some((what, rest)) => { strong { (what) ":" } " " (room.shown(rest)) }
                None => (room.shown(caution)),
            }
        }
    }
}

fn how_to_answer(answer: &Answer, letter: &Letter, context: &Context<'_>, room: &Room) -> Markup {
    html! {
        p style=(look::PARAGRAPH) { (room.shown(&answer.say)) }
        @if let Some(to) = context.reply_to {
            p style=(look::TAPS) {
                @for (n, reply) in answer.replies.iter().enumerate() {
                    a href=(reply.mailto(to, &letter.subject))
                        class=(if n == 0 { "likely" } else { "tap" })
                        style=(if n == 0 { look::LIKELY } else { look::TAP }) { (reply.label) }
                    " "
                }
            }
        }
    }
}

fn left_out(more: usize) -> Markup {
    html! {
        @if more > 0 {
            p style=(look::PARAGRAPH) { "And " (more) " more, in the text of this letter." }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, shown: &str) {
        assert_eq!(ROOMS[0].shown(text).into_string(), shown);
    }

    #[test]
    fn what_belongs_together_stays_on_one_line() {
        check("by Wed 22 Jul.", "by Wed 22\u{a0}Jul.");
        check("15 °C, 85 % of", "15\u{a0}°C, 85\u{a0}% of");
        check("row May", "row May");
        let whole = "of <span class=\"whole\">C-14,</span> over-callused";
        check("of C-14, over-callused", whole);
    }

    #[test]
    fn a_line_that_is_cut_says_so() {
        let room = Room::new(0, 0, 3);
        assert_eq!(room.plain("äöü"), "äöü");
        let rest = " ... (the rest stands in the text of this letter)";
        assert_eq!(room.plain("äöüß"), format!("äöü{rest}"));
    }
}
