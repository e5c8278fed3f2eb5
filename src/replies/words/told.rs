//! What a line tells, as field records: its batches, words, counts and dates put together.

use super::clause::{Part, Told, clauses};
use super::doubts::{callus, doubt, is_alongside, is_weak};
use super::elsewhere::elsewhere;
use super::heard::Heard;
use super::meanwhile::LeftOut;
use super::named::{Named, texts};
use super::phrases::{Did, is_filler, phrase};
use super::program::{is_courteous, is_greeting, is_later, is_wish};
use super::tokens::{self, Word};
use super::{Asking, Meant, figures, meanwhile, names, people, plan, titles, when};
use crate::care::BatchCare;
use crate::letters::capital;
use crate::nursery::What;

/// Words after which a number is a place and no count.
const PLACES: &[&str] = &["row", "rows", "bed", "beds", "bay", "tunnel", "house"];
/// The longest remark that is kept, in characters.
const REMARK: usize = 200;

/// What a line means; or why there are no records of it.
pub fn records(line: &str, asking: &Asking<'_>, heard: &mut Heard) -> Result<Meant, String> {
    let line = without_wish(line);
    if let Some((done, to_come)) = plan::split(line, asking) {
        let words = tokens::words(&done);
        let mut named = parts(&words, asking)?;
        // "70 yesterday, rest tomorrow": of what the letter asked for.
        let counted = named.parts.iter().any(Part::is_count);
        // "Headed back, C-15 not yet": of the others nothing is known. "Looked, head back not yet" is no word of others.
        let place = named.parts.iter().any(Part::is_place);
        if !counted && !place && !plan::is_other_work(&to_come, asking) {
            return Err(format!(
                "it does not say for which batches it is done; name them, as in {} headed back",
                asking.like(None)
            ));
        }
        if counted && !named.says_what() {
            named.parts.push(Part::Did(Did::Asked));
        }
        let mut meant = noted(&done, named, asking, heard)?;
        if let Meant::Records { left, .. } = &mut meant {
            left.push(format!(
                "\"{to_come}\" is not done yet, so nothing of it is written down; answer again when it is"
            ));
        }
        return Ok(meant);
    }
    let words = tokens::words(line);
    noted(line, parts(&words, asking)?, asking, heard)
}

/// A line without the wish at its end: "done, see you tomorrow".
fn without_wish(line: &str) -> &str {
    let ends = line.rfind([',', ';', '.', '!', '-', '–']).into_iter();
    let trimmed = line.trim_end_matches(|c: char| !c.is_alphanumeric());
    let last = trimmed.rfind([',', ';', '.', '!', '-', '–']).into_iter();
    let wish = |at: &usize| is_wish(&tokens::words(&line[*at..]));
    ends.chain(last)
        .find(wish)
        .map_or(line, |at| line[..at].trim_end())
}

/// What a line writes down; where it is nothing, every batch of it that is none is named before the reason.
fn noted(
    line: &str,
    named: Named<'_>,
    asking: &Asking<'_>,
    heard: &mut Heard,
) -> Result<Meant, String> {
    let strangers = named.parts.iter().filter_map(|part| match part {
        Part::Stranger(name) => Some(names::no_batch(name, asking.cares)),
        _ => None,
    });
    let strangers: Vec<String> = strangers.collect();
    let all = match taken(line, named, asking, heard) {
        Ok(Taken::Told(all)) => all,
        Ok(Taken::Later) => return Ok(Meant::Later),
        Err(why) if strangers.is_empty() || strangers.contains(&why) => return Err(why),
        Err(why) => return Err(sentences_of(&[strangers, vec![why]].concat())),
    };
    if let Some((asked, on)) = all.which {
        if all.noted.is_empty() && all.left.is_empty() && strangers.is_empty() {
            return Ok(Meant::Which { asked, on });
        }
        return Err(format!(
            "the letter asked for more than one thing, and it is not plain which of them is done; write what was done, a line for each, as in {} headed back",
            asking.like(None)
        ));
    }
    if all.noted.is_empty() && strangers.is_empty() && all.left.iter().all(LeftOut::is_known) {
        let why = sentences_of(&meanwhile::sentences(&all.left));
        return Ok(Meant::Known { why });
    }
    let mut left = meanwhile::sentences(&all.left);
    match (strangers.is_empty(), all.noted.is_empty()) {
        (true, _) => {}
        (false, true) => left.extend(strangers),
        (false, false) => left.push(format!(
            "{}; the rest of the line is written down",
            strangers.join("; ")
        )),
    }
    if all.noted.is_empty() {
        return Err(sentences_of(&left));
    }
    Ok(Meant::Records {
        noted: all.noted,
        left,
    })
}

