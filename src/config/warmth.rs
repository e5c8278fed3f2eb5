//! Amounts of warmth and words of the field records in a care plan: what steps, limit and reckoning have in common.

use super::raw::Section;
use crate::nursery::{Held, Need, What};
use crate::units::{DegreeDays, StandardDays};

/// One word of the field records.
pub(super) fn what(s: &Section<'_>, key: &'static str) -> Option<What> {
    s.choice(key, &What::ALL.map(What::name), What::named)
}

/// Several of them; none where the key is absent.
pub(super) fn whats(s: &Section<'_>, key: &'static str) -> Vec<What> {
    s.choices(key, &What::ALL.map(What::name), What::named)
        .unwrap_or_default()
}

/// `standard_days` or `heat`, not both.
pub(super) fn warmth(s: &Section<'_>) -> Option<Need> {
    need_under(s, "standard_days", "heat")
}

/// The same under other names.
pub(super) fn need_under(
    s: &Section<'_>,
    standard: &'static str,
    heat: &'static str,
) -> Option<Need> {
    let days = s.number(standard, 0.1..=2000.0);
    let sum = s.number(heat, 0.1..=100_000.0);
    if days.is_some() && sum.is_some() {
        let what = format!("{standard} and {heat} both say how much warmth");
        s.error(what, "keep one of them");
    }
    days.map(|d| Need::Standard(StandardDays(d)))
        .or(sum.map(|h| Need::Heat(DegreeDays(h))))
}

/// A table that holds an amount of warmth and nothing else.
pub(super) fn only_warmth(s: &Section<'_>, key: &'static str) -> Option<Need> {
    let remedy = "write how much warmth, as in { standard_days = 14 } or { heat = 210 }";
    let inner = s.need(key, s.section(key), remedy)?;
    let need = needed_warmth(&inner);
    inner.finish();
    need
}

/// As [`warmth`], but it must be there.
pub(super) fn needed_warmth(s: &Section<'_>) -> Option<Need> {
    let need = warmth(s);
    if need.is_none() && !s.has("standard_days") && !s.has("heat") {
        s.error(
            "no amount of warmth is given",
            "write standard_days = 3 or heat = 45",
        );
    }
    need
}

/// None where a part is there and wrong; a part that is absent is fine.
#[expect(clippy::option_option, reason = "absent and wrong are two things here")]
pub(super) fn whole<T>(part: Option<Option<T>>) -> Option<Option<T>> {
    match part {
        None => Some(None),
        Some(None) => None,
        Some(part) => Some(part),
    }
}

/// A record that holds a window shut, and for how much warmth.
pub(super) fn held(s: &Section<'_>) -> Option<Held> {
    let s = s.section("held")?;
    let by = s.need("by", what(&s, "by"), "name the record that holds it shut");
    let during = needed_warmth(&s);
    s.finish();
    Some(Held {
        by: by?,
        during: during?,
    })
}
