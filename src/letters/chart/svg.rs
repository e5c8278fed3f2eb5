//! A chart drawn. Large figures, few of them; what matters is said at its line and by the way it is drawn, not by
//! colour alone: tracks have marks of their own, and how sure they are is solid, dashed or dotted. Light ground and a
//! frame, so that it reads in a dark letter too. `labels` says where words go.

mod labels;

use super::data::{Drawn, Sure, Track, figure};
use chrono::{Datelike, Days, NaiveDate};
use labels::{Key, Label, ends, fit, marks};
use maud::{Markup, html};

/// Width and height of the picture, in its own units: a phone shows them at two thirds. Lines at the foot are added where
/// a line of the drawing is named below it, or something is not drawn.
const SIZE: (f64, f64) = (500.0, 394.0);
const FOOT: f64 = 24.0;
/// Where the drawing lies within it: left, top, right, bottom.
const FRAME: (f64, f64, f64, f64) = (38.0, 42.0, 388.0, 332.0);
/// The size of words, and of the smaller ones.
const WORDS: f64 = 17.0;
const SMALL: f64 = 15.0;

/// The ground, ink, what is foreseen, windows and limits. A limit is also thick and barred.
const GROUND: &str = "#fffdf7";
const INK: &str = "#1d1d1b";
const FAINT: &str = "#5d6166";
const LIMIT: &str = "#9b1c1c";
const WINDOW: &str = "#e9e2cf";
const OUTLOOK: &str = "#c3d0dc";
/// The colours of the tracks, from the earliest grafting on: dark and less dark in turn, and chosen so that any two are
/// well apart to every kind of eye. Marks and names tell them apart too.
const TRACKS: [&str; super::data::MOST_TRACKS] = [
    "#171669", "#9f6300", "#520000", "#3e7158", "#3e1839", "#81619e",
];
/// Their marks, around the middle: disc, square, triangle, lozenge, ring, triangle on its point.
const MARKS: [&str; super::data::MOST_TRACKS] = [
    "m-6 0a6 6 0 1 0 12 0a6 6 0 1 0-12 0z",
    "m-5.5-5.5h11v11h-11z",
    "m0-7l7 12h-14z",
    "m0-7.5l7.5 7.5l-7.5 7.5l-7.5-7.5z",
    "m-6.5 0a6.5 6.5 0 1 0 13 0a6.5 6.5 0 1 0-13 0zm3.5 0a3 3 0 1 1 6 0a3 3 0 1 1-6 0z",
    "m0 7l7-12h-14z",
];

/// From days and standard days to places in the picture.
struct Scale {
    first: NaiveDate,
    days: f64,
    low: f64,
    high: f64,
}

impl Scale {
    fn of(drawn: &Drawn<'_>) -> Self {
        let tracks = drawn.tracks.iter();
        let sums = tracks.flat_map(|t| t.days.iter().map(|d| d.1));
        let sums: Vec<f64> = sums.chain(drawn.band.iter().map(|b| b.2)).collect();
        let least = sums.iter().copied().reduce(f64::min).unwrap_or(0.0);
        let most = sums.iter().copied().reduce(f64::max).unwrap_or(0.0);
        // A window or limit that is just out of reach shows how far there is to go.
        let marks = drawn
            .windows
            .iter()
            .flat_map(|w| [Some(w.from), w.to])
            .flatten();
        let marks = marks.chain(drawn.limits.iter().map(|l| l.at));
        let above = marks
            .filter(|&m| m >= most)
            .reduce(f64::min)
            .unwrap_or(most);
        Self {
            first: drawn.first,
            days: (drawn.last - drawn.first).num_days().max(1) as f64,
            low: (least / 5.0).floor().max(0.0) * 5.0,
            high: above.max(most).min(most + 10.0) + 2.0,
        }
    }

    /// The end of a day.
    fn x(&self, day: NaiveDate) -> f64 {
        let (left, _, right, _) = FRAME;
        left + (day - self.first).num_days() as f64 / self.days * (right - left)
    }

    fn y(&self, standard_days: f64) -> f64 {
        let (_, top, _, bottom) = FRAME;
        let share = (standard_days - self.low) / (self.high - self.low);
        (bottom - share * (bottom - top)).clamp(top, bottom)
    }

    fn at(&self, day: NaiveDate, standard_days: f64) -> (f64, f64) {
        (self.x(day), self.y(standard_days))
    }

    /// Whether some of a window can be seen.
    fn meets(&self, from: f64, to: f64) -> bool {
        from < self.high && to > self.low
    }

    fn shows(&self, standard_days: f64) -> bool {
        (self.low..=self.high).contains(&standard_days)
    }
}

