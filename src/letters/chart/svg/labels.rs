//! Where the words of a chart stand: each at its own line where no track is, and none upon another; else below the picture.
//! How wide a word is is reckoned on the wide side, since the core knows no font.

use super::{FRAME, INK, LIMIT, Scale, TRACKS, WORDS, figure};
use crate::letters::chart::data::{Drawn, Limit};

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
/// kept instead. Those that still read the same are numbered in the order of the tracks.
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
    let parted: Vec<String> = names.iter().enumerate().map(apart).collect();
    let numbered = |(n, &(name, room)): (usize, &(&str, f64))| {
        let twin = |m: usize| names[m].0 != name && parted[m] == parted[n];
        if !(0..names.len()).any(twin) {
            return parted[n].clone();
        }
        let number = format!("{}: ", n + 1);
        let rest = fit(name, size, room - width(&number, size));
        format!("{number}{rest}")
    };
    names.iter().enumerate().map(numbered).collect()
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

/// What a line is called, should its name have no place of its own.
#[derive(Debug, PartialEq)]
pub struct Key {
    pub text: String,
    pub ink: &'static str,
}

/// The word for today; the title of each window at its opening, and that of each limit at its line, where no track goes
/// through it. A line whose name has no such place bears its figures alone, if these have one, and is named below the picture;
/// so are the batches of each limit where there are two.
pub fn marks(drawn: &Drawn<'_>, scale: &Scale) -> (Vec<Label>, Vec<Key>) {
    let mut labels = vec![Label {
        x: scale.x(drawn.today),
        y: FRAME.3 - 7.0,
        side: Side::Middle,
        text: "today".into(),
        ink: INK,
    }];
    let mut keys = Vec::new();
    // What not to pass first: it has the first choice.
    for limit in limits(drawn, scale) {
        let (y, figures) = (scale.y(limit.at), figure(limit.at));
        let lines = [y - 7.0, y + 17.0];
        let name = format!("{} {figures}", limit.title);
        let two = drawn.limits.len() > 1;
        let named = place(&mut labels, drawn, scale, &lines, &name, LIMIT);
        if !named {
            place(&mut labels, drawn, scale, &lines, &figures, LIMIT);
        }
        if two {
            let text = format!("{figures}: limit of {}, {}", limit.title, limit.whose());
            keys.push(Key { text, ink: LIMIT });
        } else if !named {
            let text = format!("{figures}: limit of {}", limit.title);
            keys.push(Key { text, ink: LIMIT });
        }
    }
    for (at, title, figures) in windows(drawn, scale) {
        let lines = [scale.y(at) - 5.0];
        let name = format!("{title} {figures}");
        if !place(&mut labels, drawn, scale, &lines, &name, INK) {
            place(&mut labels, drawn, scale, &lines, &figures, INK);
            let text = format!("{figures}: {title}");
            keys.push(Key { text, ink: INK });
        }
    }
    (labels, keys)
}

/// The opening of each window that can be seen, its title and its figures.
fn windows<'d>(drawn: &'d Drawn<'_>, scale: &Scale) -> Vec<(f64, &'d str, String)> {
    let mut windows: Vec<_> = drawn.windows.iter().collect();
    windows.sort_by(|a, b| a.from.total_cmp(&b.from));
    let shown = windows.into_iter().filter(|w| scale.shows(w.from));
    let said = shown.map(|window| {
        let to = window
            .to
            .map_or_else(String::new, |to| format!("–{}", figure(to)));
        let figures = format!("{}{to}", figure(window.from));
        (window.from, window.title.as_str(), figures)
    });
    said.collect()
}

fn limits<'d>(drawn: &'d Drawn<'_>, scale: &Scale) -> impl Iterator<Item = &'d Limit> {
    drawn.limits.iter().filter(|l| scale.shows(l.at))
}

/// How far apart places are at which a word is tried.
const STEP: f64 = 7.0;

/// Puts a text on the first of these lines on which it covers no other word and no track, as near to the right or the left
/// as it can. False where there is no such place.
fn place(
    labels: &mut Vec<Label>,
    drawn: &Drawn<'_>,
    scale: &Scale,
    lines: &[f64],
    text: &str,
    ink: &'static str,
) -> bool {
    let (left, top, right, _) = FRAME;
    let room = right - left - 2.0 * GAP - width(text, WORDS);
    if room < 0.0 {
        return false;
    }
    let steps = (0..=(room / 2.0 / STEP) as u32).map(|n| f64::from(n) * STEP);
    let places = steps.flat_map(|in_from| {
        [
            (right - GAP - in_from, Side::End),
            (left + GAP + in_from, Side::Start),
        ]
    });
    let mut found = lines.iter().flat_map(|&y| {
        let at = places.clone();
        at.map(move |(x, side)| Label {
            x,
            y,
            side,
            text: text.to_owned(),
            ink,
        })
    });
    let free = found.find(|label| {
        label.y - ABOVE >= top
            && !labels.iter().any(|other| label.covers(other))
            && !is_crossed(label, drawn, scale)
    });
    let placed = free.is_some();
    labels.extend(free);
    placed
}

/// Whether a track goes through a label, or one of its marks lies on it.
fn is_crossed(label: &Label, drawn: &Drawn<'_>, scale: &Scale) -> bool {
    let (begin, end) = label.reach();
    let (begin, end) = (begin - GAP, end + GAP);
    let (above, below) = (label.y - ABOVE - 3.0, label.y + BELOW + 3.0);
    let mut pieces = drawn.tracks.iter().flat_map(|track| track.days.windows(2));
    pieces.any(|piece| {
        let (a, b) = (
            scale.at(piece[0].0, piece[0].1),
            scale.at(piece[1].0, piece[1].1),
        );
        a.0 <= end && b.0 >= begin && a.1.max(b.1) >= above && a.1.min(b.1) <= below
    })
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
