//! The usual cautions. Never medical or legal advice; local rules and qualified advice come first.

/// For letters that send people to cut (common practice).
pub const CUTTING: &str = "Cut with care: sharp knife, away from the body; guard on the holding hand; eyes protected; mind tops that fall; not \
     alone. Disinfect between stocks. Not in lightning, and not before a sprayed block may be entered. Local rules and \
     qualified advice come first.";

/// For letters that tell of heat, by its hottest maximum in °C (common practice).
pub fn heat(hottest: f64) -> &'static str {
    if hottest >= 35.0 {
        "For the crew: move heavy work to dawn, shade and cool water at hand, rest often, never alone. Local rules and qualified advice come first."
    } else {
        "For the crew: start early, rest in the shade, drink before you are thirsty, look after each other. Local rules and qualified advice come first."
    }
}
