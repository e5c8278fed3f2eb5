//! Whether a care plan makes sense as a whole: every name must lead somewhere, every record that is waited for must be
//! brought by some step, and no window may close before it opens.

use super::raw::{Section, offer};
use super::report::Complaint;
use crate::nursery::{Anchor, Closing, Limit, Need, Sensitive, Step};
use std::ops::Range;

/// Complains about everything that does not; each step comes with the place of its id.
pub(super) fn sense<'a>(
    top: &Section<'_>,
    steps: &[(Step, Range<usize>)],
    limit: impl Iterator<Item = &'a Limit>,
    sensitive: impl Iterator<Item = &'a Sensitive>,
) {
    let findings = top.findings();
    let ids: Vec<&str> = steps.iter().map(|(step, _)| step.id.as_str()).collect();
    let limits = limit.map(|l| ("limit", [&l.from, &l.until]));
    let spans = sensitive.map(|s| ("sensitive", [&s.from, &s.until]));
    for (key, names) in limits.chain(spans) {
        for name in names
            .into_iter()
            .filter(|name| !ids.contains(&name.as_str()))
        {
            let what = format!("[{key}] names the step \"{name}\", which the plan does not have");
            findings.error(top.place(key), Complaint::new(what, offer(name, &ids)));
        }
    }
    for (step, place) in steps {
        if let Anchor::Record(record) = step.opens.after
            && !steps
                .iter()
                .any(|(other, _)| other.brings.contains(&record))
        {
            let what = format!(
                "\"{}\" waits for {}, which no step brings",
                step.id,
                record.name()
            );
            findings.error(
                place.clone(),
                Complaint::new(
                    what,
                    "add the record to a step's brings, or count from another",
                ),
            );
        }
        if let (
            Some(open),
            Some(Closing {
                after,
                warmth: Some(close),
                ..
            }),
        ) = (step.opens.warmth, &step.closes)
            && *after == step.opens.after
            && is_less(*close, open)
        {
            let what = format!("\"{}\" closes before it opens", step.id);
            findings.error(
                place.clone(),
                Complaint::new(what, "make the warmth under closes the larger one"),
            );
        }
    }
}

fn is_less(a: Need, b: Need) -> bool {
    match (a, b) {
        (Need::Standard(a), Need::Standard(b)) => a < b,
        (Need::Heat(a), Need::Heat(b)) => a < b,
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use crate::config::plan::tests::check;

    #[test]
    fn closings_must_come_after_openings_and_names_lead_somewhere() {
        check(
            "standard_days = 21",
            "standard_days = 13",
            &["closes before it opens"],
        );
        check(
            "standard_days = 21",
            "days = 3, months = 1",
            &["more than one way"],
        );
        check("standard_days = 21", "", &["does not say when it closes"]);
        check(
            "[[step]]",
            "[sensitive]\nfrom = \"loook\"\nuntil = \"look\"\n[[step]]",
            &["the step \"loook\"", "perhaps `look`"],
        );
    }
}
