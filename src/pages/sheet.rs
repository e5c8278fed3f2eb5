//! `field-sheet.html`: what is due today in the order in which one walks, to be printed and carried along, with boxes to
//! tick and room to write.

use super::Occasion;
use super::frame::{document, written};
use super::risks::{Risk, risks};
use super::standing::{blocks, due, pressing};
use crate::care::{BatchCare, StepCare, handled};
use crate::letters::{
    block_of, capital, cautions, count_of, crew_time, day, day_near, day_short, instructions, names,
};
use maud::{Markup, html};

/// A block with so few lines is not torn apart between two sheets of paper.
const WHOLE: usize = 10;
/// So many lines are left blank for what else was seen.
const BLANK: usize = 6;

/// One thing to do.
type Task<'a> = (&'a BatchCare<'a>, &'a StepCare<'a>);

/// The whole page.
pub fn field_sheet(occasion: &Occasion<'_>) -> String {
    let context = occasion.context;
    let open = occasion.open();
    let tasks: Vec<Vec<Task<'_>>> = blocks(&open)
        .map(|block| block.iter().flat_map(|care| tasks_of(care)).collect())
        .filter(|tasks: &Vec<Task<'_>>| !tasks.is_empty())
        .collect();
    let all: Vec<Task<'_>> = tasks.concat();
    let mut mind = risks(occasion, &open);
    mind.retain(|risk| risk.danger.is_to_mind());
    let title = format!("Field sheet, {}", day(context.today));
    let body = html! {
        a.skip href="#list" { "To the list" }
        header {
            h1 { "Field sheet" }
            p { (context.nursery) }
            (written(occasion))
            p.screen { a href="due.html" { "What is due, with dates to come" } }
            p { (total(&all, tasks.len())) }
            @if !context.workdays.works(context.today) {
                p { strong { "Nobody works today" } (next_day(occasion)) }
            }
        }
        main #list tabindex="-1" {
            (to_mind(&mind))
            @for tasks in &tasks { (block_table(tasks, occasion)) }
            (how(&all, occasion))
            (else_seen())
            (answer(&all, occasion))
        }
    };
    document(&title, include_str!("sheet.css"), "only light", &body)
}

fn tasks_of<'a>(care: &'a BatchCare<'a>) -> impl Iterator<Item = Task<'a>> {
    due(care).map(move |step| (care, step))
}

