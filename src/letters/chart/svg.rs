//! A chart drawn. Large figures, few of them; what matters is said at its line and by the way it is drawn, not by
//! colour alone. Light ground and a frame, so that it reads in a dark letter too.

use super::data::{Drawn, Track, figure};
use crate::letters::words::count_of;
use chrono::{Datelike, Days, NaiveDate};
use maud::html;

/// Width and height of the picture, in its own units.
const SIZE: (f64, f64) = (600.0, 400.0);
/// Where the drawing lies within it: left, top, right, bottom.
const FRAME: (f64, f64, f64, f64) = (44.0, 44.0, 492.0, 352.0);
/// Labels need so much room, one below the other.
const LINE: f64 = 20.0;
/// A label is no longer, in characters.
const LONGEST: usize = 8;

/// The ground, ink, the tracks, what is foreseen, windows and limits. Blue and brown are told apart by every kind of eye;
/// a limit is also thick and barred.
const GROUND: &str = "#fffdf7";
const INK: &str = "#1d1d1b";
const TRACK: &str = "#0b4f8a";
const FAINT: &str = "#5d6166";
const LIMIT: &str = "#8f3b00";
const WINDOW: &str = "#e9e2cf";
const OUTLOOK: &str = "#b9cfe4";

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
        let sums = tracks.flat_map(|t| {
            t.known
                .iter()
                .filter_map(|k| k.1)
                .chain(t.foretold.iter().map(|f| f.1))
        });
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
    let names = spread(
        drawn
            .tracks
            .iter()
            .map(|t| (end_of(t, &scale), short(&t.label)))
            .collect(),
        (top + 8.0, bottom),
    );
    let marks = spread(marks(drawn, &scale), (top + 16.0, bottom - 4.0));
    html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {} {}", SIZE.0, SIZE.1)) width=(SIZE.0) height=(SIZE.1)
            aria-hidden="true" font-family="DejaVu Sans, sans-serif" font-size="17" {
            rect x="1" y="1" width=(SIZE.0 - 2.0) height=(SIZE.1 - 2.0) fill=(GROUND) stroke=(INK) stroke-width="2" {}
            text x="12" y="28" font-size="18" fill=(INK) { (title(drawn)) }
            @for window in &drawn.windows {
                @if let Some(to) = window.to {
                    @if scale.meets(window.from, to) {
                        rect x=(p(left)) y=(p(scale.y(to))) width=(p(right - left)) height=(p(scale.y(window.from) - scale.y(to))) fill=(WINDOW) stroke=(FAINT) stroke-width="0.7" {}
                    }
                } @else if scale.shows(window.from) {
                    path d=(level(scale.y(window.from))) stroke=(FAINT) stroke-width="1.5" fill="none" {}
                }
            }
            @if drawn.band.len() > 1 { path d=(outline(drawn, &scale)) fill=(OUTLOOK) fill-opacity="0.75" {} }
            @for (day, label) in weeks(drawn) {
                path d=(format!("M{} {}v6", p(scale.x(day)), p(bottom))) stroke=(INK) stroke-width="1.5" {}
                text x=(p(scale.x(day))) y=(p(bottom + 24.0)) text-anchor="middle" fill=(INK) font-size="15" { (label) }
            }
            @for step in steps(&scale) {
                path d=(format!("M{} {}h-6", p(left), p(scale.y(step)))) stroke=(INK) stroke-width="1.5" {}
                text x=(p(left - 9.0)) y=(p(scale.y(step) + 5.5)) text-anchor="end" fill=(INK) font-size="15" { (figure(step)) }
            }
            path d=(format!("M{} {}V{}H{}", p(left), p(top), p(bottom), p(right))) stroke=(INK) stroke-width="1.5" fill="none" {}
            @for limit in drawn.limits.iter().filter(|l| scale.shows(l.at)) {
                path d=(level(scale.y(limit.at))) stroke=(LIMIT) stroke-width="4" stroke-dasharray="14 3 3 3" fill="none" {}
            }
            path d=(format!("M{} {}V{}", p(today), p(top), p(bottom))) stroke=(INK) stroke-width="1.5" stroke-dasharray="2 4" {}
            @for track in &drawn.tracks {
                path d=(known(track, &scale)) stroke=(TRACK) stroke-width="4" fill="none" stroke-linejoin="round" {}
                path d=(foretold(track, &scale)) stroke=(TRACK) stroke-width="4" fill="none" stroke-dasharray="9 6" {}
            }
            @for (y, (text, ink)) in &marks { (said(left + 6.0, *y, "start", ink, text)) }
            @for (y, name) in &names { (said(right + 6.0, *y + 5.0, "start", TRACK, name)) }
            (said(today, bottom - 8.0, "middle", INK, "today"))
            @if drawn.left_out > 0 {
                text x=(p(SIZE.0 - 10.0)) y=(p(SIZE.1 - 6.0)) text-anchor="end" font-size="14" fill=(FAINT) { (count_of(drawn.left_out as u32, "batch")) " more" }
            }
        }
    }
    .into_string()
}

