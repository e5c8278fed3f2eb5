//! Looks for answers between the rounds: every two minutes, later and later where the mailbox cannot be read.

use crate::assemble::House;
use crate::round::{Answers, gather, long_failing};
use crate::store::StoreError;
use std::time::{Duration, Instant};

/// Looks for answers between the rounds.
pub(super) struct Postman {
    next: Instant,
    /// How often running the mailbox could not be read.
    failures: u32,
    /// That it cannot be read has led to a round already.
    told: bool,
}

/// Answers are looked for so often ...
const POLL: Duration = Duration::from_secs(2 * 60);
/// ... and later and later where the mailbox cannot be read, up to this.
const LONGEST_POLL: Duration = Duration::from_secs(30 * 60);

impl Postman {
    pub fn new(house: &House) -> Self {
        Self {
            next: house.clock.monotonic(),
            failures: 0,
            told: false,
        }
    }

    pub fn is_due(&self, house: &House) -> bool {
        house.mailbox.is_some() && house.clock.monotonic() >= self.next
    }

    /// Looks, and says when to look again.
    pub async fn look(&mut self, house: &House) -> Answers {
        let answers = gather(house).await;
        if answers.failed.is_some() {
            self.failures = self.failures.saturating_add(1);
        } else {
            (self.failures, self.told) = (0, false);
        }
        self.next = house.clock.monotonic() + gap(self.failures);
        answers
    }

    /// Whether a round is to be walked for what was found. Where there were many, there may be more.
    pub fn has_news(&mut self, house: &House, answers: &Answers) -> Result<bool, StoreError> {
        if answers.failed.is_none() {
            return Ok(!answers.mails.is_empty());
        }
        let long = house.with_store(|memory| long_failing(memory, house.clock.now()))?;
        let news = long.is_some() && !self.told;
        self.told |= news;
        Ok(news)
    }
}

/// Until the next look, after so many failures running.
fn gap(failures: u32) -> Duration {
    (POLL * 2_u32.pow(failures.min(5))).min(LONGEST_POLL)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mailbox_that_fails_is_asked_later_and_later() {
        let minutes = |failures| gap(failures).as_secs() / 60;
        let gaps: Vec<u64> = (0..8).map(minutes).collect();
        assert_eq!(gaps, [2, 4, 8, 16, 30, 30, 30, 30]);
    }
}
