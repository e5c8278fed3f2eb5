//! What was written by hand in a mail: without the letter that is quoted, and without a signature.

/// Lines that begin the quoted letter, or what a phone adds below: (begins with, ends with), in small letters.
const ATTRIBUTIONS: &[(&str, &str)] = &[
    ("on ", "wrote:"),
    ("am ", "schrieb:"),
    ("am ", ":"),
    ("le ", "a écrit :"),
    ("le ", "a écrit:"),
    ("op ", "schreef:"),
    ("op ", ":"),
    ("el ", "escribió:"),
    ("il ", "ha scritto:"),
    ("em ", "escreveu:"),
    ("den ", "skrev:"),
];
/// Words of an attribution that ends in a colon only.
const WROTE: &[&str] = &[
    "wrote",
    "schrieb",
    "écrit",
    "schreef",
    "escribió",
    "scritto",
    "escreveu",
    "skrev",
];
const SENT_FROM: &[&str] = &[
    "sent from my ",
    "sent from ",
    "get the app",
    "von meinem ",
    "gesendet von ",
    "envoyé de mon ",
    "envoyé depuis ",
    "verstuurd vanaf ",
    "enviado desde ",
    "inviato da ",
];
const DIVIDERS: &[&str] = &[
    "original message",
    "ursprüngliche nachricht",
    "message d'origine",
    "oorspronkelijk bericht",
    "mensaje original",
    "messaggio originale",
    "forwarded message",
];
/// The first line of a block of headers that a mail program puts above the quoted letter.
const FROM: &[&str] = &["from:", "von:", "de :", "de:", "van:", "da:"];
const SENT: &[&str] = &[
    "sent:",
    "date:",
    "gesendet:",
    "datum:",
    "envoyé :",
    "envoyé:",
    "verzonden:",
    "enviado:",
    "inviato:",
    "fecha:",
    "data:",
    "to:",
    "an:",
    "à :",
];

/// Lines that were broken only to be short (RFC 3676) put together again.
pub fn unflowed(text: &str, flowed: bool) -> String {
    if !flowed {
        return text.to_owned();
    }
    let mut out = String::with_capacity(text.len());
    let mut lines = text.lines().peekable();
    while let Some(line) = lines.next() {
        // A quote and a signature begin on a line of their own, whatever stands before them.
        let apart = |line: &str| line.starts_with('>') || is_signature(line);
        let goes_on =
            line.ends_with(' ') && !apart(line) && lines.peek().is_some_and(|next| !apart(next));
        out.push_str(line.strip_prefix(' ').unwrap_or(line));
        if !goes_on {
            out.push('\n');
        }
    }
    out
}

/// The lines that the person wrote: above, below and between what is quoted.
pub fn by_hand(text: &str) -> String {
    let lines: Vec<String> = text
        .lines()
        .map(|line| super::clean(line).trim_end().to_owned())
        .collect();
    let mut kept: Vec<&str> = Vec::new();
    let mut at = 0;
    while at < lines.len() {
        let line = lines[at].trim();
        if is_signature(&lines[at]) || is_header_block(&lines[at..]) || is_rule(&lines[at..]) {
            break;
        }
        if line.starts_with('>') || is_sent_from(line) {
            at += 1;
            continue;
        }
        let leads_in = if is_divider(line) {
            Some(1)
        } else {
            attribution(&lines[at..])
        };
        if let Some(used) = leads_in {
            at += used;
            // Not every program marks what it quotes: then all that follows is the old letter, and no answer.
            let next = lines[at..].iter().find(|line| !line.trim().is_empty());
            if next.is_some_and(|next| !next.trim_start().starts_with('>')) {
                break;
            }
            continue;
        }
        kept.push(line);
        at += 1;
    }
    kept.join("\n").trim().to_owned()
}

fn is_signature(line: &str) -> bool {
    matches!(line, "--" | "-- ")
}

/// `-----Original Message-----`
fn is_divider(line: &str) -> bool {
    let words = line.trim_matches(|c: char| c == '-' || c == '_' || c.is_whitespace());
    line.starts_with(['-', '_']) && DIVIDERS.contains(&words.to_lowercase().as_str())
}

/// A rule with a block of headers below it; by itself it is only a line.
fn is_rule(lines: &[String]) -> bool {
    let rule = |line: &str| line.len() >= 5 && line.trim_matches(['-', '_']).is_empty();
    let below = lines.iter().skip(1).position(|line| !line.is_empty());
    rule(lines[0].trim()) && below.is_some_and(|below| is_header_block(&lines[1 + below..]))
}

/// `From: ...` with `Sent: ...` or `To: ...` right below.
fn is_header_block(lines: &[String]) -> bool {
    let begins = |line: &String, with: &[&str]| {
        let line = line.trim().trim_start_matches('*').to_lowercase();
        with.iter().any(|word| line.starts_with(word))
    };
    lines.first().is_some_and(|line| begins(line, FROM))
        && lines.iter().skip(1).take(3).any(|line| begins(line, SENT))
}

fn is_sent_from(line: &str) -> bool {
    let line = line.to_lowercase();
    line.chars().count() < 60 && SENT_FROM.iter().any(|begin| line.starts_with(begin))
}

/// How many lines the words "On Thu, Anna wrote:" take, which may be broken over up to three.
fn attribution(lines: &[String]) -> Option<usize> {
    let begins = |line: &str| {
        ATTRIBUTIONS
            .iter()
            .any(|(begin, _)| line.starts_with(begin))
    };
    let mut line = String::new();
    for (at, next) in lines.iter().take(3).enumerate() {
        // A space that does not break is one, too.
        let next = next.split_whitespace().collect::<Vec<_>>().join(" ");
        let next = next.to_lowercase();
        // "On row 12 stopped" just above it is no part of it.
        if next.is_empty() || next.starts_with('>') || (at > 0 && begins(&next)) {
            return None;
        }
        if at > 0 {
            line.push(' ');
        }
        line.push_str(&next);
        let wrote = WROTE.iter().any(|word| line.contains(word));
        // It names a mail address or a time, which no work in the field does.
        let when = line.contains('@') || line.contains(|c: char| c.is_ascii_digit());
        let fits = |(begin, end): &(&str, &str)| line.starts_with(begin) && line.ends_with(end);
        if wrote && when && ATTRIBUTIONS.iter().any(fits) {
            return Some(at + 1);
        }
    }
    None
}
