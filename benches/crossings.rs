//! A hundred thousand batches on one site of three years, each asked for the days on which three windows open, by sixteen
//! ways of reckoning heat. Both the heat of the days and the crossings are reckoned anew each time. The goals are ratios
//! to what a user would write: `tests/outside/peers/run` measures both in one run, and compares every answer.

use chrono::{Days, NaiveDate};
use divan::Bencher;
use divan::counter::ItemsCount;
use graftwarden::heat::{Totals, Trust, Warm};
use graftwarden::nursery::{Cutoff, Method, Model};
use graftwarden::units::DegreeDays;
use std::path::{Path, PathBuf};
use std::time::Instant;

const BATCHES: usize = 100_000;
const WINDOWS: usize = 3;
/// Three years.
const DAYS: usize = 1_096;
const MODELS: usize = 16;
/// The fastest of so many tries counts.
const TRIES: usize = 15;

fn main() {
    let question = Question::new();
    match std::env::var_os("PEERS_FOLDER") {
        Some(folder) => question.hand_over(&PathBuf::from(folder)),
        None => divan::main(),
    }
}

#[divan::bench]
fn crossings(bencher: Bencher) {
    let question = Question::new();
    bencher
        .counter(ItemsCount::new(BATCHES * WINDOWS))
        .bench_local(|| question.answer());
}

struct Question {
    first: NaiveDate,
    days: Vec<Option<Warm>>,
    models: Vec<Model>,
    batches: Vec<Batch>,
}

#[derive(Clone, Copy)]
struct Batch {
    model: usize,
    /// Days from the first of the series to the grafting.
    grafted: u32,
    /// Heat at which each window opens.
    needs: [f64; WINDOWS],
}

impl Question {
    /// Invented: a year's course with every day's own weather, batches through all of it, each with needs of its own, those
    /// of one model side by side.
    fn new() -> Self {
        let first = NaiveDate::from_ymd_opt(2024, 1, 1).expect("a date of the calendar");
        let days = (0..DAYS).map(|number| {
            let season = (number as f64 / 365.25 * std::f64::consts::TAU).cos();
            let own = (number * 7919 % 61) as f64 / 10.0;
            Some(Warm {
                min: 6.0 - 8.0 * season + own,
                max: 11.0 - 9.0 * season + 2.5 * own,
                trust: Trust::Known,
            })
        });
        let model = |number: usize| {
            let base = 3.0 + (number / 2) as f64;
            let (cutoff, upper) = if number.is_multiple_of(2) {
                (Cutoff::None, None)
            } else {
                (Cutoff::Horizontal, Some(26.0))
            };
            Model::new(Method::SingleSine, cutoff, base, None, upper).expect("a model")
        };
        let batch = |number: usize| {
            let grafted = number * 6151 % (DAYS - 30);
            let own = (number * 104_729 % 1_000) as f64 / 1_000.0;
            Batch {
                model: number * MODELS / BATCHES,
                grafted: grafted as u32,
                needs: [140.0, 210.0, 420.0].map(|need| need * (0.8 + 0.4 * own)),
            }
        };
        Self {
            first,
            days: days.collect(),
            models: (0..MODELS).map(model).collect(),
            batches: (0..BATCHES).map(batch).collect(),
        }
    }

    /// The day on which each window of each batch opens; none where the series ends before.
    fn answer(&self) -> Vec<[Option<NaiveDate>; WINDOWS]> {
        let totals: Vec<Totals> = self
            .models
            .iter()
            .map(|model| Totals::new(model, self.first, &self.days))
            .collect();
        let of_batch = |batch: &Batch| {
            let grafted_on = self.first + Days::new(batch.grafted.into());
            let totals = &totals[batch.model];
            batch
                .needs
                .map(|need| totals.reached(grafted_on, DegreeDays(need)))
        };
        self.batches.iter().map(of_batch).collect()
    }

    /// Writes the question, the answers and the seconds that they took, as plain little-endian numbers.
    fn hand_over(&self, folder: &Path) {
        let mut best = f64::INFINITY;
        let mut answers = Vec::new();
        for _ in 0..TRIES {
            let begun = Instant::now();
            answers = self.answer();
            best = best.min(begun.elapsed().as_secs_f64());
        }
        let put = |name: &str, bytes: Vec<u8>| {
            std::fs::write(folder.join(name), bytes).expect("a file in the folder");
        };
        let floats = |all: &mut dyn Iterator<Item = f64>| all.flat_map(f64::to_le_bytes).collect();
        let days = || self.days.iter().flatten();
        put("min", floats(&mut days().map(|day| day.min)));
        put("max", floats(&mut days().map(|day| day.max)));
        put("base", floats(&mut self.models.iter().map(|m| m.base)));
        let upper = |m: &Model| m.upper.unwrap_or(f64::INFINITY);
        put("upper", floats(&mut self.models.iter().map(upper)));
        let numbers = |all: &mut dyn Iterator<Item = i32>| all.flat_map(i32::to_le_bytes).collect();
        let batches = || self.batches.iter();
        put("model", numbers(&mut batches().map(|b| b.model as i32)));
        put("grafted", numbers(&mut batches().map(|b| b.grafted as i32)));
        put("needs", floats(&mut batches().flat_map(|b| b.needs)));
        let since = |day: Option<NaiveDate>| day.map_or(-1, |d| (d - self.first).num_days() as i32);
        put(
            "reached",
            numbers(&mut answers.iter().flatten().copied().map(since)),
        );
        put("seconds", floats(&mut std::iter::once(best)));
    }
}
