//! What must hold at the end of a walk, said in words where it does not.
//!
//! Where the memory was put back, as much is let pass as README promises and no more: what was told since the backup may be
//! told once more in a letter that says so, and an answer to a letter of since then waits for a yes.

use super::Walked;
use super::farm::{Farm, ZONE, token_of};
use super::lost::Told;
use chrono::{DateTime, TimeDelta, Utc};
use graftwarden::store::Store;
use std::collections::{BTreeMap, BTreeSet};

/// A notice about a step of a batch, and when it was decided.
type Work = BTreeMap<(String, String), DateTime<Utc>>;

impl Walked {
    /// What is not as it must be.
    pub fn wrong(&self, twin: &Self) -> Vec<String> {
        let mut wrong = self.by_the_clock.clone();
        self.records(&mut wrong);
        self.answers(&mut wrong);
        self.letters(&mut wrong);
        self.copies(&mut wrong);
        self.told_again(&mut wrong);
        self.told(twin, &mut wrong);
        self.said_what_was_lost(&mut wrong);
        wrong
    }

    fn records(&self, wrong: &mut Vec<String>) {
        let farm = &self.farm;
        let kept = farm.memory(
            "SELECT identity, date || ' ' || batch || ' ' || what FROM record WHERE gone = 0",
        );
        let rows: BTreeSet<&str> = kept.iter().map(|row| row[1].as_str()).collect();
        let ids: BTreeSet<&str> = kept.iter().map(|row| row[0].as_str()).collect();
        for (what, expected, found) in [("row", &farm.rows, rows), ("note", &farm.notes, ids)] {
            let lost = expected.iter().filter(|one| !found.contains(one.as_str()));
            wrong.extend(lost.map(|one| format!("{what} lost: {one}")));
        }
        let several = farm.memory("SELECT date, batch, what, done_by, count(*) FROM record GROUP BY date, batch, what, done_by HAVING count(*) > 1 AND file <> 'accepted.csv'");
        wrong.extend(several.iter().map(|row| format!("record twice: {row:?}")));
    }

    fn answers(&self, wrong: &mut Vec<String>) {
        let rows = self.farm.memory("SELECT mail, state, count(record) FROM answer LEFT JOIN answer_record ON answer = answer.id GROUP BY mail");
        let state = |mail: &str| rows.iter().find(|row| row[0] == mail).map(|row| &row[1..]);
        let lost = self.lost.iter().flat_map(|lost| &lost.letters);
        let lost: BTreeSet<&str> = lost.map(|id| token_of(id)).collect();
        for (mail, token) in &self.farm.mails {
            let found = state(mail).unwrap_or_default();
            let waits = lost.contains(token.as_str()) && found == ["held", "0"];
            if found != ["taken", "1"] && !waits {
                wrong.push(format!("answer lost: {mail} {found:?}"));
            }
        }
    }

    fn letters(&self, wrong: &mut Vec<String>) {
        let farm = &self.farm;
        let left = farm.memory("SELECT subject, carrier, tries FROM outbox JOIN letter ON letter = letter.id WHERE state = 'waiting'");
        wrong.extend(left.iter().map(|row| format!("left behind: {row:?}")));
        let silent = farm
            .memory("SELECT key FROM notice WHERE id NOT IN (SELECT notice FROM letter_notice)");
        wrong.extend(silent.iter().map(|row| format!("in no letter: {row:?}")));
        let mailed = farm.mailed();
        let sent = farm.memory("SELECT message_id FROM outbox JOIN letter ON letter = letter.id WHERE carrier = 'smtp' AND state = 'sent'");
        let never = sent
            .iter()
            .filter(|row| !mailed.copies.contains_key(&row[0]));
        wrong.extend(never.map(|row| format!("said to be sent: {row:?}")));
    }

    /// One more than the program could not know of, or has lost with its memory.
    fn copies(&self, wrong: &mut Vec<String>) {
        let mailed = self.farm.mailed();
        for (id, copies) in &mailed.copies {
            let unheard = mailed.unheard.get(id).copied().unwrap_or_default();
            let lost = self.lost.iter().filter(|lost| lost.sent.contains(id));
            let lost = u32::try_from(lost.count()).unwrap();
            if *copies > 1 + unheard + lost {
                wrong.push(format!(
                    "{copies} copies of {id}, {unheard} of them unheard and {lost} lost"
                ));
            }
        }
    }