/// One after the other, the first as it stands.
fn sentences_of(all: &[String]) -> String {
    let later = all.iter().skip(1).map(|one| capital(one));
    let all: Vec<String> = all.iter().take(1).cloned().chain(later).collect();
    all.join(". ")
}

/// What of a line is taken.
enum Taken {
    Told(Told),
    Later,
}

fn taken(
    line: &str,
    named: Named<'_>,
    asking: &Asking<'_>,
    heard: &mut Heard,
) -> Result<Taken, String> {
    let like = named.like(asking);
    let said = named.says_what();
    let Named { parts, rest, .. } = &named;
    let counted = parts.iter().any(Part::is_count);
    if !said && !counted && is_later(&texts(rest)) {
        return Ok(Taken::Later);
    }
    if named.is_work_not_yet() {
        return Ok(Taken::Later);
    }
    if let Some(why) = callus(&texts(rest), &like).filter(|_| !said) {
        return Err(why);
    }
    let not_yet = texts(rest).windows(2).any(|two| two == ["not", "yet"]);
    if not_yet && named.dids().count() > 1 {
        return Err(format!(
            "something of it is done and something not yet; write a line for each, as in \"{like} lines 3/10\" and \"{like} not yet\""
        ));
    }
    if let Some(why) = rest.iter().find_map(|w| doubt(&w.text, &like)) {
        return Err(why);
    }
    let open = || rest.iter().filter(|w| !is_filler(&w.text));
    if let Some(why) = open().find_map(|w| names::misnamed(w, asking.cares)) {
        return Err(why);
    }
    if !said {
        return Err(nothing_done(parts, &like, asking));
    }
    let block = rest
        .iter()
        .find_map(|w| names::block_said(&w.said, asking.cares));
    if let Some(block) = block.filter(|_| !parts.iter().any(Part::is_place)) {
        return Err(format!(
            "{block} may be block {block}; write it as in block {block} headed back"
        ));
    }
    let work = |p: &Part<'_>| matches!(p, Part::Did(did) if did.is_work());
    let in_rows = rest
        .iter()
        .any(|w| matches!(w.text.as_str(), "row" | "rows"));
    if !counted && parts.iter().any(work) && in_rows {
        return Err("how many grafts these rows have is not known; write the count, as in stopped row 12, 180 done".into());
    }
    if let Some(why) = elsewhere(line, &named, asking) {
        return Err(why);
    }
    let Named {
        parts,
        rest,
        weak,
        others,
    } = named;
    let open = || rest.iter().filter(|w| !is_filler(&w.text));
    let unknown = open().find(|w| !is_alongside(&w.text, asking.by));
    if let (Some(weak), Some(word)) = (weak, unknown) {
        return Err(format!(
            "'{}' is not understood, and beside it '{weak}' may be something else; write only what was done, as in {like} headed back",
            word.said
        ));
    }
    if counted && rest.iter().any(|w| plan::is_rest(&w.text)) {
        return Err(format!(
            "it is not plain how much of it is done; write only what was done, as in {like} headed back 70"
        ));
    }
    let remark = if others || open().any(|w| !is_courteous(&w.text)) {
        line.chars().take(REMARK).collect()
    } else {
        String::new()
    };
    let mut all = Told::default();
    for clause in clauses(parts)? {
        let told = clause.records(&remark, asking, heard)?;
        for one in told.noted {
            if all.noted.iter().all(|other| other.record != one.record) {
                all.noted.push(one);
            }
        }
        all.left.extend(told.left);
        all.which = all.which.or(told.which);
    }
    Ok(Taken::Told(all))
}

