//! How a letter is answered: in words, and as replies that one tap begins.
//!
//! Knows what the letter asks and of which batches, and where answers go. What comes back is read elsewhere. `several` says
//! it where a letter asks for more than one step, `known` parts the batches by what is known of them.

mod known;
mod several;

pub(super) use several::{Offer, offers};

use super::letter::{Asked, Context};
use super::words::{count_of, list};
use crate::care::{BatchCare, StepCare};
use crate::notices::{Digest, Notice};
use crate::nursery::What;
use known::Known;
use std::fmt::Write;

/// How to answer a letter.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Answer {
    /// In words.
    pub say: String,
    /// Replies begun, the likeliest first; none where answers are not read.
    pub replies: Vec<Reply>,
}

/// Where answers to one letter go.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ReplyTo {
    /// The address.
    pub address: String,
    /// What the subject of an answer must have in it, where the address does not say which letter it is.
    pub mark: Option<String>,
}

/// A reply that is begun, to be looked over and sent.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reply {
    /// What is tapped.
    pub label: String,
    /// What stands in it, a line each; may be none.
    pub lines: Vec<String>,
}

/// So many batches are named one by one; of more the letter's own list is meant.
const FEW: usize = 6;
/// Named batches take no more characters than this: mail programs do not open links of any length.
const LONGEST: usize = 600;
/// Nor is more of the subject needed to know the letter again.
const SUBJECT: usize = 150;

impl Reply {
    pub(super) fn new(label: impl Into<String>, lines: Vec<String>) -> Self {
        let label = label.into();
        Self { label, lines }
    }

    /// The link that opens this reply, with each line on one of its own (RFC 6068).
    pub fn mailto(&self, to: &ReplyTo, subject: &str) -> String {
        let (local, domain) = to.address.rsplit_once('@').unwrap_or((&to.address, ""));
        let subject: String = subject.chars().take(SUBJECT).collect();
        let mark = to.mark.as_deref();
        let mark = mark.map_or_else(String::new, |mark| format!(" [{mark}]"));
        let mut link = format!(
            "mailto:{}@{}?subject={}",
            encoded(local),
            encoded(domain),
            encoded(&format!("Re: {subject}{mark}"))
        );
        if !self.lines.is_empty() {
            let _ = write!(link, "&body={}", encoded(&self.lines.join("\r\n")));
        }
        link
    }
}

/// With everything percent-encoded that is not a plain letter or digit, `+` too, which some take for a space.
fn encoded(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~".contains(&byte) {
            out.push(char::from(byte));
        } else {
            let _ = write!(out, "%{byte:02X}");
        }
    }
    out
}

/// How to answer a letter with these notices; none where nothing in it can be answered.
pub fn answer(asked: &[Asked], notices: &[&Notice], context: &Context<'_>) -> Option<Answer> {
    match (asked, context.reply_to) {
        ([], None) => None,
        ([], Some(_)) => of_anything(notices, context),
        ([first, ..], None) => by_hand(first, context),
        ([asked], Some(_)) => by_letter(asked, context),
        (asked, Some(_)) => several::by_letter(asked, context),
    }
}

/// Where answers are not read: how to write down what was done, or where nobody has looked yet what was seen.
fn by_hand(asked: &Asked, context: &Context<'_>) -> Option<Answer> {
    let (care, step) = first(asked, context)?;
    let brings = &step.step.brings;
    let rule = care.plan.reckoning;
    let unseen = care.unseen(step, &care.facts) == Some(rule.seen);
    let looked = [rule.seen, rule.unseen];
    let brings = if unseen { &looked[..] } else { &brings[..] };
    let words: Vec<&str> = brings.iter().map(|what| what.name()).collect();
    let in_part = care.seen_in_part(step, &care.facts).is_some();
    let count = match brings.first()? {
        What::Take => " --count N",
        What::HeadLength => " --count N (N in cm)",
        What::Lines => " --count 3/10",
        what if what.is_work() && in_part => " --count N",
        _ => "",
    };
    let done = if unseen { "Looked?" } else { "Done?" };
    Some(Answer {
        say: format!(
            "{done} Write it in the field records ({}), or as here: graftwarden note {} {}{count}",
            words.join(", "),
            quoted(&care.batch.name),
            words[0],
        ),
        replies: Vec::new(),
    })
}

