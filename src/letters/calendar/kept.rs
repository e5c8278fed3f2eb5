//! What a calendar was told, and what it is to be told now.
//!
//! A window that moved moves its entry, one that went away is cancelled, and one whose work was done ends on that day: the
//! calendar then says what was done when, also where a program passes over what is cancelled. What is over is left as it
//! is. Pure: what was told comes in, what is told from now on goes out.

use super::{Entry, Window};
use chrono::NaiveDate;
use std::collections::HashMap;

/// An entry that a calendar was told.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Kept {
    /// As it was told last.
    pub entry: Entry,
    /// The last of all days on which it was ever said to be. Until then it goes along with every letter, so that a phone
    /// that missed one catches up.
    pub upto: NaiveDate,
}

/// What is told on `today` of these windows, after what was told before: everything that changed or is new, and what
/// goes along; each with its day [`Kept::upto`], by day. `uid` names an entry by the key of its window.
pub fn keep<'w>(
    told: Vec<Kept>,
    windows: impl IntoIterator<Item = &'w Window>,
    uid: impl Fn(&str) -> String,
    today: NaiveDate,
) -> Vec<Kept> {
    let order: Vec<String> = told.iter().map(|kept| kept.entry.uid.clone()).collect();
    let mut told: HashMap<String, Kept> = told
        .into_iter()
        .map(|kept| (kept.entry.uid.clone(), kept))
        .collect();
    let mut now: Vec<Kept> = Vec::new();
    for window in windows {
        let uid = uid(&window.key);
        match told.remove(&uid) {
            Some(before) => now.push(changed(before, window, today)),
            None if window.done_on.is_none() && window.last >= today => now.push(Kept {
                entry: entry(uid, 0, window),
                upto: window.last,
            }),
            None => {}
        }
    }
    let gone = order.iter().filter_map(|uid| told.remove(uid));
    now.extend(gone.map(|before| cancelled(before, today)));
    now.retain(|kept| kept.upto >= today);
    now.sort_by(|a, b| {
        let by = |kept: &Kept| (kept.entry.first, kept.entry.last);
        by(a)
            .cmp(&by(b))
            .then_with(|| a.entry.title.cmp(&b.entry.title))
    });
    now
}

fn entry(uid: String, sequence: u32, window: &Window) -> Entry {
    Entry {
        uid,
        sequence,
        title: window.title.clone(),
        first: window.first,
        last: window.last,
        detail: window.detail.clone(),
        cancelled: false,
    }
}

/// The same entry, or the next of its sequence where the window says something else.
fn changed(before: Kept, window: &Window, today: NaiveDate) -> Kept {
    let was = &before.entry;
    let over = was.last < today;
    let leave = match window.done_on {
        Some(_) => over || was.cancelled,
        None => over && window.last < today,
    };
    if leave {
        return before;
    }
    let mut now = entry(was.uid.clone(), was.sequence, window);
    if let Some(day) = window.done_on {
        now.first = was.first.min(day);
    }
    if now == *was {
        return before;
    }
    now.sequence = was.sequence.saturating_add(1);
    let upto = before.upto.max(now.last);
    Kept { entry: now, upto }
}

/// An entry of days to come that is no window any more.
fn cancelled(before: Kept, today: NaiveDate) -> Kept {
    let was = &before.entry;
    if was.cancelled || was.last < today {
        return before;
    }
    Kept {
        entry: Entry {
            cancelled: true,
            sequence: was.sequence.saturating_add(1),
            ..was.clone()
        },
        upto: before.upto,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::Days;
    use proptest::prelude::*;

    /// Day 0.
    fn day(n: u64) -> NaiveDate {
        "2026-07-01".parse::<NaiveDate>().unwrap() + Days::new(n)
    }

    /// On one morning: for each of a few windows its days from today and whether it is done; none where there is none.
    type Morning = Vec<Option<(i64, u64, bool)>>;

    fn mornings() -> impl Strategy<Value = Vec<Morning>> {
        let window = prop::option::weighted(0.8, (-3_i64..4, 0_u64..4, prop::bool::weighted(0.2)));
        prop::collection::vec(prop::collection::vec(window, 3), 1..12)
    }

    /// The windows of a morning, and what each is called.
    fn windows(morning: &Morning, today: NaiveDate) -> Vec<Window> {
        let named = morning.iter().zip(["a", "b", "c"]);
        named
            .filter_map(|(window, key)| {
                let &(from, days, done) = window.as_ref()?;
                let first = today + chrono::TimeDelta::days(if done { from.min(0) } else { from });
                Some(Window {
                    site: "home".into(),
                    block: "C".into(),
                    key: key.into(),
                    title: key.into(),
                    first,
                    last: if done { first } else { first + Days::new(days) },
                    detail: String::new(),
                    done_on: done.then_some(first),
                })
            })
            .collect()
    }

    fn same(a: &Entry, b: &Entry) -> bool {
        let plain = |entry: &Entry| Entry {
            sequence: 0,
            ..entry.clone()
        };
        plain(a) == plain(b)
    }

    proptest! {
        #[test]
        fn a_number_rises_with_each_change_and_only_then(mornings in mornings()) {
            let mut held: HashMap<String, Kept> = HashMap::new();
            for (n, morning) in (0..).zip(&mornings) {
                let today = day(n);
                let windows = windows(morning, today);
                let told = held.values().cloned().collect();
                let sent = keep(told, &windows, str::to_owned, today);
                for kept in &sent {
                    match held.get(&kept.entry.uid) {
                        None => {
                            prop_assert_eq!(kept.entry.sequence, 0);
                            prop_assert!(!kept.entry.cancelled && kept.entry.last >= today);
                        }
                        Some(before) => {
                            let step = u32::from(!same(&before.entry, &kept.entry));
                            prop_assert_eq!(kept.entry.sequence, before.entry.sequence + step);
                            prop_assert!(kept.upto >= before.upto);
                        }
                    }
                    prop_assert!(kept.upto >= kept.entry.last && kept.upto >= today);
                }
                held.extend(sent.into_iter().map(|kept| (kept.entry.uid.clone(), kept)));
                // What a calendar shows of today and later is what is so.
                for kept in held.values().filter(|k| !k.entry.cancelled && k.entry.last >= today) {
                    let so = windows.iter().find(|w| w.key == kept.entry.uid).unwrap();
                    prop_assert_eq!(kept.entry.last, so.last);
                    prop_assert!(kept.entry.first == so.first || so.done_on.is_some());
                }
                for window in windows.iter().filter(|w| w.done_on.is_none() && w.last >= today) {
                    prop_assert!(!held[&window.key].entry.cancelled);
                }
            }
        }

        #[test]
        fn the_same_windows_are_told_the_same(mornings in mornings()) {
            let mut told = Vec::new();
            for (n, morning) in (0..).zip(&mornings) {
                let windows = windows(morning, day(n));
                told = keep(told, &windows, str::to_owned, day(n));
                prop_assert_eq!(&keep(told.clone(), &windows, str::to_owned, day(n)), &told);
            }
        }
    }
}
