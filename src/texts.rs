//! Text that stands in many places and is held once.

use std::collections::HashSet;
use std::rc::Rc;

/// The texts met so far. What is the same is handed out as the same piece of memory.
#[derive(Debug, Default)]
pub struct Texts(HashSet<Rc<str>>);

impl Texts {
    /// The one text that reads so.
    pub fn one(&mut self, text: &str) -> Rc<str> {
        if let Some(held) = self.0.get(text) {
            return Rc::clone(held);
        }
        let new: Rc<str> = text.into();
        self.0.insert(Rc::clone(&new));
        new
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_text_is_held_once() {
        let mut texts = Texts::default();
        let (first, again, other) = (texts.one("opens"), texts.one("opens"), texts.one("late"));
        assert!(Rc::ptr_eq(&first, &again));
        assert!(!Rc::ptr_eq(&first, &other));
        assert_eq!((&*first, &*other), ("opens", "late"));
    }
}