/// The words that answer what the letter asks, in full and of one batch.
fn by_letter(asked: &Asked, context: &Context<'_>) -> Option<Answer> {
    let (care, step) = first(asked, context)?;
    let brings = &step.step.brings;
    let example = example(care, step)?;
    let of = of(&step.step.title, &asked.batches);
    let or = match asked.batches.len() {
        1 => format!("or more exactly, such as \"{example}\""),
        _ => format!("or a line for each batch, such as \"{example}\""),
    };
    let each = |what: What| lines(&asked.batches, &spoken(what));
    let (say, replies) = match brings.first()? {
        What::Take | What::HeadLength => {
            let label = if brings[0] == What::Take {
                "Write the count"
            } else {
                "Write the length"
            };
            (
                format!(
                    "Answer this letter with a line for each batch ({of}), such as \"{example}\"."
                ),
                vec![Reply::new(label, begun(&asked.batches, brings[0]))],
            )
        }
        _ if brings.contains(&What::Lines) => {
            let mut replies = vec![
                Reply::new("Lines showing", each(What::Lines)),
                Reply::new("No lines yet", each(What::NoLines)),
            ];
            let mut words = "\"lines\", \"no lines\"".to_owned();
            if brings.contains(&What::Looked) {
                words.push_str(", \"looked\"");
                replies.push(Reply::new("Looked, all well", each(What::Looked)));
            }
            (
                format!("Answer this letter: {words} ({of}), {or}."),
                replies,
            )
        }
        _ => work(asked, step, context, &or),
    };
    Some(Answer { say, replies })
}

/// Work: `done` where all of a batch is to be done. Where only a part is, its count is asked for, and where nobody has
/// looked yet, what is seen, as the letter says.
fn work(
    asked: &Asked,
    step: &StepCare<'_>,
    context: &Context<'_>,
    or: &str,
) -> (String, Vec<Reply>) {
    let known = Known::of(asked, context);
    let whole = &known.whole;
    let (mut say, mut replies) = (Vec::new(), Vec::new());
    if !whole.is_empty() {
        let of = of(&step.step.title, whole);
        say.push(if whole.len() == asked.batches.len() {
            format!("Answer this letter: \"done\" ({of}), \"not yet\", {or}.")
        } else {
            format!("Answer this letter: \"done\" ({of}), \"not yet\".")
        });
        // With several words to choose from, only `done` means all that was asked.
        replies.push(match step.step.brings.as_slice() {
            [_] => Reply::new("Done", lines(whole, "done")),
            _ => Reply::new("Done", vec!["done".into()]),
        });
    }
    known.uncertain(asked, step, context, &mut say, &mut replies);
    if whole.is_empty() {
        say.push("\"Not yet\" writes nothing down.".into());
    }
    replies.push(Reply::new("Not yet", vec!["not yet".into()]));
    (say.join(" "), replies)
}

/// "head back: C-14 and C-15".
fn of(title: &str, batches: &[String]) -> String {
    match batches.len() {
        n if n > FEW => format!("{title}: all {}", count_of(n as u32, "batch")),
        _ => format!("{title}: {}", names(batches)),
    }
}

fn names(batches: &[String]) -> String {
    match batches.len() {
        n if n > FEW => count_of(n as u32, "batch"),
        _ => list(
            &batches
                .iter()
                .map(|name| one_line(name))
                .collect::<Vec<_>>(),
        ),
    }
}

/// Nothing is asked, or many things: what is due of the first batch gives the example.
fn of_anything(notices: &[&Notice], context: &Context<'_>) -> Option<Answer> {
    let mut names = notices.iter().flat_map(|notice| {
        let digest = notice.digest.iter().flat_map(Digest::batches);
        let touched = notice.batches.iter().map(String::as_str);
        notice
            .about
            .batch()
            .into_iter()
            .chain(touched)
            .chain(digest)
    });
    let example = names.find_map(|name| {
        let care = context.named.get(name)?;
        let due = |s: &&StepCare<'_>| s.state.is_due() && !s.step.brings.is_empty();
        example(care, care.steps.iter().find(due)?)
    })?;
    Some(Answer {
        say: format!(
            "Seen or done something? Answer this letter, a line for each batch, such as \"{example}\"."
        ),
        replies: vec![Reply::new("Write what was done", Vec::new())],
    })
}

/// The first batch that is asked about, and the step.
fn first<'a>(
    asked: &Asked,
    context: &Context<'a>,
) -> Option<(&'a BatchCare<'a>, &'a StepCare<'a>)> {
    let care = context.named.get(asked.batches.first()?)?;
    Some((care, care.step(&asked.step)?))
}

/// "C-14 headed back 180": the line of one batch, for work with a part of what is left.
fn example(care: &BatchCare<'_>, step: &StepCare<'_>) -> Option<String> {
    let brings = &step.step.brings;
    let shows = brings.contains(&What::Lines);
    let what = if shows { What::Lines } else { *brings.first()? };
    let left = step.progress.of.saturating_sub(step.progress.done);
    let count = match what {
        What::Lines => " 3/10".to_owned(),
        What::HeadLength => " 45".to_owned(),
        What::Take => format!(" {}", part(left, 9)),
        what if what.is_work() => format!(" {}", part(left, 6)),
        _ => String::new(),
    };
    Some(format!(
        "{} {}{count}",
        one_line(&care.batch.name),
        spoken(what)
    ))
}