    /// All that was ever told, with the loss by which it was forgotten, in this order.
    fn all_told(&self) -> impl Iterator<Item = (Option<usize>, Told)> {
        let lost = self.lost.iter().enumerate();
        let lost = lost.flat_map(|(n, lost)| lost.told.iter().map(move |told| (Some(n), told)));
        let kept = Told::in_file(&Store::file_in(&self.farm.path("state")));
        let lost: Vec<_> = lost.map(|(n, told)| (n, told.clone())).collect();
        lost.into_iter()
            .chain(kept.into_iter().map(|told| (None, told)))
    }

    /// What reached a person twice though it was not forgotten, or in a letter that does not say that it may repeat.
    fn told_again(&self, wrong: &mut Vec<String>) {
        let handed = &self.farm.mailed().letters;
        let mut before: BTreeMap<(String, String), (Option<usize>, String)> = BTreeMap::new();
        for (lost, told) in self.all_told() {
            let who = (told.recipient.clone(), told.key.clone());
            let Some((earlier, id)) = before.insert(who, (lost, told.id.clone())) else {
                continue;
            };
            let Some(loss) = earlier.filter(|_| earlier != lost) else {
                wrong.push(format!("told twice: {told:?}"));
                continue;
            };
            let (first, since) = handed.split_at(self.lost[loss].handed);
            let mut repeats = since.iter().filter(|letter| letter.id == told.id);
            if first.iter().any(|letter| letter.id == id) && !repeats.all(|letter| letter.marked) {
                wrong.push(format!("told again without a word of it: {told:?}"));
            }
        }
    }

    /// How often somebody was told something again.
    pub fn repeats(&self) -> usize {
        let mut seen = BTreeSet::new();
        let again = self.all_told();
        again
            .filter(|(_, told)| !seen.insert((told.recipient.clone(), told.key.clone())))
            .count()
    }

    /// What the twin was told to do and this one not, though a round could have. What was lost before it had reached
    /// everybody is to be told anew.
    fn told(&self, twin: &Self, wrong: &mut Vec<String>) {
        let here = self.work("");
        for (of, at) in twin.work("WHERE kind = 'opens'") {
            let mut at = at;
            let mut reached = None;
            for lost in &self.lost {
                let told: Vec<&Told> = lost.told.iter().filter(|told| told.about == of).collect();
                let handed = &self.farm.mailed().letters[..lost.handed];
                let arrived = |told: &&Told| handed.iter().any(|letter| letter.id == told.id);
                if told.iter().all(arrived) {
                    reached = reached.or(told.iter().map(|told| told.round_at).min());
                } else {
                    at = at.max(lost.at);
                }
            }
            let Some(by) = self.first_whole(at) else {
                continue;
            };
            let done = Farm::done(&of.0, &of.1);
            let could_know = done.is_none_or(|done| by.with_timezone(&ZONE).date_naive() < done);
            let told = here.get(&of).copied().into_iter().chain(reached).min();
            if could_know && told.is_none_or(|told| told > by) {
                wrong.push(format!(
                    "{of:?} was to be told by {by}, and was at {told:?}"
                ));
            }
        }
    }

    fn work(&self, which: &str) -> Work {
        let sql = format!(
            "SELECT subject, step, min(round_at) FROM notice {which} GROUP BY subject, step HAVING step <> ''"
        );
        let rows = self.farm.memory(&sql).into_iter();
        rows.map(|row| ((row[0].clone(), row[1].clone()), row[2].parse().unwrap()))
            .collect()
    }

    /// That the memory was put back is told by the first round that could, where it was not lost again before.
    fn said_what_was_lost(&self, wrong: &mut Vec<String>) {
        let said = |(_, told): &(Option<usize>, Told)| told.key.contains("memory put back");
        let said: Vec<DateTime<Utc>> = self
            .all_told()
            .filter(said)
            .map(|(_, told)| told.round_at)
            .collect();
        for (n, lost) in self.lost.iter().enumerate() {
            let Some(by) = self.first_whole(lost.at) else {
                continue;
            };
            let again = self.lost.get(n + 1).is_some_and(|next| next.at <= by);
            let in_time = |at: &DateTime<Utc>| (lost.at - TimeDelta::hours(1)..=by).contains(at);
            if !again && !said.iter().any(in_time) {
                wrong.push(format!(
                    "that the memory of {} was lost was to be told by {by}",
                    lost.at
                ));
            }
        }
    }
}