pub fn svg(drawn: &Drawn<'_>) -> String {
    let scale = Scale::of(drawn);
    let (left, top, right, bottom) = FRAME;
    let today = scale.x(drawn.today);
    let (labels, mut keys) = marks(drawn, &scale);
    keys.extend(drawn.not_drawn().map(|what| Key {
        text: format!("Not drawn: {what}"),
        ink: INK,
    }));
    let height = SIZE.1 + FOOT * keys.len() as f64;
    let axis = line(&[(left, top), (left, bottom), (right, bottom)]);
    html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {} {height}", SIZE.0)) width=(SIZE.0) height=(height)
            aria-hidden="true" font-family="DejaVu Sans, sans-serif" font-size=(WORDS) {
            rect width=(SIZE.0) height=(height) fill=(GROUND) {}
            rect x="1" y="1" width=(SIZE.0 - 2.0) height=(height - 2.0) fill="none" stroke=(INK) stroke-width="2" {}
            text x="12" y="27" fill=(INK) { (title(drawn)) }
            (windows(drawn, &scale))
            @if drawn.band.len() > 1 { path d=(outline(drawn, &scale)) fill=(OUTLOOK) {} }
            (scales(drawn, &scale))
            path d=(axis) stroke=(INK) stroke-width="1.5" fill="none" {}
            @for limit in drawn.limits.iter().filter(|l| scale.shows(l.at)) {
                path d=(level(scale.y(limit.at))) stroke=(LIMIT) stroke-width="4" stroke-dasharray="14 3 3 3" fill="none" {}
            }
            path d=(line(&[(today, top), (today, bottom)])) stroke=(INK) stroke-width="1.5" stroke-dasharray="2 4" {}
            @for (n, track) in drawn.tracks.iter().enumerate() { (path_of(n, track, &scale)) }
            @for label in &labels { (said(label)) }
            @for (n, (end, label)) in ends(drawn, &scale).iter().enumerate() { (name(n, *end, label)) }
            (legend(drawn))
            @for (n, key) in keys.iter().enumerate() {
                text x="12" y=(p(SIZE.1 + 12.0 + FOOT * n as f64)) font-size=(SMALL) fill=(key.ink) { (fit(&key.text, SMALL, SIZE.0 - 24.0)) }
            }
        }
    }
    .into_string()
}

/// "Block C at home: warmth in standard days"; a long name is what is shortened.
fn title(drawn: &Drawn<'_>) -> String {
    let what = ": warmth in standard days";
    let room = SIZE.0 - 24.0 - labels::width(what, WORDS);
    format!("{}{what}", fit(&drawn.place, WORDS, room))
}

fn windows(drawn: &Drawn<'_>, scale: &Scale) -> Markup {
    let (left, _, right, _) = FRAME;
    html! {
        @for window in &drawn.windows {
            @if let Some(to) = window.to {
                @if scale.meets(window.from, to) {
                    rect x=(p(left)) y=(p(scale.y(to))) width=(p(right - left)) height=(p(scale.y(window.from) - scale.y(to))) fill=(WINDOW) {}
                }
            }
        }
        // Above the windows' grounds, which may lie one upon the other.
        @for at in drawn.windows.iter().flat_map(|w| [Some(w.from), w.to]).flatten().filter(|&at| scale.shows(at)) {
            path d=(level(scale.y(at))) stroke=(FAINT) stroke-width="1" fill="none" {}
        }
    }
}

/// The scales at the foot and at the left.
fn scales(drawn: &Drawn<'_>, scale: &Scale) -> Markup {
    let (left, _, _, bottom) = FRAME;
    html! {
        @for (day, label) in weeks(drawn) {
            path d=(line(&[(scale.x(day), bottom), (scale.x(day), bottom + 6.0)])) stroke=(INK) stroke-width="1.5" {}
            text x=(p(scale.x(day))) y=(p(bottom + 22.0)) text-anchor="middle" fill=(INK) font-size=(SMALL) { (label) }
        }
        @for step in steps(scale) {
            path d=(line(&[(left, scale.y(step)), (left - 6.0, scale.y(step))])) stroke=(INK) stroke-width="1.5" {}
            text x=(p(left - 9.0)) y=(p(scale.y(step) + 5.5)) text-anchor="end" fill=(INK) font-size=(SMALL) { (figure(step)) }
        }
    }
}

/// What a line is drawn with where it is so sure.
fn dashes(sure: Sure) -> &'static str {
    match sure {
        Sure::Known => "none",
        Sure::Foretold => "9 5",
        Sure::Rough => "2 5",
    }
}

/// A track, piece by piece, with its mark at the grafting, where that can be seen, and where the known days end.
fn path_of(n: usize, track: &Track, scale: &Scale) -> Markup {
    let colour = TRACKS[n % TRACKS.len()];
    let mut pieces: Vec<(Sure, Vec<(f64, f64)>)> = Vec::new();
    let mut before = None;
    for &(day, at, sure) in &track.days {
        let here = scale.at(day, at);
        match pieces.last_mut() {
            Some((of, piece)) if *of == sure => piece.push(here),
            _ => pieces.push((sure, before.into_iter().chain([here]).collect())),
        }
        before = Some(here);
    }
    let mut known = track.days.iter().filter(|d| d.2 == Sure::Known);
    let grafting = known.clone().next().filter(|d| d.1 <= 0.0);
    let ends = [grafting, known.next_back()];
    html! {
        @for (sure, piece) in &pieces {
            path d=(line(piece)) stroke=(colour) stroke-width="3.5" stroke-dasharray=(dashes(*sure)) fill="none" stroke-linejoin="round" {}
        }
        @for &(day, at, _) in ends.into_iter().flatten() { (mark(n, scale.at(day, at))) }
    }
}

