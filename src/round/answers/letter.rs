//! Which of our letters a mail answers.
//!
//! A letter is known by its token, which nobody can guess: in the address it was answered at, in the headers that name
//! the letter, or in square brackets in the subject. A token that is none of ours is no token.

use crate::config::Config;
use crate::replies::Mail;
use crate::store::{Memory, SentLetter, StoreError};

/// So many digits has a token.
const DIGITS: usize = 32;

/// The letter that a mail answers.
pub fn letter_of(
    memory: &Memory<'_>,
    config: &Config,
    mail: &Mail,
) -> Result<Option<SentLetter>, StoreError> {
    let address = config.answers.as_ref().map(|answers| &answers.address);
    let in_addresses = mail
        .to
        .iter()
        .filter_map(|to| token_in_address(to, address?));
    for token in in_addresses {
        if let Some(letter) = memory.letter_of_token(&token)? {
            return Ok(Some(letter));
        }
    }
    for id in &mail.answers_to {
        if let Some(letter) = memory.letter_named(id)? {
            return Ok(Some(letter));
        }
    }
    match token_in_subject(&mail.subject) {
        Some(token) => memory.letter_of_token(&token),
        None => Ok(None),
    }
}

/// `answers+TOKEN@alderfold.example`, for `answers@alderfold.example`.
fn token_in_address(to: &str, address: &str) -> Option<String> {
    let (name, domain) = address.rsplit_once('@')?;
    let (theirs, at) = to.rsplit_once('@')?;
    let begin = theirs.get(..name.len())?;
    let token = theirs.get(name.len()..)?.strip_prefix('+')?;
    let ours = begin.eq_ignore_ascii_case(name) && at.eq_ignore_ascii_case(domain);
    (ours && is_token(token)).then(|| token.to_ascii_lowercase())
}

/// `Re: Block C: head back now [TOKEN]`.
fn token_in_subject(subject: &str) -> Option<String> {
    let within = subject
        .split('[')
        .skip(1)
        .filter_map(|rest| rest.split_once(']'));
    let token = within.map(|(token, _)| token).find(|token| is_token(token));
    token.map(str::to_ascii_lowercase)
}

fn is_token(text: &str) -> bool {
    text.len() == DIGITS && text.bytes().all(|b| b.is_ascii_hexdigit())
}

#[cfg(test)]
mod tests {
    use super::*;

    const TOKEN: &str = "0123456789abcdef0123456789abcdef";

    #[track_caller]
    fn check_address(to: &str, found: bool) {
        let token = token_in_address(to, "Answers@alderfold.example");
        assert_eq!(token.as_deref(), found.then_some(TOKEN), "{to}");
    }

    #[test]
    fn a_token_stands_behind_the_plus_of_our_own_address() {
        check_address(&format!("answers+{TOKEN}@alderfold.example"), true);
        let upper = TOKEN.to_uppercase();
        check_address(&format!("ANSWERS+{upper}@AlderFold.example"), true);
        check_address("answers@alderfold.example", false);
        check_address("answers+0123@alderfold.example", false);
        check_address(&format!("answers+{TOKEN}0@alderfold.example"), false);
        check_address(&format!("answers+{TOKEN}@elsewhere.example"), false);
        check_address(&format!("other+{TOKEN}@alderfold.example"), false);
        check_address(&format!("{TOKEN}@alderfold.example"), false);
        check_address("ä+@alderfold.example", false);
        check_address("answers", false);
    }

    #[track_caller]
    fn check_subject(subject: &str, found: bool) {
        let token = token_in_subject(subject);
        assert_eq!(token.as_deref(), found.then_some(TOKEN), "{subject}");
    }

    #[test]
    fn a_token_stands_in_brackets_in_a_subject() {
        check_subject(&format!("Re: [farm] head back now [{TOKEN}]"), true);
        check_subject(&format!("[{TOKEN}"), false);
        check_subject(TOKEN, false);
        check_subject("Re: [all] hands", false);
    }
}