fn nothing_done(parts: &[Part<'_>], like: &str, asking: &Asking<'_>) -> String {
    let strangers = parts.iter().find_map(|part| match part {
        Part::Stranger(name) => Some(names::no_batch(name, asking.cares)),
        _ => None,
    });
    strangers.unwrap_or_else(|| format!(
        "it does not say what was seen or done; write it as in {like} headed back, {like} lines 3/10 or {like} tape off 18 Aug"
    ))
}

/// Sorts the words of a line.
pub fn parts<'a>(words: &[Word], asking: &Asking<'a>) -> Result<Named<'a>, String> {
    let (mut parts, mut rest, mut weak) = (Vec::new(), Vec::new(), None);
    let (mut others, mut named_to) = (false, None);
    let mut at = 0;
    while at < words.len() {
        let here = &words[at..];
        let word = here[0].text.as_str();
        let texts: Vec<&str> = here.iter().take(12).map(|w| w.text.as_str()).collect();
        let before = at.checked_sub(1).map_or("", |b| words[b].text.as_str());
        let last = at.checked_sub(1).map(|b| &words[b]);
        if let Some(Part::Batch(care)) = parts.last()
            && let Some(why) = runs_on(care, last, here, asking)
        {
            return Err(why);
        }
        if word == "block"
            && names::block(&here[1..], asking.cares).is_err()
            && let Some(block) = last.and_then(|w| names::block_said(&w.said, asking.cares))
        {
            // "C block" is block C.
            rest.pop();
            parts.push(Part::Block(block));
            at += 1;
        } else if matches!(word, "block" | "blocks") {
            let (block, used) = names::block(&here[1..], asking.cares)?;
            parts.push(Part::Block(block));
            at += 1 + used;
        } else if let Some(found) =
            names::batch(here, asking.cares, matches!(before, "batch" | "batches"))
        {
            let (care, used) = found?;
            parts.push(Part::Batch(care));
            at += used;
        } else if PLACES.contains(&word) {
            rest.push(here[0].clone());
            at += 1 + figures::place(&texts[1..]);
        } else if matches!(word, "sat" | "sun") && !matches!(before, "on" | "last") {
            return Err(format!(
                "'{word}' may be a day; write on {word}, or the date as in 18 Aug"
            ));
        } else if let Some(found) = when::date(here, asking.today) {
            let (date, used) = found?;
            parts.push(Part::Date(date));
            at += used;
        } else if let Some(used) = figures::time(&texts, before) {
            at += used;
        } else if let Some(used) = people::name(
            here,
            last,
            named_to.is_some_and(|to| (to..=to + 1).contains(&at)),
            &parts,
            asking,
        ) {
            others |= !people::is_sender(&here[..used], asking);
            at += used;
            named_to = Some(at);
        } else if let Some((did, used)) = work(&texts, asking) {
            let said = texts[..used].join(" ");
            if is_weak(did, &said) {
                weak = Some(said);
            }
            parts.push(Part::Did(did));
            at += used;
        } else if texts.starts_with(&["nothing", "to", "report"])
            && parts
                .iter()
                .any(|p| matches!(p, Part::Did(Did::This(What::Looked))))
        {
            at += 3; // as letters say it of a look
        } else if let Some((count, used)) = figures::count(&texts) {
            let of_next = last.is_some() && is_of_next(&parts, last, &here[used..], asking)?;
            parts.push(if of_next {
                Part::Early(count)
            } else {
                Part::Count(count)
            });
            at += used;
        } else if names::is_stranger(&here[0], asking.cares) {
            parts.push(Part::Stranger(here[0].said.clone()));
            at += 1;
        } else if is_greeting(before) && here[0].said.starts_with(char::is_uppercase) {
            at += 1; // whoever is thanked
        } else {
            rest.push(here[0].clone());
            at += 1;
        }
    }
    Ok(Named {
        parts,
        rest,
        weak,
        others,
    })
}

