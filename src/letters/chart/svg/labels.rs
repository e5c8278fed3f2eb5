//! Where the words of a chart stand: each at its own line, on the side where no track is, and none upon another. How wide
//! a word is is reckoned on the wide side, since the core knows no font.

use super::{FRAME, INK, LIMIT, Scale, TRACKS, WORDS, figure};
use crate::letters::chart::data::Drawn;
use crate::letters::words::list;

/// Words need so much room, one below the other.
pub const LINE: f64 = 19.0;
/// Less than this, and one covers another.
const TALL: f64 = 17.0;
/// How far a word reaches above and below the line it is written on.
const ABOVE: f64 = 14.0;
const BELOW: f64 = 5.0;
/// Between words and what is beside them.
const GAP: f64 = 6.0;

/// Which end of a word stands where it is put.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    Start,
    Middle,
    End,
}

impl Side {
    /// As SVG says it.
    pub fn anchor(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::Middle => "middle",
            Self::End => "end",
        }
    }
}

/// A word on the picture: where its side stands, the line it is written on, and what it is.
#[derive(Clone, Debug, PartialEq)]
pub struct Label {
    pub x: f64,
    pub y: f64,
    pub side: Side,
    pub text: String,
    pub ink: &'static str,
}

impl Label {
    /// From where to where it reaches.
    fn reach(&self) -> (f64, f64) {
        let wide = width(&self.text, WORDS);
        let begin = match self.side {
            Side::Start => self.x,
            Side::Middle => self.x - wide / 2.0,
            Side::End => self.x - wide,
        };
        (begin, begin + wide)
    }

    fn covers(&self, other: &Self) -> bool {
        let (a, b) = (self.reach(), other.reach());
        (self.y - other.y).abs() < TALL && a.0 < b.1 + GAP && b.0 < a.1 + GAP
    }
}

/// No narrower than the text is when drawn in letters of that size.
pub fn width(text: &str, size: f64) -> f64 {
    let each = |c: char| match c {
        'i' | 'j' | 'l' | 'I' | 'J' | '\'' | '|' | ' ' | '.' | ',' | ':' | ';' => 0.34,
        'f' | 't' | 'r' | '-' | '(' | ')' | '/' | '!' => 0.42,
        'c' | 's' | 'z' => 0.56,
        'k' | 'v' | 'x' | 'y' => 0.6,
        '+' | '<' | '>' | '=' | '#' | '~' | '^' => 0.84,
        'm' | 'w' | 'W' | 'M' | '@' | '%' | '…' => 1.0,
        'A'..='Z' | '&' => 0.79,
        _ if c.is_ascii() => 0.65,
        _ => 1.1,
    };
    text.chars().map(each).sum::<f64>() * size
}

/// The text, or where it is wider than `room` its beginning and its end: names of a nursery often differ by their ends.
pub fn fit(text: &str, size: f64, room: f64) -> String {
    if width(text, size) <= room {
        return text.to_owned();
    }
    let signs: Vec<char> = text.chars().collect();
    let cut = |kept: usize| -> String {
        let (begin, end) = (kept.div_ceil(2), kept / 2);
        let begin: String = signs[..begin].iter().collect();
        let end: String = signs[signs.len() - end..].iter().collect();
        format!("{}…{}", begin.trim_end(), end.trim_start())
    };
    let fits = |kept: &usize| width(&cut(*kept), size) <= room;
    (0..signs.len().min(200))
        .rev()
        .find(fits)
        .map_or_else(String::new, cut)
}