/// About so many tenths, as a number one would write.
fn part(of: u32, tenths: u32) -> u32 {
    match u64::from(of) * u64::from(tenths) / 10 {
        part @ 10.. => part as u32 / 10 * 10,
        part => part.max(1) as u32,
    }
}

/// A line for each batch that says these words, where they are few; else the words alone.
fn lines(batches: &[String], words: &str) -> Vec<String> {
    let each = batches.iter().take(FEW + 1);
    let each: Vec<String> = each
        .map(|name| format!("{} {words}", one_line(name)))
        .collect();
    let size: usize = each.iter().map(|line| line.chars().count()).sum();
    if each.len() <= FEW && size <= LONGEST {
        each
    } else {
        vec![words.to_owned()]
    }
}

/// Lines that wait for their number, of the first batches where they are many.
fn begun(batches: &[String], what: What) -> Vec<String> {
    let mut size = 0;
    let lines = batches.iter().take(FEW);
    let lines = lines.map(|name| format!("{} {} ", one_line(name), spoken(what)));
    lines
        .take_while(|line| {
            size += line.chars().count();
            size <= LONGEST
        })
        .collect()
}

/// A word of the field records as people write it.
fn spoken(what: What) -> String {
    what.name().replace('-', " ")
}

/// A name that a register breaks over lines, on one.
fn one_line(name: &str) -> String {
    name.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A name as it is typed into a shell.
pub(super) fn quoted(name: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || "-_./".contains(c);
    if name.chars().all(plain) {
        name.to_owned()
    } else {
        format!("'{}'", name.replace('\'', r"'\''"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(address: &str) -> ReplyTo {
        ReplyTo {
            address: address.into(),
            mark: None,
        }
    }

    #[test]
    fn where_the_address_does_not_say_which_letter_it_is_the_subject_does() {
        let to = ReplyTo {
            mark: Some("0123abcd".into()),
            ..at("answers@alderfold.example")
        };
        assert_eq!(
            Reply::new("Done", vec!["done".into()]).mailto(&to, "Block C"),
            "mailto:answers@alderfold.example?subject=Re%3A%20Block%20C%20%5B0123abcd%5D&body=done"
        );
    }

    #[track_caller]
    fn check(address: &str, subject: &str, lines: &[&str], expected: &str) {
        let lines = lines.iter().map(|line| (*line).to_owned()).collect();
        assert_eq!(
            Reply::new("Done", lines).mailto(&at(address), subject),
            expected
        );
    }

    #[test]
    fn a_reply_is_a_link_that_any_mail_program_opens() {
        check(
            "answers+0f3a@alderfold.example",
            "Block C: head back now",
            &["C-14 headed back", "C-15 headed back"],
            "mailto:answers%2B0f3a@alderfold.example?subject=Re%3A%20Block%20C%3A%20head%20back%20now&body=C-14%20headed%20back%0D%0AC-15%20headed%20back",
        );
        check(
            "a@b.example",
            "Ü & ?",
            &[],
            "mailto:a@b.example?subject=Re%3A%20%C3%9C%20%26%20%3F",
        );
    }

    #[test]
    fn nothing_that_was_written_ends_the_link_or_begins_another_part_of_it() {
        check(
            "a?cc=eve@net@b.example",
            "x&bcc=eve@example.net\"><script>",
            &["C%0D&body=#'"],
            "mailto:a%3Fcc%3Deve%40net@b.example?subject=Re%3A%20x%26bcc%3Deve%40example.net%22%3E%3Cscript%3E&body=C%250D%26body%3D%23%27",
        );
    }

    #[test]
    fn a_long_subject_is_cut_short() {
        let link = Reply::new("Done", Vec::new()).mailto(&at("a@b.example"), &"é".repeat(5_000));
        assert_eq!(
            link,
            format!(
                "mailto:a@b.example?subject=Re%3A%20{}",
                "%C3%A9".repeat(150)
            )
        );
    }

    #[test]
    fn a_part_is_a_number_one_would_write() {
        let parts = |tenths| [1, 9, 15, 40, 310, u32::MAX].map(|of| part(of, tenths));
        assert_eq!(parts(6), [1, 5, 9, 20, 180, 2_576_980_370]);
        assert_eq!(parts(9), [1, 8, 10, 30, 270, 3_865_470_560]);
    }

    #[test]
    fn a_name_is_quoted_for_a_shell_where_it_must_be() {
        assert_eq!(quoted("C-14/2"), "C-14/2");
        assert_eq!(quoted("row 3's"), r"'row 3'\''s'");
    }
}
