//! Batches by name: notices name what they are about, and a letter of thousands must not look through all for each.
//!
//! Knows names only; hands on the batch.

use crate::care::BatchCare;
use hashbrown::HashTable;
use std::cell::OnceCell;
use std::hash::{BuildHasher, RandomState};

/// Every batch, to be found by its name.
#[derive(Clone, Debug, Default)]
pub struct ByName<'a> {
    cares: &'a [BatchCare<'a>],
    /// Their places by name, made when the first is looked for: most rounds write no letter.
    places: OnceCell<HashTable<usize>>,
    hash: RandomState,
}

impl<'a> ByName<'a> {
    /// Of several batches of one name the first is found.
    pub fn new(cares: &'a [BatchCare<'a>]) -> Self {
        Self {
            cares,
            ..Self::default()
        }
    }

    /// The batch of that name.
    pub fn get(&self, name: &str) -> Option<&'a BatchCare<'a>> {
        let places = self.places.get_or_init(|| self.all_places());
        let is = |&at: &usize| self.cares[at].batch.name == name;
        places
            .find(self.hash.hash_one(name), is)
            .map(|&at| &self.cares[at])
    }

    fn all_places(&self) -> HashTable<usize> {
        let name = |at: usize| self.cares[at].batch.name.as_str();
        let hash = |&at: &usize| self.hash.hash_one(name(at));
        let mut places = HashTable::with_capacity(self.cares.len());
        for at in 0..self.cares.len() {
            let is = |&other: &usize| name(other) == name(at);
            places.entry(hash(&at), is, hash).or_insert(at);
        }
        places
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::care::tests::season::maple;

    /// Batches in that order; what is found under a name.
    #[track_caller]
    fn check(batches: &[(&str, &str)], name: &str, block: Option<&str>) {
        let mut season = maple();
        let first = season.batches[0].clone();
        season.batches.clear();
        for (name, block) in batches {
            let mut batch = first.clone();
            (batch.name, batch.block) = ((*name).into(), (*block).into());
            season.batches.push(batch);
        }
        let ground = season.ground(season.day(5));
        let cares = season.cares(&ground).0;
        let named = ByName::new(&cares);
        let found = named.get(name).map(|care| care.batch.block.as_str());
        assert_eq!(found, block);
    }

    #[test]
    fn a_batch_is_found_by_its_whole_name() {
        check(&[("C-1", "C"), ("D-1", "D")], "D-1", Some("D"));
        check(&[("C-1", "C"), ("D-1", "D")], "D", None);
    }

    #[test]
    fn of_several_of_one_name_the_first_is_found() {
        check(
            &[("C-1", "C"), ("B-1", "A"), ("C-1", "D")],
            "C-1",
            Some("C"),
        );
    }

    #[test]
    fn a_name_is_as_it_is_written() {
        check(&[("C-1", "C"), ("c-1", "D")], "c-1", Some("D"));
    }
}
