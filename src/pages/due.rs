//! `due.html`: every open batch by block, what presses first; to be read on a phone.

use super::Occasion;
use super::frame::{document, sources, trouble, troubles, written};
use super::risks::{Risk, risks};
use super::standing::{
    blocks, due, frost_near, hours, last_graft, next, opens, pressing, to_regraft, until,
};
use crate::care::{BatchCare, Foreseen, State, StepCare};
use crate::letters::{
    about, block_of, chart_of, count_of, crew_time, day_near, day_short, from_to, grouped,
    heat_so_far, names,
};
use chrono::NaiveDate;
use maud::{Markup, PreEscaped, html};

/// So many risks are told at the head; more are counted, and stand with their blocks.
const TOLD: usize = 40;
/// So many blocks have a chart; a page of more would be slow on a phone.
const CHARTS: usize = 60;

/// The whole page.
pub fn due_page(occasion: &Occasion<'_>) -> String {
    let context = occasion.context;
    let open = occasion.open();
    let blocks: Vec<&[&BatchCare<'_>]> = blocks(&open).collect();
    let title = format!("What is due, {}", context.nursery);
    let body = html! {
        a.skip href="#blocks" { "To the blocks" }
        header {
            h1 { (title) }
            (written(occasion))
            @if let Some(some) = troubles(occasion) {
                p { strong { (some) } " with what is read, fetched or sent: " a href="#trouble" { "see below" } "." }
            }
            p { a href="field-sheet.html" { "Field sheet to print" } " · " a href="due.ics" { "Calendar to subscribe to" } }
        }
        main #blocks tabindex="-1" {
            (what_presses(&risks(occasion, &open), &blocks))
            @if open.is_empty() {
                p { "No batch is open: nothing is due." }
            } @else {
                (places(&blocks, occasion))
            }
            @for (n, block) in blocks.iter().enumerate() {
                (block_section(n, block, occasion))
            }
            (work(occasion))
            (grafting(occasion, &open))
        }
        footer {
            (trouble(occasion))
            (sources(occasion))
        }
    };
    document(&title, include_str!("due.css"), "light dark", &body)
}

fn what_presses(risks: &[Risk<'_>], blocks: &[&[&BatchCare<'_>]]) -> Markup {
    let anchor = |risk: &Risk<'_>| {
        let (site, block) = (risk.at.0, risk.at.1?);
        let here = |b: &&[&BatchCare<'_>]| b[0].batch.site == site && b[0].batch.block == block;
        blocks.iter().position(here)
    };
    let more = risks.len().saturating_sub(TOLD);
    html! {
        section aria-labelledby="presses" {
            h2 #presses { "What presses" }
            @if risks.is_empty() {
                p { "Nothing: no window has run out or does so today, and no risk is in sight." }
            } @else {
                ul.risks {
                    @for risk in risks.iter().take(TOLD) {
                        li {
                            b.p { (risk.danger.word()) } " "
                            @match anchor(risk) {
                                Some(n) => { a href={ "#block-" (n + 1) } { (risk.place) } }
                                None => { (risk.place) }
                            }
                            ": " (risk.said)
                            small { (names(&risk.batches)) }
                        }
                    }
                    @if more > 0 {
                        li { "and " (more) " more: they stand with their blocks" }
                    }
                }
            }
        }
    }
}