fn minutes(tasks: &[Task<'_>]) -> f64 {
    let hours = tasks.iter().map(|(_, step)| step.step.hours(step.left()));
    hours.sum::<f64>() * 60.0
}

/// "6 things to do in 2 blocks, 622 grafts, about 4.9 h of crew time."
fn total(tasks: &[Task<'_>], blocks: usize) -> String {
    if tasks.is_empty() {
        return "Nothing is due today.".into();
    }
    let same = |a: &Task<'_>, b: &Task<'_>| a.0.batch.name == b.0.batch.name;
    let batches = tasks.chunk_by(same);
    let grafts = batches.map(|tasks| handled(tasks.iter().map(|(_, step)| *step)));
    let grafts = grafts.fold(0, u32::saturating_add);
    format!(
        "{} to do in {}, {}{}.",
        count_of(tasks.len() as u32, "thing"),
        count_of(blocks as u32, "block"),
        count_of(grafts, "graft"),
        time(tasks)
    )
}

/// ", about 4.9 h of crew time"; empty where no step says how long it takes.
fn time(tasks: &[Task<'_>]) -> String {
    match minutes(tasks) {
        0.0 => String::new(),
        minutes => format!(", about {} of crew time", crew_time(minutes)),
    }
}

fn next_day(occasion: &Occasion<'_>) -> String {
    let context = occasion.context;
    match context.workdays.next_after(context.today) {
        Some(next) => format!("; the next working day is {}.", day_short(next)),
        None => ".".into(),
    }
}

fn to_mind(risks: &[Risk<'_>]) -> Markup {
    html! {
        @if !risks.is_empty() {
            section.mind aria-labelledby="mind" {
                h2 #mind { "To mind" }
                ul {
                    @for risk in risks {
                        li { strong { (risk.danger.word()) } ", " (risk.place) ": " (risk.said) " (" (names(&risk.batches)) ")" }
                    }
                }
            }
        }
    }
}

fn block_table(tasks: &[Task<'_>], occasion: &Occasion<'_>) -> Markup {
    let name = block_of(tasks[0].0, occasion.context);
    let whole = (tasks.len() <= WHOLE).then_some("whole");
    html! {
        section class=[whole] {
            h2 { (name) }
            table {
                caption { (count_of(tasks.len() as u32, "thing")) " to do" (time(tasks)) }
                thead {
                    tr {
                        th.tick scope="col" { "Done" }
                        th.batch scope="col" { "Batch" small { (name) } }
                        th.what scope="col" { "What" }
                        th.count scope="col" { "How many" }
                        th scope="col" { "Remarks" }
                    }
                }
                tbody {
                    @for (care, step) in tasks { (task(care, step, occasion)) }
                }
            }
        }
    }
}

fn task(care: &BatchCare<'_>, step: &StepCare<'_>, occasion: &Occasion<'_>) -> Markup {
    let batch = &care.batch;
    let by = match step.in_time_to(occasion.context.today) {
        Some(day) if day < occasion.context.today => format!(", was due {}", day_short(day)),
        Some(day) => format!(", by {}", day_near(day, occasion.context.today)),
        None => String::new(),
    };
    let time = match minutes(&[(care, step)]) {
        0.0 => String::new(),
        minutes => format!(", {}", crew_time(minutes)),
    };
    let mark = pressing(step.state);
    html! {
        tr {
            td.box {}
            th scope="row" {
                bdi { (batch.name) }
                small {
                    (batch.scion)
                    @if !batch.understock.is_empty() { " on " (batch.understock) }
                }
            }
            td {
                strong { (care.task(step)) }
                @if !mark.is_empty() { ": " (mark) }
                small { (count_of(step.left(), "graft")) " left" (by) (time) }
            }
            td {}
            td {}
        }
    }
}

/// What is to be done for each step on the list, and what to take care of.
fn how(tasks: &[Task<'_>], occasion: &Occasion<'_>) -> Markup {
    let mut steps: Vec<(&str, &str, Vec<&str>)> = Vec::new();
    for (care, step) in tasks {
        let site = &care.batch.site;
        let mut grounds = occasion.context.grounds.iter();
        let frost = grounds.any(|g| g.site.id == *site && g.frost_near().is_some());
        let said = instructions(care, step, step.opened.map(|o| o.by), frost);
        let (title, batch) = (step.step.title.as_str(), care.batch.name.as_str());
        match steps.iter_mut().find(|(t, s, _)| (*t, *s) == (title, said)) {
            Some((.., batches)) => batches.push(batch),
            None => steps.push((title, said, vec![batch])),
        }
    }
    let cuts = tasks.iter().any(|(_, step)| step.step.caution.is_some());
    let care = cuts.then_some(cautions::CUTTING);
    let heat = hottest(tasks, occasion).and_then(cautions::heat);
    html! {
        @if !steps.is_empty() {
            section aria-labelledby="how" {
                h2 #how { "How" }
                dl {
                    @for (title, said, batches) in &steps {
                        dt {
                            (capital(title))
                            @if steps.iter().filter(|(t, ..)| t == title).count() > 1 { " (" (names(batches)) ")" }
                        }
                        dd { (said) }
                    }
                }
                @for caution in care.into_iter().chain(heat) {
                    p { strong { (caution) } }
                }
            }
        }
    }
}

/// The hottest maximum in °C of today where something is to be done.
fn hottest(tasks: &[Task<'_>], occasion: &Occasion<'_>) -> Option<f64> {
    let works_at = |site: &str| tasks.iter().any(|(care, _)| care.batch.site == site);
    let grounds = occasion.context.grounds.iter();
    let days = grounds
        .filter(|ground| works_at(&ground.site.id))
        .filter_map(|ground| ground.series.day(occasion.context.today));
    days.map(|day| day.max).reduce(f64::max)
}

fn else_seen() -> Markup {
    html! {
        section.whole aria-labelledby="else" {
            h2 #else { "What else was seen or done" }
            table.blank {
                caption { "A line for each batch or block" }
                thead {
                    tr {
                        th.batch scope="col" { "Batch or block" }
                        th scope="col" { "What" }
                        th.count scope="col" { "How many" }
                    }
                }
                tbody {
                    @for _ in 0..BLANK { tr { td {} td {} td {} } }
                }
            }
        }
    }
}

/// How what was done gets back to the program.
fn answer(tasks: &[Task<'_>], occasion: &Occasion<'_>) -> Markup {
    let mut words: Vec<(&str, String)> = Vec::new();
    for (_, step) in tasks {
        let title = step.step.title.as_str();
        if !step.step.brings.is_empty() && !words.iter().any(|(known, _)| *known == title) {
            let brings: Vec<&str> = step.step.brings.iter().map(|what| what.name()).collect();
            words.push((title, brings.join(", ")));
        }
    }
    html! {
        section.whole aria-labelledby="answer" {
            h2 #answer { "Afterwards" }
            p.who { "Walked by, and when:" }
            @if let Some(address) = occasion.context.reply_to.map(|to| &to.address) {
                p { "Write what was done to " (address) ", a line for each batch, or into the field records." }
            } @else {
                p { "Write what was done into the field records, a row for each batch, or say it on the server: graftwarden note BATCH WORD --count N." }
            }
            @if !words.is_empty() {
                p { "The words: "
                    @for (n, (title, brings)) in words.iter().enumerate() {
                        @if n > 0 { "; " }
                        (title) ": " strong { (brings) }
                    }
                    "."
                }
            }
        }
    }
}
