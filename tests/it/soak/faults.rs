//! What goes wrong, and when: drawn from a seed, so that a run that fails can be walked again.

use std::collections::BTreeMap;

/// Something that goes wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Fault {
    /// The machine has no current; what is due waits until it has.
    Off,
    /// The weather service does not answer.
    NoWeather,
    /// The register is cut off in the midst of a row, as a spreadsheet leaves it while it saves.
    TornRegister,
    /// The register is not there.
    NoRegister,
    /// The mail server does not answer.
    NoMail,
    /// It answers each letter at its first try with "not now" (greylisting).
    Greylisted,
    /// It takes letters, but its word that it has them is lost on the way.
    Unheard,
    /// The round is killed in its midst.
    Killed,
    /// The clock has been set back by an hour.
    ClockBack,
    /// The clock runs a year ahead.
    ClockAhead,
    /// The memory's file was cut off, while the program was not at work.
    MemoryTruncated,
    /// A page of it was written over.
    MemoryFlipped,
    /// It was deleted.
    MemoryGone,
}

/// What becomes of the memory.
pub const HARM: [Fault; 3] = [
    Fault::MemoryTruncated,
    Fault::MemoryFlipped,
    Fault::MemoryGone,
];

/// A fault, how likely it begins at a slot (one in so many), and for how many slots at most it lasts.
const FAULTS: [(Fault, u32, u32); 13] = [
    (Fault::Off, 160, 80),
    (Fault::NoWeather, 120, 80),
    (Fault::TornRegister, 150, 6),
    (Fault::NoRegister, 300, 20),
    (Fault::NoMail, 120, 80),
    (Fault::Greylisted, 60, 30),
    (Fault::Unheard, 40, 2),
    (Fault::Killed, 12, 3),
    (Fault::ClockBack, 90, 1),
    (Fault::ClockAhead, 300, 40),
    (Fault::MemoryTruncated, 200, 1),
    (Fault::MemoryFlipped, 200, 1),
    (Fault::MemoryGone, 200, 1),
];

/// Which faults there are at each slot.
pub struct Fate {
    by_slot: BTreeMap<u32, Vec<Fault>>,
}

impl Fate {
    /// Drawn for so many slots.
    pub fn drawn(rng: &mut fastrand::Rng, slots: u32) -> Self {
        let mut by_slot: BTreeMap<u32, Vec<Fault>> = BTreeMap::new();
        for (fault, one_in, longest) in FAULTS {
            let mut slot = 0;
            while slot < slots {
                if rng.u32(0..one_in) != 0 {
                    slot += 1;
                    continue;
                }
                let lasts = rng.u32(1..=longest);
                for at in (slot..slot + lasts).take_while(|at| *at < slots) {
                    by_slot.entry(at).or_default().push(fault);
                }
                slot += lasts;
            }
        }
        Self { by_slot }
    }

    /// Nothing ever goes wrong.
    pub fn kind() -> Self {
        Self {
            by_slot: BTreeMap::new(),
        }
    }

    /// Whether there is that fault at that slot.
    pub fn has(&self, slot: u32, fault: Fault) -> bool {
        self.by_slot
            .get(&slot)
            .is_some_and(|there| there.contains(&fault))
    }

    /// At how many slots there is that fault.
    pub fn slots_with(&self, fault: Fault) -> usize {
        let there = self.by_slot.values();
        there.filter(|there| there.contains(&fault)).count()
    }
}
