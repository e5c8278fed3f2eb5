//! Text that stands in many places and is held once: the names of sites, blocks, plans and scions in a million batches.

use std::collections::HashSet;
use std::fmt;
use std::ops::Deref;
use std::sync::Arc;

/// A text that is never changed; a copy of it takes no more room.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Text(Arc<str>);

impl Text {
    /// The text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl Deref for Text {
    type Target = str;

    fn deref(&self) -> &str {
        &self.0
    }
}

impl Default for Text {
    fn default() -> Self {
        "".into()
    }
}

impl From<&str> for Text {
    fn from(text: &str) -> Self {
        Self(text.into())
    }
}

impl From<String> for Text {
    fn from(text: String) -> Self {
        Self(text.into())
    }
}

impl<T: AsRef<str> + ?Sized> PartialEq<T> for Text {
    fn eq(&self, other: &T) -> bool {
        self.as_str() == other.as_ref()
    }
}

impl PartialEq<Text> for String {
    fn eq(&self, other: &Text) -> bool {
        self == other.as_str()
    }
}

impl PartialEq<Text> for &str {
    fn eq(&self, other: &Text) -> bool {
        *self == other.as_str()
    }
}

impl fmt::Display for Text {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.as_str().fmt(f)
    }
}

impl fmt::Debug for Text {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(self.as_str(), f)
    }
}

/// The texts met so far.
#[derive(Debug, Default)]
pub struct Texts(HashSet<Arc<str>>);

impl Texts {
    /// The one text that reads so.
    pub fn one(&mut self, text: &str) -> Text {
        if let Some(held) = self.0.get(text) {
            return Text(Arc::clone(held));
        }
        let new: Arc<str> = text.into();
        self.0.insert(Arc::clone(&new));
        Text(new)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_text_is_held_once() {
        let mut texts = Texts::default();
        let (first, again, other) = (texts.one("opens"), texts.one("opens"), texts.one("late"));
        assert!(Arc::ptr_eq(&first.0, &again.0));
        assert!(!Arc::ptr_eq(&first.0, &other.0));
        assert_eq!((first.as_str(), other.as_str()), ("opens", "late"));
    }

    #[test]
    fn it_is_compared_and_written_as_what_it_says() {
        let text: Text = "home".into();
        assert!(text == "home" && text != "hill");
        assert_eq!(format!("{text} {text:?} {text:>6}"), "home \"home\"   home");
    }
}