/// A word on the picture, with some of the ground around it.
fn said(x: f64, y: f64, anchor: &str, ink: &str, text: &str) -> maud::Markup {
    html! {
        text x=(p(x)) y=(p(y)) text-anchor=(anchor) fill=(ink) stroke=(GROUND) stroke-width="4" stroke-linejoin="round" paint-order="stroke" { (text) }
    }
}

fn title(drawn: &Drawn<'_>) -> String {
    let place: String = drawn.place.chars().take(20).collect();
    format!("{place}: warmth in standard days")
}

/// One decimal.
fn p(at: f64) -> String {
    format!("{at:.1}")
}

fn level(y: f64) -> String {
    format!("M{} {}H{}", p(FRAME.0), p(y), p(FRAME.2))
}

/// The title of each window at its opening, and that of each limit at its line.
fn marks(drawn: &Drawn<'_>, scale: &Scale) -> Vec<(f64, (String, &'static str))> {
    let windows = drawn
        .windows
        .iter()
        .filter(|w| scale.shows(w.from))
        .map(|w| {
            let until =
                w.to.map_or_else(String::new, |to| format!(" to {}", figure(to)));
            let title: String = w.title.chars().take(28).collect();
            (
                scale.y(w.from) - 5.0,
                (format!("{title} {}{until}", figure(w.from)), INK),
            )
        });
    let limits = drawn.limits.iter().filter(|l| scale.shows(l.at)).map(|l| {
        let title: String = l.title.chars().take(28).collect();
        (
            scale.y(l.at) - 6.0,
            (format!("limit of {title} {}", figure(l.at)), LIMIT),
        )
    });
    windows.chain(limits).collect()
}

/// Labels moved apart, upwards from the lowest, so that none covers another; what does not fit is left out.
fn spread<T>(mut labels: Vec<(f64, T)>, (top, bottom): (f64, f64)) -> Vec<(f64, T)> {
    labels.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut free = bottom;
    for (y, _) in &mut labels {
        *y = y.min(free);
        free = *y - LINE;
    }
    labels.retain(|(y, _)| *y >= top);
    labels
}

fn short(label: &str) -> String {
    if label.chars().count() <= LONGEST {
        return label.to_owned();
    }
    let begin: String = label.chars().take(LONGEST - 1).collect();
    format!("{}…", begin.trim_end())
}

fn end_of(track: &Track, scale: &Scale) -> f64 {
    let known = track.known.iter().rev().find_map(|k| k.1);
    let last = track.foretold.last().map(|f| f.1).or(known);
    scale.y(last.unwrap_or(0.0))
}

fn known(track: &Track, scale: &Scale) -> String {
    let mut line = Pen::default();
    for &(day, at) in &track.known {
        match at {
            Some(at) => line.to(scale, day, at),
            None => line.lift(),
        }
    }
    line.path
}

fn foretold(track: &Track, scale: &Scale) -> String {
    let mut line = Pen::default();
    for &(day, at) in &track.foretold {
        line.to(scale, day, at);
    }
    line.path
}

fn outline(drawn: &Drawn<'_>, scale: &Scale) -> String {
    let mut line = Pen::default();
    for &(day, low, _) in &drawn.band {
        line.to(scale, day, low);
    }
    for &(day, _, high) in drawn.band.iter().rev() {
        line.to(scale, day, high);
    }
    line.path + "Z"
}

/// Draws a line from place to place; lifted, it begins another.
#[derive(Default)]
struct Pen {
    path: String,
    down: bool,
}

impl Pen {
    fn to(&mut self, scale: &Scale, day: NaiveDate, at: f64) {
        self.path.push(if self.down { 'L' } else { 'M' });
        self.path.push_str(&p(scale.x(day)));
        self.path.push(' ');
        self.path.push_str(&p(scale.y(at)));
        self.down = true;
    }

    fn lift(&mut self) {
        self.down = false;
    }
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
mod tests;
