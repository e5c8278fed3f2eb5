//! What every page shares: the document around it, when it was written, where its figures come from, and what trouble
//! there is. Whatever cannot stand in HTML or would steer a screen becomes a blank.

use super::Occasion;
use crate::letters::{count_of, day, moment, small_print_of};
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// So many troubles are told; more are counted.
const TOLD: usize = 20;

/// A whole document. It fetches nothing and runs nothing, and says so to the browser.
pub fn document(title: &str, style: &str, scheme: &str, body: &Markup) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; img-src data:";
                meta name="referrer" content="no-referrer";
                meta name="robots" content="noindex";
                meta name="color-scheme" content=(scheme);
                title { (title) }
                style { (PreEscaped(style)) }
            }
            body { (body) }
        }
    };
    page.into_string().replace(cannot_stand, " ")
}

/// Control signs and code points that stand for nothing; HTML has no way to write them.
fn cannot_stand(c: char) -> bool {
    let number = u32::from(c);
    let nothing = (0xFDD0..=0xFDEF).contains(&number) || number & 0xFFFE == 0xFFFE;
    (c.is_control() && c != '\n') || nothing
}

/// For which day, when it was written, and how to see that it has grown old.
pub fn written(occasion: &Occasion<'_>) -> Markup {
    let context = occasion.context;
    html! {
        p.written {
            strong { (day(context.today)) } ". Written " (moment(occasion.written)) "; "
            @match occasion.next {
                Some(next) => { "the next page is due " (moment(next)) ". If that is over, see whether graftwarden runs." }
                None => { "if that is long ago, see whether graftwarden runs." }
            }
        }
    }
}

/// Where the temperatures came from and how heat is reckoned.
pub fn sources(occasion: &Occasion<'_>) -> Markup {
    let lines = small_print_of(&occasion.open(), occasion.context);
    html! {
        section aria-labelledby="sources" {
            h2 #sources { "Where the figures come from" }
            @if lines.is_empty() {
                p { "No batch is open, so no temperatures were looked at." }
            }
            @for line in lines {
                p { (line) }
            }
        }
    }
}

/// What could not be read, fetched or sent.
pub fn trouble(occasion: &Occasion<'_>) -> Markup {
    let problems = occasion.problems;
    let more = problems.len().saturating_sub(TOLD);
    html! {
        section aria-labelledby="trouble" {
            h2 #trouble { "Trouble" }
            @if problems.is_empty() {
                p { "None: all was read, fetched and sent." }
            } @else {
                ul {
                    @for problem in problems.iter().take(TOLD) {
                        li { (without_addresses(&problem.to_string())) }
                    }
                    @if more > 0 {
                        li { "and " (more) " more: graftwarden check tells of them" }
                    }
                }
            }
        }
    }
}

/// "2 troubles"; none where all is well.
pub fn troubles(occasion: &Occasion<'_>) -> Option<String> {
    match occasion.problems.len() {
        0 => None,
        n => Some(count_of(n as u32, "trouble")),
    }
}

/// A page may be read by more people than a letter: nobody's mail address stands in it.
fn without_addresses(text: &str) -> String {
    let word = |word: &str| {
        if !word.contains('@') {
            return word.to_owned();
        }
        let end = word.trim_end_matches([':', ';', ',', '.']).len();
        format!("(an address){}", &word[end..])
    };
    let words: Vec<String> = text.split(' ').map(word).collect();
    words.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(name: &str, shown: &str) {
        let page = document("x", "", "light", &html! { p { (name) } });
        assert!(page.contains(&format!("<p>{shown}</p>")), "{page}");
    }

    #[test]
    fn what_cannot_stand_in_a_page_becomes_a_blank() {
        check("C-14\nC-15", "C-14\nC-15");
        check("a\0b\u{1b}[2Jc\r\u{85}", "a b [2Jc  ");
        check("a\u{fffe}b\u{fdd0}c\u{1ffff}d", "a b c d");
        check("Érable \u{1f333}", "Érable \u{1f333}");
    }

    #[test]
    fn nobodys_address_stands_in_a_page() {
        assert_eq!(
            without_addresses("mail to jory@alderfold.example: refused; <a@b.example> is off"),
            "mail to (an address): refused; (an address) is off"
        );
        assert_eq!(without_addresses("row 7:  x"), "row 7:  x");
    }
}