fn places(blocks: &[&[&BatchCare<'_>]], occasion: &Occasion<'_>) -> Markup {
    html! {
        nav aria-labelledby="places" {
            h2 #places { "Blocks" }
            ul {
                @for (n, block) in blocks.iter().enumerate() {
                    li { a href={ "#block-" (n + 1) } { (block_of(block[0], occasion.context)) ": " (tally(block)) } }
                }
            }
        }
    }
}

/// "3 things due, 1 late", "nothing due".
fn tally(block: &[&BatchCare<'_>]) -> String {
    let states = || block.iter().flat_map(|care| due(care)).map(|s| s.state);
    let late = match states().filter(|state| *state == State::Late).count() {
        0 => String::new(),
        n => format!(", {n} late"),
    };
    match states().count() as u32 {
        0 => "nothing due".into(),
        n => format!("{} due{late}", count_of(n, "thing")),
    }
}

fn block_section(n: usize, block: &[&BatchCare<'_>], occasion: &Occasion<'_>) -> Markup {
    let id = format!("block-{}", n + 1);
    let alive = block.iter().map(|care| care.facts.alive());
    let alive = alive.fold(0, u32::saturating_add);
    let steps = || block.iter().flat_map(|care| due(care));
    let minutes: f64 = steps().map(|s| s.step.hours(s.left()) * 60.0).sum();
    let name = block_of(block[0], occasion.context);
    html! {
        section aria-labelledby=(id) {
            h2 id=(id) { (name) }
            p.sum {
                (count_of(block.len() as u32, "batch")) ", " (count_of(alive, "graft")) "; " (tally(block))
                @if minutes > 0.0 { ", about " (crew_time(minutes)) " of crew time" }
                ". " a href="#places" { "All blocks" }
            }
            table {
                caption { (name) ": what is due, then what comes next" }
                thead {
                    tr { th scope="col" { "What" } th scope="col" { "When" } }
                }
                @for care in block { (batch(care, occasion)) }
            }
            @if n < CHARTS && let Some(chart) = chart_of(block, occasion.context) {
                figure { (PreEscaped(inline(&chart.svg))) figcaption { (chart.alt) } }
            }
        }
    }
}

/// One line of a batch: what and when, each with what is said below it.
struct Line {
    mark: &'static str,
    what: String,
    more: String,
    when: String,
    sure: String,
}

fn batch(care: &BatchCare<'_>, occasion: &Occasion<'_>) -> Markup {
    let lines = lines(care, occasion);
    let grafts = count_of(care.facts.alive(), "graft");
    html! {
        tbody {
            tr {
                th scope="rowgroup" colspan="2" {
                    bdi { (care.batch.name) }
                    small {
                        @if !care.batch.scion.is_empty() { (care.batch.scion) ", " }
                        (grafts) "; " (heat_so_far(care, occasion.context))
                    }
                }
            }
            @for line in lines {
                tr {
                    td {
                        (line.what)
                        @if !line.mark.is_empty() { ": " b.p { (line.mark) } }
                        @if !line.more.is_empty() { small { (line.more) } }
                    }
                    td {
                        (line.when)
                        @if !line.sure.is_empty() { small { (line.sure) } }
                    }
                }
            }
        }
    }
}

/// What is due, the limit where it is on, and the next step; at least one line.
fn lines(care: &BatchCare<'_>, occasion: &Occasion<'_>) -> Vec<Line> {
    let mut lines: Vec<Line> = due(care).map(|step| line(care, step, occasion)).collect();
    lines.extend(limit(care, occasion));
    lines.extend(next(care).map(|step| ahead(care, step, occasion)));
    if lines.is_empty() {
        lines.push(Line {
            mark: "",
            what: "nothing in sight".into(),
            more: String::new(),
            when: String::new(),
            sure: String::new(),
        });
    }
    lines
}

fn line(care: &BatchCare<'_>, step: &StepCare<'_>, occasion: &Occasion<'_>) -> Line {
    let context = occasion.context;
    let since = step.opened.map_or_else(String::new, |opened| {
        format!(", open since {}", day_short(opened.on))
    });
    let of = match step.progress.done {
        0 => String::new(),
        _ => format!(" of {}", grouped(step.progress.of)),
    };
    let closes = context.outlook.closes(care, step);
    let day = step.in_time_to(context.today);
    let (when, sure) = match day {
        Some(day) if day < context.today => {
            let late = count_of((context.today - day).num_days() as u32, "day");
            (
                format!("was due {}", day_short(day)),
                format!("late by {late}"),
            )
        }
        Some(day) => (
            format!("by {}", day_near(day, occasion.context.today)),
            in_hand(day, true, occasion),
        ),
        None => match closes {
            Some(foreseen) => (
                format!("closes {}", about(&foreseen, context.today)),
                first_of(foreseen).map_or_else(String::new, |day| in_hand(day, false, occasion)),
            ),
            None => ("no last day".into(), String::new()),
        },
    };
    Line {
        mark: pressing(step.state),
        what: care.task(step),
        more: format!("{}{of} left{since}", count_of(step.left(), "graft")),
        when,
        sure,
    }
}

/// The day that is on the safe side.
fn first_of(foreseen: Foreseen) -> Option<NaiveDate> {
    foreseen.band.p10.or(foreseen.band.p50)
}

/// Working days up to the last day in time, today included; of a date that is only foreseen those up to its early end.
fn in_hand(last: NaiveDate, sure: bool, occasion: &Occasion<'_>) -> String {
    let context = occasion.context;
    let least = if sure { "" } else { "at least " };
    match context.workdays.count(context.today, last) {
        0 => "no working day in hand".into(),
        n => format!("{least}{} in hand", count_of(n, "working day")),
    }
}

fn limit(care: &BatchCare<'_>, occasion: &Occasion<'_>) -> Option<Line> {
    let limit = care.limit.filter(|limit| limit.running)?;
    let foreseen = occasion.context.outlook.limit(care);
    let (mark, when) = match limit.reached_on {
        Some(day) if limit.state == State::Late => ("reached", format!("since {}", day_short(day))),
        Some(day) => (
            "",
            format!("from {}", day_near(day, occasion.context.today)),
        ),
        None => ("", foreseen.map(|f| about(&f, occasion.context.today))?),
    };
    let until = care.plan.step(&limit.limit.until)?;
    Some(Line {
        mark,
        what: format!("risk of {}", limit.limit.title),
        more: format!("until done: {}", until.title),
        when,
        sure: String::new(),
    })
}

fn ahead(care: &BatchCare<'_>, step: &StepCare<'_>, occasion: &Occasion<'_>) -> Line {
    let outlook = occasion.context.outlook;
    let opens = opens(care, step, outlook, occasion.context.today);
    let until = until(care, step, outlook, occasion.context.today);
    let some = |word: &str, text: String| {
        if text.is_empty() {
            text
        } else {
            format!("{word} {text}")
        }
    };
    Line {
        mark: "",
        what: step.step.title.clone(),
        more: "next, not open yet".into(),
        when: if opens.is_empty() {
            "not foreseen".into()
        } else {
            some("opens", opens)
        },
        sure: some("closes", until),
    }
}

/// The days with work, their grafts and crew hours.
fn work(occasion: &Occasion<'_>) -> Markup {
    let days: Vec<_> = occasion
        .loads
        .iter()
        .filter(|load| load.grafts_p90 > 0)
        .collect();
    html! {
        @if !days.is_empty() {
            section aria-labelledby="work" {
                h2 #work { "Work of the next " (count_of(occasion.loads.len() as u32, "day")) }
                table.work {
                    caption { "A graft counts once a day. Of two figures: half the time no more than the first, nine times in ten than the second" }
                    thead {
                        tr { th scope="col" { "Day" } th scope="col" { "Grafts" } th scope="col" { "Crew hours" } }
                    }
                    tbody {
                        @for load in days {
                            tr {
                                th scope="row" { (day_short(load.date)) }
                                td { (from_to(&grouped(load.grafts_p50), &grouped(load.grafts_p90))) }
                                td { (hours(load)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// How late can be grafted, what is to be grafted anew, and how little to cut when frost is near.
fn grafting(occasion: &Occasion<'_>, open: &[&BatchCare<'_>]) -> Markup {
    let context = occasion.context;
    let grounds = context.grounds.iter();
    let frost = grounds.clone().flat_map(|ground| frost_near(ground, open));
    let last = grounds.filter_map(|ground| last_graft(ground, open));
    let anew = open
        .iter()
        .filter_map(|care| to_regraft(care, context.today));
    let lines: Vec<String> = frost.chain(last).chain(anew).collect();
    html! {
        @if !lines.is_empty() {
            section aria-labelledby="season" {
                h2 #season { "The season" }
                @for line in lines { p { (line) } }
            }
        }
        p { small { "\"about Thu 20 Aug (Tue 18 - Sun 23)\": the middle, and between which days it falls eight times out of ten. \"roughly\": no years before are known." } }
    }
}

/// A picture as it stands within a page, where its kind needs no name.
fn inline(svg: &str) -> String {
    svg.replacen(" xmlns=\"http://www.w3.org/2000/svg\"", "", 1)
}
