//! What one look at a batch decides between: nobody has written down what would show which work it needs.
//!
//! On the same grafts heading back, taking the tape off and grafting anew rule each other out, or follow one another, by what
//! is seen; so they are one thing to do. Knows nothing of how it is told.

use super::{BatchCare, By, Facts, State, StepCare};
use crate::nursery::{Repeat, What};
use chrono::NaiveDate;

impl BatchCare<'_> {
    /// What would have shown that a step's time has come, where nobody has written it down, nor any of the work: by these
    /// facts of the batch its instructions say to look first. Where the window opens at once by something seen, that; where
    /// it opens by warmth alone and has instructions for this, any look and any work before it shows that somebody was there.
    pub fn unseen(&self, step: &StepCare<'_>, facts: &Facts) -> Option<What> {
        let rule = self.plan.reckoning;
        let opens = &step.step.opens;
        let first = opens.at_once.first().copied();
        let blind = step.step.say_unseen.is_some().then_some(rule.seen);
        let looked_for = blind.or(first)?;
        let seen = [rule.seen, What::OverCallused];
        let there = [rule.unseen, What::Looked, What::TapeEased];
        let before = self.work_before(step);
        let known = opens.at_once.iter().chain(&step.step.brings).chain(&seen);
        let known = known.chain(there.iter().chain(&before).filter(|_| first.is_none()));
        let known: Vec<What> = known.copied().collect();
        facts.first(&known).is_none().then_some(looked_for)
    }

    /// Words of the work that stands before a step in the plan.
    fn work_before(&self, step: &StepCare<'_>) -> Vec<What> {
        let before = self.plan.steps.iter();
        let before = before.take_while(|s| s.id != step.step.id);
        let brings = before.flat_map(|s| &s.brings).copied();
        brings.filter(|what| what.is_work()).collect()
    }

    /// Whether nobody has written down a look at the batch, nor any work on it.
    pub fn is_unlooked(&self) -> bool {
        let looks = [self.plan.reckoning.unseen, What::Looked];
        let looks = looks
            .iter()
            .any(|&what| self.facts.first(&[what]).is_some());
        let work = |f: &super::Fact| f.what.is_work() && f.what != What::Regrafted;
        !looks && !self.facts.all().iter().any(work) && !self.is_seen()
    }

    fn is_seen(&self) -> bool {
        let seen = [self.plan.reckoning.seen, What::OverCallused];
        self.facts.first(&seen).is_some()
    }

    /// Whether a step is a look for what nobody has seen yet.
    pub fn is_look(&self, step: &StepCare<'_>) -> bool {
        step.step.brings.contains(&self.plan.reckoning.seen) && !self.is_seen()
    }

    /// Whether a look decides what becomes of a step that is due: the look itself, and the work that waits for it.
    pub fn hinges_on_a_look(&self, step: &StepCare<'_>) -> bool {
        let untaped = || {
            let done = [&step.step.brings[..], &self.work_before(step)].concat();
            step.step.brings.contains(&What::TapeOff)
                && step.step.say_unseen.is_some()
                && !self.is_seen()
                && self.facts.first(&done).is_none()
        };
        let blind = || step.step.say_unseen.is_some() && self.unseen(step, &self.facts).is_some();
        step.state.is_due() && (self.is_look(step) || blind() || untaped())
    }

    /// The work that is due and hinges on one look.
    pub fn after_a_look(&self) -> impl Iterator<Item = &StepCare<'_>> {
        let hinge = self.steps.iter().filter(|s| self.hinges_on_a_look(s));
        hinge.filter(|s| !self.is_look(s))
    }

    /// The steps that are due and hinge on one look, the looks among them; empty where there is no choice between several
    /// kinds of work.
    pub fn one_look(&self) -> Vec<&StepCare<'_>> {
        if self.after_a_look().count() < 2 {
            return Vec::new();
        }
        let hinge = self.steps.iter().filter(|s| self.hinges_on_a_look(s));
        hinge.collect()
    }

    /// Of how many looked at fewer than half showed what opens a step's window, where those are done: what is left has to be
    /// looked at again.
    pub fn left_unseen(&self, step: &StepCare<'_>) -> Option<(u32, u32)> {
        let begun = step.progress.done > 0 && step.left() > 0;
        self.seen_in_part(step, &self.facts).filter(|_| begun)
    }

    /// What there is to do, as a heading says it: "head back", "look first, then head back" where nobody has written down
    /// what it waits for, "look again, then head back" where those that showed it are done, and "look again after
    /// over-callusing".
    pub fn task(&self, step: &StepCare<'_>) -> String {
        let title = &step.step.title;
        if self.looks_first(step) {
            format!("look first, then {title}")
        } else if step.state.is_due() && self.left_unseen(step).is_some() {
            format!("look again, then {title}")
        } else if self.ran_on(step).is_some() {
            let limit = self.plan.limit.as_ref();
            let after = limit.map_or("over-callusing", |limit| &limit.title);
            format!("{title} after {after}")
        } else {
            title.clone()
        }
    }

    /// The same where no instructions follow: "look first, then head back where lines show".
    pub fn task_in_full(&self, step: &StepCare<'_>) -> String {
        let task = self.task(step);
        match self.hangs_on(step) {
            Some(what) if self.looks_first(step) => format!("{task} where {} show", what.name()),
            _ => task,
        }
    }

    /// The day on which callus was seen to grow over scions, where a look that comes again is the first since.
    pub fn ran_on(&self, step: &StepCare<'_>) -> Option<NaiveDate> {
        let rule = self.plan.reckoning;
        let looks = [rule.seen, rule.unseen, What::Looked, What::OverCallused];
        let last = self.facts.last(&looks)?;
        let Some(Repeat::Warmth(rules)) = &step.step.opens.repeat else {
            return None;
        };
        let looks_for_it = rules.iter().any(|rule| rule.after == What::OverCallused);
        let comes = step.turn.is_some_and(|turn| turn.opened.on > last.date);
        (last.what == What::OverCallused && looks_for_it && comes).then_some(last.date)
    }

    /// Whether a step begins with a look: where it is due and nobody has written down what it needs, and before that where
    /// its window itself hangs on what will be seen.
    fn looks_first(&self, step: &StepCare<'_>) -> bool {
        let by_calendar = step.opened.is_some_and(|o| o.by == By::Calendar);
        let other = by_calendar && step.step.say_calendar.is_some();
        let ahead = step.state == State::Ahead && self.hangs_on(step).is_some();
        let blind = || step.step.say_unseen.is_some() && self.unseen(step, &self.facts).is_some();
        (step.state.is_due() || ahead) && !other && blind()
    }

    /// What must have been seen before a step is done: that opens its window at once.
    fn hangs_on(&self, step: &StepCare<'_>) -> Option<What> {
        let seen = self.plan.reckoning.seen;
        step.step.opens.at_once.contains(&seen).then_some(seen)
    }
}
