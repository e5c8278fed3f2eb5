//! The usual cautions. Never medical or legal advice; local rules and qualified advice come first.

/// For letters that send people to cut (common practice).
pub const CUTTING: &str = "Cut with care: sharp knife, away from the body; guard on the holding hand; eyes protected; mind tops that fall; not \
     alone. Disinfect between stocks. Not in lightning, and not before a sprayed block may be entered. Local rules and \
     qualified advice come first.";

/// For letters that send people out in heat, by the hottest maximum in °C (common practice). None below 27 °C.
pub fn heat(hottest: f64) -> Option<&'static str> {
    match hottest {
        35.0.. => Some(
            "For the crew: move heavy work to dawn, shade and cool water at hand, rest often, never alone. Local rules and qualified advice come first.",
        ),
        32.0.. => Some(
            "For the crew: start early, rest in the shade, drink before you are thirsty, look after each other. Local rules and qualified advice come first.",
        ),
        27.0.. => Some(
            "For the crew: water and shade at hand. Local rules and qualified advice come first.",
        ),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(hottest: f64, expected: Option<&str>) {
        let said = heat(hottest);
        assert_eq!(said.is_some(), expected.is_some());
        assert!(
            said.unwrap_or_default()
                .contains(expected.unwrap_or_default()),
            "{said:?}"
        );
    }

    #[test]
    fn what_the_crew_is_told_grows_with_the_heat() {
        check(26.9, None);
        check(27.0, Some("water and shade"));
        check(32.0, Some("start early, rest in the shade"));
        check(35.0, Some("move heavy work to dawn"));
        check(f64::NAN, None);
    }
}
