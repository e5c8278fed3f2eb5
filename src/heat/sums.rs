//! Running sums that never fall, and the place among them where an amount is reached.
//!
//! A binary search through all the years of a run costs more than all else that is asked of them. Here the whole heat is cut
//! into equal parts, a few for each day, and where each begins is kept: from there it is hardly ever more than a step.

/// Running sums in order, the first of them 0.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Sums {
    all: Box<[f64]>,
    /// Parts for 1 °C·d.
    scale: f64,
    /// For each part the place of the first sum that lies in it or after it.
    starts: Box<[u32]>,
}

/// So many parts for each sum: on a warm day most lie between two sums.
const PARTS: usize = 2;

impl Sums {
    /// Of at least one sum; none is less than the one before.
    pub fn new(sums: Vec<f64>) -> Self {
        let parts = PARTS * sums.len();
        let whole = sums[sums.len() - 1];
        let mut made = Self {
            all: sums.into(),
            scale: if whole > 0.0 {
                parts as f64 / whole
            } else {
                0.0
            },
            starts: Box::default(),
        };
        let mut starts = Vec::with_capacity(parts);
        for (place, sum) in made.all.iter().enumerate() {
            starts.resize(starts.len().max(made.part(*sum) + 1), place as u32);
        }
        starts.resize(parts, made.all.len() as u32);
        made.starts = starts.into();
        made
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.all.len()
    }

    /// The sum at that place.
    pub fn at(&self, place: usize) -> f64 {
        self.all[place]
    }

    /// The place of the first sum that is not less than `amount`; the number of sums where all are.
    pub fn reaching(&self, amount: f64) -> usize {
        let start = self.starts[self.part(amount)] as usize;
        let less = self.all[start..].iter().take_while(|sum| **sum < amount);
        start + less.count()
    }

    /// The part in which an amount lies. However it is rounded, more never lies in an earlier one: what lies in an earlier
    /// one is less.
    fn part(&self, amount: f64) -> usize {
        ((amount * self.scale) as u32 as usize).min(PARTS * self.all.len() - 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// The binary search of the standard library finds the same place.
        #[test]
        fn the_place_is_that_of_a_binary_search(
            days in prop::collection::vec(prop_oneof![Just(0.0), 0.0..25.0, Just(1e-9), 0.0..1e6], 0..400),
            asked in prop::collection::vec(0.0..1.2, 20),
        ) {
            let mut sums = vec![0.0];
            for heat in days {
                sums.push(sums[sums.len() - 1] + heat);
            }
            let (whole, made) = (sums[sums.len() - 1], Sums::new(sums.clone()));
            for amount in asked.iter().map(|share| share * whole).chain(sums.iter().copied()) {
                for near in [amount.next_down(), amount, amount.next_up()] {
                    prop_assert_eq!(made.reaching(near), sums.partition_point(|sum| *sum < near));
                }
            }
        }
    }

    #[test]
    fn without_any_heat_nothing_is_reached() {
        let sums = Sums::new(vec![0.0; 3]);
        assert_eq!(
            [
                sums.reaching(0.0),
                sums.reaching(1e-300),
                sums.reaching(5.0)
            ],
            [0, 3, 3]
        );
    }

    #[test]
    fn what_lies_between_two_sums_is_reached_at_the_second() {
        let sums = Sums::new(vec![0.0, 15.0, 30.0, 30.0, 34.0]);
        let places = [
            -1.0,
            0.0,
            0.1,
            15.0,
            15.1,
            30.0,
            30.1,
            34.0,
            34.1,
            f64::INFINITY,
        ];
        assert_eq!(
            places.map(|amount| sums.reaching(amount)),
            [0, 0, 1, 1, 2, 2, 4, 4, 5, 5]
        );
    }
}
