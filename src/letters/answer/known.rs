//! What is known of the batches of which work is asked: all is to be done, a part, or nobody has looked.

use super::{Reply, begun, example, lines, names, one_line, spoken};
use crate::care::StepCare;
use crate::letters::letter::{Asked, Context};
use crate::nursery::What;

/// What is known of the batches of which work is asked.
pub struct Known {
    /// All of it is to be done.
    pub whole: Vec<String>,
    /// Only a part is.
    pub part: Vec<String>,
    /// Nobody has looked.
    pub blind: Vec<String>,
    /// For what.
    pub looked_for: Option<What>,
}

impl Known {
    pub fn of(asked: &Asked, context: &Context<'_>) -> Self {
        let (mut whole, mut part, mut blind) = (Vec::new(), Vec::new(), Vec::new());
        let mut looked_for = None;
        for name in &asked.batches {
            let theirs = context.named.get(name);
            let known = theirs.and_then(|care| Some((care, care.step(&asked.step)?)));
            let unseen = known.and_then(|(care, step)| care.unseen(step, &care.facts));
            let in_part = known.and_then(|(care, step)| care.seen_in_part(step, &care.facts));
            match (unseen, in_part) {
                (Some(what), _) => {
                    looked_for = looked_for.or(Some(what));
                    blind.push(name.clone());
                }
                (None, Some(_)) => part.push(name.clone()),
                (None, None) => whole.push(name.clone()),
            }
        }
        Self {
            whole,
            part,
            blind,
            looked_for,
        }
    }

    /// How the batches are answered for which `done` is not enough.
    pub fn uncertain(
        &self,
        asked: &Asked,
        step: &StepCare<'_>,
        context: &Context<'_>,
        say: &mut Vec<String>,
        replies: &mut Vec<Reply>,
    ) {
        let shown = |name: &String| {
            let care = context.named.get(name);
            care.and_then(|care| example(care, care.step(&asked.step)?))
                .unwrap_or_default()
        };
        if let (Some(first), Some(&what)) = (self.part.first(), step.step.brings.first()) {
            say.push(format!(
                "Lines showed on a part of {} only: answer this letter with how many were done, a line for each batch, such as \"{}\".",
                names(&self.part),
                shown(first)
            ));
            replies.push(Reply::new("Write the count", begun(&self.part, what)));
        }
        if let (Some(first), Some(what)) = (self.blind.first(), self.looked_for) {
            let seen = spoken(what);
            say.push(format!(
                "No {seen} of {} are written down: answer this letter with what you see or did there, a line for each batch, such as \"{} {seen}\" or \"{}\".",
                names(&self.blind),
                one_line(first),
                shown(first)
            ));
            if what == What::Lines {
                replies.push(Reply::new("Lines showing", lines(&self.blind, "lines")));
                replies.push(Reply::new("No lines yet", lines(&self.blind, "no lines")));
            }
        }
    }
}
