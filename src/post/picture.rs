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
/// Pixels for each unit of a picture and the most colours: as fine as there is room for, since phones have fine screens.
const WAYS: [(f32, usize); 7] = [
    (2.0, COLOURS),
    (1.6, COLOURS),
    (1.3, COLOURS),
    (1.3, FEW),
    (1.15, FEW),
    (1.0, FEW),
    (1.0, FEWEST),
];
/// More colours than this are not seen in a chart; with fewer its words have rough edges.
const COLOURS: usize = 48;
const FEW: usize = 20;
const FEWEST: usize = 12;
/// All pictures of a letter are no larger together, in bytes, however much room there is: they are fetched over a phone.
const LARGEST: usize = 40_000;

/// The pictures of one round: what several people are sent is drawn once.
#[derive(Debug, Default)]
pub struct Pictures(RefCell<HashMap<String, Vec<Option<Vec<u8>>>>>);

impl Pictures {
    /// The pictures of one letter as PNG, of no more than so many bytes together, and never more than 40 000; none for one that
    /// cannot be drawn, which is logged, or that has no room: all that it shows is said in words too.
    pub fn of_letter(&self, svgs: &[&str], room: usize) -> Vec<Option<Vec<u8>>> {
        let mut room = room.min(LARGEST);
        let size = |png: &Option<Vec<u8>>| png.as_ref().map_or(0, Vec::len);
        let mut pictures = Vec::new();
        for n in 0..WAYS.len() {
            pictures = svgs.iter().map(|svg| self.png(svg, n)).collect();
            if pictures.iter().map(size).sum::<usize>() <= room {
                break;
            }
        }
        for picture in &mut pictures {
            match room.checked_sub(size(picture)) {
                Some(rest) => room = rest,
                None => *picture = None,
            }
        }
        pictures
    }

    /// In the n-th of [`WAYS`].
    fn png(&self, svg: &str, n: usize) -> Option<Vec<u8>> {
        let mut drawn = self.0.borrow_mut();
        let known = drawn.entry(svg.to_owned()).or_default();
        while known.len() <= n {
            let png = draw(svg, WAYS[known.len()]).inspect_err(|why| {
                tracing::warn!("a chart could not be drawn and is left out: {why}");
            });
            known.push(png.ok());
        }
        known[n].clone()
    }
}

fn draw(svg: &str, (scale, colours): (f32, usize)) -> Result<Vec<u8>, String> {
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
        .scale_by(scale)
        .filter(|size| size.width() <= 4000 && size.height() <= 4000)
        .ok_or("its size is out of range")?;
    let mut pixels = Pixmap::new(size.width(), size.height()).ok_or("it has no size")?;
    resvg::render(
        &tree,
        Transform::from_scale(scale, scale),
        &mut pixels.as_mut(),
    );
    packed(&pixels, colours).map_err(|e| e.to_string())
}

/// Two colours nearer to each other than this (squared, in steps of 1/255) are drawn as one.
const APART: i32 = 24 * 24 * 3;

type Colour = [u8; 3];

/// The pixels as a PNG with few colours: a quarter of the size that it would have with all of them. The commonest are kept,
/// and each other becomes the one most like it.
fn packed(pixels: &Pixmap, most: usize) -> Result<Vec<u8>, png::EncodingError> {
    let white = |of: u8, alpha: u8| of.saturating_add(255 - alpha);
    // Nearly all of a chart is long runs of one colour: each is looked at once.
    let runs = pixels.pixels().chunk_by(|a, b| a == b);
    let runs: Vec<(Colour, usize)> = runs
        .map(|run| {
            let p = run[0];
            let colour = [p.red(), p.green(), p.blue()].map(|c| white(c, p.alpha()));
            (colour, run.len())
        })
        .collect();
    let mut often: HashMap<Colour, usize> = HashMap::new();
    for (colour, length) in &runs {
        *often.entry(*colour).or_default() += length;
    }
    let mut often: Vec<(Colour, usize)> = often.into_iter().collect();
    often.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(&b.0)));
    let mut palette: Vec<Colour> = Vec::new();
    for (colour, _) in &often {
        if palette.len() < most && palette.iter().all(|p| apart(*p, *colour) > APART) {
            palette.push(*colour);
        }
    }
    let nearest = |colour: Colour| {
        let near = (0_u8..)
            .zip(&palette)
            .min_by_key(|(_, p)| apart(**p, colour));
        near.map_or(0, |(n, _)| n)
    };
    let places: HashMap<Colour, u8> = often.iter().map(|(c, _)| (*c, nearest(*c))).collect();
    let mut indices: Vec<u8> = Vec::with_capacity(pixels.pixels().len());
    for (colour, length) in &runs {
        indices.resize(indices.len() + length, places[colour]);
    }
    let mut file = Vec::new();
    let mut encoder = png::Encoder::new(&mut file, pixels.width(), pixels.height());
    encoder.set_color(png::ColorType::Indexed);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_palette(palette.concat());
    encoder.set_compression(png::Compression::High);
    encoder.set_filter(png::Filter::NoFilter);
    let mut writer = encoder.write_header()?;
    writer.write_image_data(&indices)?;
    writer.finish()?;
    Ok(file)
}

fn apart(a: Colour, b: Colour) -> i32 {
    let squares = a.into_iter().zip(b).map(|(a, b)| {
        let d = i32::from(a) - i32::from(b);
        d * d
    });
    squares.sum()
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
        let (blank, word) = (
            draw(&with(""), WAYS[0]).unwrap(),
            draw(&with("C-14"), WAYS[0]).unwrap(),
        );
        assert!(word.starts_with(b"\x89PNG\r\n\x1a\n"));
        assert_eq!(look(&blank), (120, 60, 0));
        let (width, height, dark) = look(&word);
        assert_eq!((width, height), (120, 60));
        assert!(dark > 200, "{dark}");
    }

    #[test]
    fn every_letter_that_is_said_to_be_there_is() {
        let unknown = look(&draw(&with("\u{25a1}"), WAYS[0]).unwrap()).2;
        let missing = look(&draw(&with("\u{4e2d}"), WAYS[0]).unwrap()).2;
        assert_eq!(missing, unknown);
        for letter in LETTERS.iter().flat_map(|l| [*l.start(), *l.end()]) {
            if letter == '\u{a0}' {
                continue;
            }
            let dark = look(&draw(&with(&letter.to_string()), WAYS[0]).unwrap()).2;
            assert!(dark > 0 && dark != unknown, "{letter}");
        }
    }

    #[test]
    fn nothing_outside_is_looked_at() {
        let place = tempfile::tempdir().unwrap();
        let file = place.path().join("x.png");
        std::fs::write(&file, draw(&with("MMMM"), WAYS[0]).unwrap()).unwrap();
        let svg = format!(
            "<svg xmlns='http://www.w3.org/2000/svg' xmlns:xlink='http://www.w3.org/1999/xlink' viewBox='0 0 60 30' width='60' height='30'><rect width='60' height='30' fill='#fff'/><image width='60' height='30' xlink:href='{}'/></svg>",
            file.display()
        );
        assert_eq!(look(&draw(&svg, WAYS[0]).unwrap()).2, 0);
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
            assert_eq!(pictures.of_letter(&[broken], LARGEST), [None], "{broken}");
        }
        // The others are there all the same, and alike each time.
        let word = with("C");
        let drawn = pictures.of_letter(&["<svg", &word], LARGEST);
        assert!(drawn[0].is_none() && drawn[1].is_some());
        assert_eq!(pictures.of_letter(&["<svg", &word], LARGEST), drawn);
    }
}