fn mark(n: usize, (x, y): (f64, f64)) -> Markup {
    let (colour, shape) = (TRACKS[n % TRACKS.len()], MARKS[n % MARKS.len()]);
    html! {
        path d=(format!("M{} {}{shape}", p(x), p(y))) fill=(colour) fill-rule="evenodd" stroke=(GROUND) stroke-width="1" {}
    }
}

/// The name of a track with its mark, led to from the end of its line.
fn name(n: usize, end: (f64, f64), label: &Label) -> Markup {
    let middle = (FRAME.2 + 14.0, label.y - 6.0);
    let colour = TRACKS[n % TRACKS.len()];
    html! {
        path d=(line(&[end, middle])) stroke=(colour) stroke-width="1.5" fill="none" {}
        (mark(n, middle))
        (said(label))
    }
}

/// A word on the picture, with some of the ground around it.
fn said(label: &Label) -> Markup {
    html! {
        text x=(p(label.x)) y=(p(label.y)) text-anchor=(label.side.anchor()) fill=(label.ink) stroke=(GROUND) stroke-width="4" stroke-linejoin="round" paint-order="stroke" { (label.text) }
    }
}

/// How sure a line is by the way it is drawn, and what is shaded: of what there is to see.
fn legend(drawn: &Drawn<'_>) -> Markup {
    let has = |sure: Sure| {
        let mut days = drawn.tracks.iter().flat_map(|t| &t.days);
        days.any(|d| d.2 == sure)
    };
    let rough = if drawn.by_years {
        "mean of years"
    } else {
        "roughly"
    };
    let y = FRAME.3 + 49.0;
    let mut x = 12.0;
    let mut next = |word: &str| {
        let at = x;
        x += 34.0 + labels::width(word, SMALL);
        at
    };
    let lines = [
        (Sure::Known, "known"),
        (Sure::Foretold, "forecast"),
        (Sure::Rough, rough),
    ];
    html! {
        @for (sure, word) in lines.into_iter().filter(|(sure, _)| has(*sure)) {
            @let at = next(word);
            path d=(line(&[(at, y - 5.0), (at + 24.0, y - 5.0)])) stroke=(INK) stroke-width="3.5" stroke-dasharray=(dashes(sure)) fill="none" {}
            (small(at + 29.0, y, word))
        }
        @if drawn.band.len() > 1 {
            @let at = next(SHADED);
            rect x=(p(at)) y=(p(y - 12.0)) width="24" height="14" fill=(OUTLOOK) stroke=(FAINT) stroke-width="1" {}
            (small(at + 29.0, y, SHADED))
        }
    }
}

const SHADED: &str = "8 of 10 years";

fn small(x: f64, y: f64, word: &str) -> Markup {
    html! { text x=(p(x)) y=(p(y)) fill=(INK) font-size=(SMALL) { (word) } }
}

/// One decimal.
fn p(at: f64) -> String {
    format!("{at:.1}")
}

fn level(y: f64) -> String {
    line(&[(FRAME.0, y), (FRAME.2, y)])
}

/// A line from place to place.
fn line(places: &[(f64, f64)]) -> String {
    let place = |(n, &(x, y)): (usize, &(f64, f64))| {
        format!("{}{} {}", if n == 0 { 'M' } else { 'L' }, p(x), p(y))
    };
    places.iter().enumerate().map(place).collect()
}

fn outline(drawn: &Drawn<'_>, scale: &Scale) -> String {
    let low = drawn.band.iter().map(|&(day, low, _)| scale.at(day, low));
    let back = drawn.band.iter().rev();
    let high = back.map(|&(day, _, high)| scale.at(day, high));
    line(&low.chain(high).collect::<Vec<_>>()) + "Z"
}

/// Each seventh day from today on, both ways.
fn weeks(drawn: &Drawn<'_>) -> Vec<(NaiveDate, String)> {
    let back = (drawn.today - drawn.first).num_days() / 7;
    let start = drawn.today - Days::new(back as u64 * 7);
    let days = start
        .iter_days()
        .step_by(7)
        .take_while(|&day| day <= drawn.last);
    days.map(|day| (day, format!("{} {}", day.day(), day.format("%b"))))
        .collect()
}

/// Round numbers of standard days within the scale.
fn steps(scale: &Scale) -> impl Iterator<Item = f64> {
    let (low, high) = (scale.low, scale.high);
    let each = if high - low > 25.0 { 10.0 } else { 5.0 };
    (0..20)
        .map(move |i| low + f64::from(i) * each)
        .take_while(move |&at| at <= high)
}

#[cfg(test)]
mod apart;
#[cfg(test)]
mod tests;
#[cfg(test)]
mod words;