/// What was done, in the trade's words or those of a title.
fn work(texts: &[&str], asking: &Asking<'_>) -> Option<(Did, usize)> {
    let known = phrase(texts).or_else(|| look_done(texts, asking));
    let titled = titles::titled(texts, asking.cares).map(|(what, used)| (Did::This(what), used));
    match (known, titled) {
        (Some(known), Some((did, most))) => {
            // "Tape off and tied in" is two things, whatever the title brings.
            let more = |at: usize| phrase(&texts[at..most]).is_some_and(|(other, _)| other != did);
            let two = known.0 == did && (known.1..most).any(more);
            Some(if two || most <= known.1 {
                known
            } else {
                (did, most)
            })
        }
        (known, titled) => known.or(titled),
    }
}

/// "Look again done": a look by its title.
fn look_done(texts: &[&str], asking: &Asking<'_>) -> Option<(Did, usize)> {
    let used = titles::look(texts, asking.cares)?;
    let done = texts.get(used).is_some_and(|word| *word == "done");
    done.then_some((Did::Look, used + 1))
}

/// Whether a count is of the work after it: "headed back, 12 dead".
fn is_of_next(
    parts: &[Part<'_>],
    last: Option<&Word>,
    after: &[Word],
    asking: &Asking<'_>,
) -> Result<bool, String> {
    let texts: Vec<&str> = after.iter().take(12).map(|w| w.text.as_str()).collect();
    let Some((next, used)) = work(&texts, asking) else {
        return Ok(false);
    };
    let Some(at) = parts.iter().rposition(|p| matches!(p, Part::Did(_))) else {
        return Ok(false);
    };
    let has_its_own = at > 0 && parts[at - 1].is_count() || parts[at..].iter().any(Part::is_count);
    let parted = last.is_some_and(|w| w.text == "and" || w.then.is_some());
    let counted = |what: What| {
        matches!(
            what,
            What::Take | What::Lost | What::Dead | What::HeadLength
        )
    };
    let own = texts
        .get(used)
        .is_some_and(|_| figures::count(&texts[used..]).is_some());
    match next {
        _ if own => Ok(false),
        _ if parted || has_its_own => Ok(true),
        Did::This(what) if counted(what) => Err(format!(
            "the count before '{}' may be of that or of what stands before it; write a line for each",
            texts[..used].join(" ")
        )),
        _ => Ok(false),
    }
}

/// Why the word after a batch cannot be read: it may be another batch, or the last of a row of them.
fn runs_on(
    care: &BatchCare<'_>,
    last: Option<&Word>,
    here: &[Word],
    asking: &Asking<'_>,
) -> Option<String> {
    let last = last?;
    let (between, next) = match here {
        [to, next, ..] if matches!(to.text.as_str(), "to" | "till" | "until" | "and") => {
            (to.text.as_str(), next)
        }
        [next, ..] => ("", next),
        [] => return None,
    };
    let and = between == "and" || between.is_empty() && matches!(last.then, Some(',' | '&' | '+'));
    let digits = next.text.bytes().all(|b| b.is_ascii_digit());
    if and
        && digits
        && let Some(why) = names::may_be_batch(care, &next.text, asking.cares)
    {
        return Some(why);
    }
    let range = between.is_empty() && last.then == Some('-') || !matches!(between, "" | "and");
    let after = &here[usize::from(!between.is_empty())..];
    let batch = names::batch(after, asking.cares, false).is_some_and(|found| found.is_ok());
    (range && batch).then(|| {
        format!(
            "it is not plain which batches lie between {} and {}; name each of them",
            care.batch.name, next.said
        )
    })
}
