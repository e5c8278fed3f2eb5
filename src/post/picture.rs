//! Charts as PNG, since mail programs do not show SVG.
//!
//! Text is set in a font that is compiled in: a server may have none, and words would vanish. Nothing outside the picture
//! is ever looked at. The same SVG gives the same bytes.

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{self, fontdb};
use std::cell::RefCell;
use std::collections::HashMap;
use std::sync::{Arc, OnceLock};

/// A subset of `DejaVu Sans`; its licence lies beside it.
const FONT: &[u8] = include_bytes!("font/DejaVuSans-subset.ttf");
/// What the font has beyond ASCII.
const LETTERS: [std::ops::RangeInclusive<char>; 11] = [
    '\u{a0}'..='\u{17f}',
    '\u{386}'..='\u{3ce}',
    '\u{400}'..='\u{45f}',
    '\u{2010}'..='\u{2015}',
    '\u{2018}'..='\u{201e}',
    '\u{2022}'..='\u{2022}',
    '\u{2026}'..='\u{2026}',
    '\u{20ac}'..='\u{20ac}',
    '\u{2190}'..='\u{2193}',
    '\u{2212}'..='\u{2212}',
    '\u{2264}'..='\u{2265}',
];
/// Stands for a sign that the font does not have.
const UNKNOWN: char = '\u{25a1}';
/// Pixels for each unit of the picture: phones have fine screens.
const SCALE: f32 = 2.0;

/// The pictures of one round: what several people are sent is drawn once.
#[derive(Debug, Default)]
pub struct Pictures(RefCell<HashMap<String, Option<Vec<u8>>>>);

impl Pictures {
    /// The picture as PNG; none where it cannot be drawn, which is logged: all that it shows is said in words too.
    pub fn png(&self, svg: &str) -> Option<Vec<u8>> {
        let mut drawn = self.0.borrow_mut();
        let known = drawn.entry(svg.to_owned());
        known
            .or_insert_with(|| {
                draw(svg)
                    .map_err(|why| {
                        tracing::warn!("a chart could not be drawn and is left out: {why}");
                    })
                    .ok()
            })
            .clone()
    }
}

fn draw(svg: &str) -> Result<Vec<u8>, String> {
    let options = usvg::Options {
        fontdb: fonts(),
        font_family: "DejaVu Sans".into(),
        image_href_resolver: usvg::ImageHrefResolver {
            resolve_data: Box::new(|_, _, _| None),
            resolve_string: Box::new(|_, _| None),
        },
        ..usvg::Options::default()
    };
    let tree = usvg::Tree::from_str(&drawable(svg), &options).map_err(|e| e.to_string())?;
    let size = tree.size().to_int_size();
    let size = size
        .scale_by(SCALE)
        .filter(|size| size.width() <= 4000 && size.height() <= 4000)
        .ok_or("its size is out of range")?;
    let mut pixels = Pixmap::new(size.width(), size.height()).ok_or("it has no size")?;
    resvg::render(
        &tree,
        Transform::from_scale(SCALE, SCALE),
        &mut pixels.as_mut(),
    );
    pixels.encode_png().map_err(|e| e.to_string())
}

fn fonts() -> Arc<fontdb::Database> {
    static FONTS: OnceLock<Arc<fontdb::Database>> = OnceLock::new();
    let load = || {
        let mut fonts = fontdb::Database::new();
        fonts.load_font_data(FONT.to_vec());
        Arc::new(fonts)
    };
    Arc::clone(FONTS.get_or_init(load))
}

/// The same with a box for each sign that could not be drawn: a name must not lose letters unseen.
fn drawable(svg: &str) -> String {
    let has = |c: &char| c.is_ascii() || LETTERS.iter().any(|letters| letters.contains(c));
    svg.chars()
        .map(|c| if has(&c) { c } else { UNKNOWN })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with(text: &str) -> String {
        format!(
            "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 60 30' width='60' height='30'><rect width='60' height='30' fill='#fff'/><text x='4' y='20' font-family='DejaVu Sans' font-size='17'>{text}</text></svg>"
        )
    }

    /// Width, height and the pixels that are dark.
    fn look(png: &[u8]) -> (u32, u32, usize) {
        let pixels = Pixmap::decode_png(png).unwrap();
        let dark = pixels.pixels().iter().filter(|p| p.red() < 128).count();
        (pixels.width(), pixels.height(), dark)
    }

    #[test]
    fn words_are_drawn_without_a_font_of_the_system() {
        let (blank, word) = (draw(&with("")).unwrap(), draw(&with("C-14")).unwrap());
        assert!(word.starts_with(b"\x89PNG\r\n\x1a\n"));
        assert_eq!(look(&blank), (120, 60, 0));
        let (width, height, dark) = look(&word);
        assert_eq!((width, height), (120, 60));
        assert!(dark > 200, "{dark}");
    }

    #[test]
    fn every_letter_that_is_said_to_be_there_is() {
        let unknown = look(&draw(&with("\u{25a1}")).unwrap()).2;
        let missing = look(&draw(&with("\u{4e2d}")).unwrap()).2;
        assert_eq!(missing, unknown);
        for letter in LETTERS.iter().flat_map(|l| [*l.start(), *l.end()]) {
            if letter == '\u{a0}' {
                continue;
            }
            let dark = look(&draw(&with(&letter.to_string())).unwrap()).2;
            assert!(dark > 0 && dark != unknown, "{letter}");
        }
    }

    #[test]
    fn nothing_outside_is_looked_at() {
        let place = tempfile::tempdir().unwrap();
        let file = place.path().join("x.png");
        std::fs::write(&file, draw(&with("MMMM")).unwrap()).unwrap();
        let svg = format!(
            "<svg xmlns='http://www.w3.org/2000/svg' xmlns:xlink='http://www.w3.org/1999/xlink' viewBox='0 0 60 30' width='60' height='30'><rect width='60' height='30' fill='#fff'/><image width='60' height='30' xlink:href='{}'/></svg>",
            file.display()
        );
        assert_eq!(look(&draw(&svg).unwrap()).2, 0);
    }

    #[test]
    fn what_cannot_be_drawn_is_left_out() {
        let pictures = Pictures::default();
        for broken in [
            "",
            "<svg",
            "<svg xmlns='http://www.w3.org/2000/svg'/>x",
            "<svg xmlns='http://www.w3.org/2000/svg' width='1e9' height='1e9'/>",
        ] {
            assert_eq!(pictures.png(broken), None, "{broken}");
        }
        let drawn = pictures.png(&with("C")).unwrap();
        assert_eq!(pictures.png(&with("C")), Some(drawn));
    }
}
