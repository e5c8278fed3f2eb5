//! What a letter is about first, so that it can go on from an earlier one about the same.

use super::letter::{Context, asks, care_of, in_order};
use crate::notices::Notice;
use chrono::NaiveDate;

/// The step that a letter names first, and the batches of which it names it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Topic<'a> {
    /// The step by its id, first, and the limit that it ends.
    pub steps: Vec<&'a str>,
    /// The batches, each once, by name.
    pub batches: Vec<&'a str>,
    /// The day on which the first of them was grafted: what was told before is of another year.
    pub since: NaiveDate,
}

impl<'a> Topic<'a> {
    /// None for a letter that names no step of a batch.
    pub fn of(notices: &[&'a Notice], context: &Context<'a>) -> Option<Self> {
        let mut found: Option<Self> = None;
        for notice in in_order(notices, context) {
            let Some(care) = care_of(notice, context) else {
                continue;
            };
            let Some(own) = notice.step.as_deref() else {
                continue;
            };
            let batch = notice.about.batch().unwrap_or_default();
            let asked = asks(notice, context).map_or(own, |(_, step)| step);
            let topic = found.get_or_insert_with(|| Self {
                steps: vec![asked],
                batches: Vec::new(),
                since: care.batch.grafted_on,
            });
            if topic.steps[0] != asked {
                continue;
            }
            topic.batches.push(batch);
            let limit = care.plan.limit.as_ref().filter(|l| l.until == asked);
            if let Some(limit) = limit
                && topic.steps.len() == 1
            {
                topic.steps.push(&limit.id);
            }
            topic.since = topic.since.min(care.batch.grafted_on);
        }
        if let Some(topic) = &mut found {
            topic.batches.sort_unstable();
            topic.batches.dedup();
        }
        found
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::care::tests::season::maple;
    use crate::letters::tests::{another, of_kind, seen_by};
    use crate::notices::{About, Kind};
    use chrono::Days;

    #[test]
    fn a_topic_is_the_most_pressing_step_with_all_its_batches() {
        let season = maple().but(|s| {
            another(s, "C-15", |b| b.grafted_on = b.grafted_on + Days::new(1));
            another(s, "B-2", |_| {});
        });
        let mut notices = of_kind(&season, 0..0, 16, Kind::Opens);
        notices.reverse();
        let found = seen_by(&season, 16, |context| {
            let topic = Topic::of(&notices.iter().collect::<Vec<_>>(), context)?;
            let own = |names: &[&str]| names.iter().map(|n| (*n).to_owned()).collect::<Vec<_>>();
            Some((own(&topic.steps), own(&topic.batches), topic.since))
        });
        let (steps, batches, since) = found.unwrap();
        assert_eq!(steps, ["callus-check"]);
        assert_eq!(batches, ["B-2", "C-14", "C-15"]);
        assert_eq!(since, season.day(0));
    }

    #[test]
    fn what_is_told_of_a_limit_is_told_of_the_step_that_ends_it() {
        let season = maple();
        let risk = of_kind(&season, 0..0, 22, Kind::OverCallusRisk);
        assert!(!risk.is_empty());
        let steps = seen_by(&season, 22, |context| {
            let topic = Topic::of(&risk.iter().collect::<Vec<_>>(), context)?;
            Some(topic.steps.join(", "))
        });
        assert_eq!(steps.as_deref(), Some("head-back, over-callusing"));
    }

    #[test]
    fn what_names_no_batch_has_no_topic() {
        let season = maple();
        let about = About::Nursery;
        let trouble = Notice::plain(Kind::Trouble, about, "a", 1, season.day(16));
        assert!(seen_by(&season, 16, |context| Topic::of(
            &[&trouble],
            context
        )
        .is_none()));
    }
}
