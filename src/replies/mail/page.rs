//! A mail that is HTML only, as text: quotes and hidden things left out first.

/// Elements that are left out with all that is in them.
const LEFT_OUT: &[&str] = &["blockquote", "style", "script", "head", "title", "template"];
/// Elements that begin a line of their own.
const LINES: &[&str] = &[
    "div", "p", "li", "tr", "table", "ul", "ol", "h1", "h2", "h3", "pre", "hr",
];
/// What mail programs call the box around the letter that is answered.
const QUOTES: &[&str] = &[
    "quote",
    "reply_forward",
    "divrplyfwdmsg",
    "appendonsend",
    "moz-cite-prefix",
    "signature",
];

/// The text of a page.
pub fn text(html: &str) -> String {
    mail_parser::decoders::html::html_to_text(&without_quotes(html))
}

/// The page without what was quoted.
fn without_quotes(html: &str) -> String {
    let mut kept = String::with_capacity(html.len());
    let mut rest = html;
    while let Some(at) = rest.find('<') {
        kept.push_str(&rest[..at]);
        rest = &rest[at..];
        if let Some(comment) = rest.strip_prefix("<!--") {
            rest = comment.split_once("-->").map_or("", |(_, after)| after);
            continue;
        }
        let end = rest.find('>').map_or(rest.len(), |end| end + 1);
        let tag = &rest[..end];
        let name = name_of(tag);
        let quoted = name == "div" && {
            let tag = tag.to_lowercase();
            QUOTES.iter().any(|word| tag.contains(word))
        };
        if quoted || LEFT_OUT.contains(&name.as_str()) {
            rest = after_element(&rest[end..], &name);
            // Where a quote was, the line above it is known to lead into it.
            kept.push_str(if quoted || name == "blockquote" {
                "<br>&gt;<br>"
            } else {
                "<br>"
            });
        } else {
            if LINES.contains(&name.as_str()) {
                kept.push_str("<br>");
            }
            kept.push_str(tag);
            rest = &rest[end..];
        }
    }
    kept.push_str(rest);
    kept
}

/// What comes after the end of an element of which the beginning is behind us; it may hold others of its name.
fn after_element<'h>(html: &'h str, name: &str) -> &'h str {
    let (mut depth, mut rest) = (1, html);
    while let Some(at) = rest.find('<') {
        rest = &rest[at..];
        let end = rest.find('>').map_or(rest.len(), |end| end + 1);
        let tag = &rest[..end];
        if tag
            .strip_prefix("</")
            .is_some_and(|tag| name_of(&format!("<{tag}")) == name)
        {
            depth -= 1;
        } else if name_of(tag) == name {
            depth += 1;
        }
        rest = &rest[end..];
        if depth == 0 {
            return rest;
        }
    }
    ""
}

/// `div` of `<DIV class="x">`; empty for an end.
fn name_of(tag: &str) -> String {
    let name = tag.trim_start_matches('<');
    let end = name
        .find(|c: char| !c.is_ascii_alphanumeric())
        .unwrap_or(name.len());
    name[..end].to_lowercase()
}