/// Each name in its room, see [`fit`]; of those that would read the same, what stands around their first difference is
/// kept instead.
pub fn fit_apart(names: &[(&str, f64)], size: f64) -> Vec<String> {
    let fitted: Vec<String> = names
        .iter()
        .map(|(name, room)| fit(name, size, *room))
        .collect();
    let apart = |(n, &(name, room)): (usize, &(&str, f64))| {
        let same = |&(other, of): &(usize, &(&str, f64))| {
            other != n && of.0 != name && fitted[other] == fitted[n]
        };
        let alike = |of: &str| {
            name.chars()
                .zip(of.chars())
                .take_while(|(a, b)| a == b)
                .count()
        };
        let twins = names.iter().enumerate().filter(same);
        match twins.map(|(_, of)| alike(of.0)).max() {
            Some(at) => around(name, at, size, room),
            None => fitted[n].clone(),
        }
    };
    names.iter().enumerate().map(apart).collect()
}

/// What of a name has room from just before that sign on.
fn around(name: &str, at: usize, size: f64, room: f64) -> String {
    let signs: Vec<char> = name.chars().collect();
    let from = at.min(signs.len()).saturating_sub(1);
    let shown = |kept: usize| -> String {
        let kept: String = signs[from..from + kept].iter().collect();
        let more = if from + kept.chars().count() < signs.len() {
            "…"
        } else {
            ""
        };
        format!("…{}{more}", kept.trim())
    };
    let fits = |kept: &usize| width(&shown(*kept), size) <= room;
    (0..=(signs.len() - from).min(200))
        .rev()
        .find(fits)
        .map_or_else(String::new, shown)
}

/// The word for today, the title of each window at its opening, and that of each limit at its line. What has no room of
/// its own is left out; the words of the chart have it.
pub fn marks(drawn: &Drawn<'_>, scale: &Scale) -> Vec<Label> {
    let mut labels = vec![Label {
        x: scale.x(drawn.today),
        y: FRAME.3 - 7.0,
        side: Side::Middle,
        text: "today".into(),
        ink: INK,
    }];
    for (at, text) in windows(drawn, scale) {
        let y = scale.y(at) - 5.0;
        place(&mut labels, drawn, scale, &[y], &text, INK);
    }
    for limit in limits(drawn, scale) {
        let above = limit.at.iter().map(|&at| scale.y(at) - 7.0);
        let lines: Vec<f64> = above.chain([scale.y(limit.at[0]) + 17.0]).collect();
        let figures: Vec<String> = limit.at.iter().map(|&at| figure(at)).collect();
        let figures = list(&figures);
        // Where there is no room for its name, the figure says which it is.
        let text = format!("{} {figures}", limit.title);
        if !place(&mut labels, drawn, scale, &lines, &text, LIMIT) {
            place(&mut labels, drawn, scale, &lines, &figures, LIMIT);
        }
    }
    labels
}

/// The opening of each window that can be seen, and what it says. Two that would cover each other say it together.
fn windows(drawn: &Drawn<'_>, scale: &Scale) -> Vec<(f64, String)> {
    let mut said: Vec<(f64, String)> = Vec::new();
    let mut windows: Vec<_> = drawn.windows.iter().collect();
    windows.sort_by(|a, b| a.from.total_cmp(&b.from));
    for window in windows.into_iter().filter(|w| scale.shows(w.from)) {
        let to = window
            .to
            .map_or_else(String::new, |to| format!("–{}", figure(to)));
        let text = format!("{} {}{to}", window.title, figure(window.from));
        match said.last_mut() {
            Some((at, both)) if scale.y(*at) - scale.y(window.from) < LINE => {
                both.push_str("; ");
                both.push_str(&text);
            }
            _ => said.push((window.from, text)),
        }
    }
    said
}

/// What one word says of a limit, or of two that lie too near for a word each.
struct Said<'d> {
    title: &'d str,
    at: Vec<f64>,
}

fn limits<'d>(drawn: &'d Drawn<'_>, scale: &Scale) -> Vec<Said<'d>> {
    let mut said: Vec<Said<'d>> = Vec::new();
    for limit in drawn.limits.iter().filter(|l| scale.shows(l.at)) {
        match said.last_mut() {
            Some(near)
                if near.title == limit.title && scale.y(near.at[0]) - scale.y(limit.at) < LINE =>
            {
                near.at.push(limit.at);
            }
            _ => said.push(Said {
                title: &limit.title,
                at: vec![limit.at],
            }),
        }
    }
    said
}

