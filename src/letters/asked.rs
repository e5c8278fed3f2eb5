//! What a letter asks for, as it is remembered: the steps, and of which batches.

/// A step that a letter asks for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Asked {
    /// Its id in the care plan.
    pub step: String,
    /// The batches, each once, in the order of the letter.
    pub batches: Vec<String>,
}

impl Asked {
    /// One more batch of which this step is asked; each is kept once.
    pub fn add(all: &mut Vec<Self>, step: &str, batch: &str) {
        let at = all.iter().position(|asked| asked.step == step);
        let at = at.unwrap_or_else(|| {
            all.push(Self {
                step: step.to_owned(),
                batches: Vec::new(),
            });
            all.len() - 1
        });
        if !all[at].batches.iter().any(|known| known == batch) {
            all[at].batches.push(batch.to_owned());
        }
    }
}
