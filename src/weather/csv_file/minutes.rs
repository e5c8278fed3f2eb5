//! The minutes of one day at which something was read.
//!
//! Readings are counted by their minutes, so that a row that comes twice (overlapping exports, a repeated hour in
//! autumn) counts once. Small: a file may hold a hundred years of days.

/// Minutes of a day, 24:00 among them.
const MINUTES: usize = 1441;
const WORDS: usize = MINUTES.div_ceil(64);

/// Some minutes of a day, 0 to 1440.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Minutes {
    count: usize,
    first: u16,
    more: Option<Box<[u64; WORDS]>>,
}

impl Minutes {
    /// How many.
    pub fn count(&self) -> usize {
        self.count
    }

    /// Adds one; false where it was there before.
    pub fn insert(&mut self, minute: u16) -> bool {
        if self.contains(minute) {
            return false;
        }
        if self.count == 0 {
            self.first = minute;
        } else {
            let words = self.more.get_or_insert_with(|| {
                let mut words = Box::new([0; WORDS]);
                set(&mut words, self.first);
                words
            });
            set(words, minute);
        }
        self.count += 1;
        true
    }

    fn contains(&self, minute: u16) -> bool {
        match &self.more {
            Some(words) => {
                let (word, bit) = at(minute);
                words[word] >> bit & 1 == 1
            }
            None => self.count == 1 && self.first == minute,
        }
    }

    /// In how many hours of the day there is one.
    pub fn hours(&self) -> usize {
        let any = |hour: &u16| (hour * 60..(hour + 1) * 60).any(|minute| self.contains(minute));
        (0..24).filter(any).count()
    }

    fn iter(&self) -> impl Iterator<Item = u16> {
        (0..MINUTES as u16).filter(|&minute| self.contains(minute))
    }

    /// Whether every minute of the other is one of these.
    pub fn cover(&self, other: &Self) -> bool {
        other.iter().all(|minute| self.contains(minute))
    }

    /// Whether any minute is in both.
    pub fn meet(&self, other: &Self) -> bool {
        other.iter().any(|minute| self.contains(minute))
    }

    /// Adds all of the other's.
    pub fn join(&mut self, other: &Self) {
        for minute in other.iter() {
            self.insert(minute);
        }
    }
}

fn at(minute: u16) -> (usize, usize) {
    let minute = usize::from(minute).min(MINUTES - 1);
    (minute / 64, minute % 64)
}

fn set(words: &mut [u64; WORDS], minute: u16) {
    let (word, bit) = at(minute);
    words[word] |= 1 << bit;
}

#[cfg(test)]
mod tests {
    use super::*;

    fn minutes(list: &[u16]) -> Minutes {
        let mut minutes = Minutes::default();
        for &minute in list {
            minutes.insert(minute);
        }
        minutes
    }

    #[test]
    fn a_minute_counts_once() {
        assert_eq!(minutes(&[0, 1440, 0, 1440, 63, 64]).count(), 4);
        assert_eq!(minutes(&[5, 5]).count(), 1);
        assert!(minutes(&[]) == Minutes::default());
    }

    #[test]
    fn hours_are_counted_once() {
        assert_eq!(minutes(&[0, 59, 60, 1439, 1440]).hours(), 3);
    }

    #[test]
    fn days_are_compared_by_their_minutes() {
        let (half, whole) = (minutes(&[0, 10]), minutes(&[0, 10, 20]));
        assert!(whole.cover(&half) && !half.cover(&whole));
        assert!(half.cover(&minutes(&[])));
        assert!(!half.meet(&minutes(&[20])) && half.meet(&minutes(&[10])));
        let mut joined = half;
        joined.join(&minutes(&[10, 20]));
        assert_eq!(joined, whole);
    }
}