/// Puts a text on the first of these lines and sides where it covers no other; rather where no track goes through it.
/// False where there is no such place.
fn place(
    labels: &mut Vec<Label>,
    drawn: &Drawn<'_>,
    scale: &Scale,
    lines: &[f64],
    text: &str,
    ink: &'static str,
) -> bool {
    let (left, top, right, _) = FRAME;
    let text = fit(text, WORDS, right - left - 2.0 * GAP);
    let sides = [(right - GAP, Side::End), (left + GAP, Side::Start)];
    let at = lines
        .iter()
        .flat_map(|&y| sides.map(|(x, side)| (x, y, side)));
    let free: Vec<Label> = at
        .filter(|(_, y, _)| y - ABOVE >= top)
        .map(|(x, y, side)| Label {
            x,
            y,
            side,
            text: text.clone(),
            ink,
        })
        .filter(|label| !labels.iter().any(|other| label.covers(other)))
        .collect();
    let best = free
        .into_iter()
        .min_by_key(|label| crossings(label, drawn, scale));
    let found = best.is_some();
    labels.extend(best);
    found
}

/// How many days of tracks lie behind a label.
fn crossings(label: &Label, drawn: &Drawn<'_>, scale: &Scale) -> usize {
    let days = drawn.tracks.iter().flat_map(|track| &track.days);
    let (begin, end) = label.reach();
    let behind = days.filter(|&&(day, at, _)| {
        let (x, y) = scale.at(day, at);
        (begin - GAP..end + GAP).contains(&x)
            && (label.y - ABOVE - 3.0..label.y + BELOW + 3.0).contains(&y)
    });
    behind.count()
}

/// For each track the end of its line, and its name beside it.
pub fn ends(drawn: &Drawn<'_>, scale: &Scale) -> Vec<((f64, f64), Label)> {
    let (left, top, right, bottom) = FRAME;
    let x = right + 24.0;
    let room = super::SIZE.0 - GAP - x;
    let ends = drawn.tracks.iter().map(|track| {
        let last = track.days.last();
        last.map_or((left, bottom), |&(day, at, _)| scale.at(day, at))
    });
    let ends: Vec<(f64, f64)> = ends.collect();
    let at: Vec<f64> = ends.iter().map(|end| end.1 + 6.0).collect();
    let lines = spread(&at, (top + ABOVE, bottom));
    let others = drawn.tracks.iter().map(|track| match track.others {
        0 => String::new(),
        others => format!(" +{others}"),
    });
    let others: Vec<String> = others.collect();
    let rooms = drawn.tracks.iter().zip(&others);
    let rooms: Vec<(&str, f64)> = rooms
        .map(|(track, others)| (track.name.as_str(), room - width(others, WORDS)))
        .collect();
    let names = fit_apart(&rooms, WORDS);
    let tracks = drawn.tracks.iter().zip(ends).zip(lines).enumerate();
    let named = tracks.map(|(n, ((_, end), y))| {
        let text = format!("{}{}", names[n], others[n]);
        let ink = TRACKS[n % TRACKS.len()];
        (
            end,
            Label {
                x,
                y,
                side: Side::Start,
                text,
                ink,
            },
        )
    });
    named.collect()
}

/// Lines as near to `wanted` as they can be with [`LINE`] between them, within top and bottom and in the same order.
pub fn spread(wanted: &[f64], (top, bottom): (f64, f64)) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|&a, &b| wanted[a].total_cmp(&wanted[b]).then(b.cmp(&a)));
    let mut lines = wanted.to_vec();
    let mut least = top;
    for &n in &order {
        lines[n] = lines[n].max(least);
        least = lines[n] + LINE;
    }
    let mut most = bottom;
    for &n in order.iter().rev() {
        lines[n] = lines[n].min(most);
        most = lines[n] - LINE;
    }
    lines
}
