//! What a letter asks for, as it is remembered: the steps, and of which batches.

use std::collections::HashSet;

/// A step that a letter asks for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Asked {
    /// Its id in the care plan.
    pub step: String,
    /// The batches, each once, in the order of the letter.
    pub batches: Vec<String>,
}

impl Asked {
    /// What is asked of steps and batches, each pair once, in their order.
    pub fn gather<'a>(pairs: impl IntoIterator<Item = (&'a str, &'a str)>) -> Vec<Self> {
        let mut all: Vec<Self> = Vec::new();
        let mut known = HashSet::new();
        for (step, batch) in pairs.into_iter().filter(|pair| known.insert(*pair)) {
            match all.iter_mut().find(|asked| asked.step == step) {
                Some(asked) => asked.batches.push(batch.to_owned()),
                None => all.push(Self {
                    step: step.to_owned(),
                    batches: vec![batch.to_owned()],
                }),
            }
        }
        all
    }
}
