//! How the page of a letter looks: dark ink on white for the sun, and the same turned round for the dark.
//!
//! Styles only; nothing here means anything by its colour. They stand in each element because some mail programs leave
//! out the head of a page; what hangs on the reader's screen stands in the one `STYLE`.

/// The colours, in one place so that their contrast can be reckoned.
macro_rules! colour {
    (paper) => {
        "#ffffff"
    };
    (ink) => {
        "#17212b"
    };
    (quiet) => {
        "#4b5663"
    };
    (rule) => {
        "#8b95a1"
    };
    (top) => {
        "#113c46"
    };
    (top ink) => {
        "#ffffff"
    };
    (care) => {
        "#fdf1d0"
    };
    (care edge) => {
        "#7d4e00"
    };
    (dark paper) => {
        "#13181c"
    };
    (dark ink) => {
        "#ecebe6"
    };
    (dark quiet) => {
        "#b9bec4"
    };
    (dark top) => {
        "#1d4f5b"
    };
    (dark care) => {
        "#2e2610"
    };
    (dark care edge) => {
        "#e2b65a"
    };
}

pub const PAGE: &str = concat!(
    "margin:0;padding:0;background:",
    colour!(paper),
    ";color:",
    colour!(ink)
);
pub const SHEET: &str = concat!(
    "max-width:600px;margin:0 auto;padding:16px;background:",
    colour!(paper),
    ";color:",
    colour!(ink),
    ";font-family:system-ui,-apple-system,'Segoe UI',Roboto,Helvetica,Arial,sans-serif;\
     font-size:16px;line-height:1.45;overflow-wrap:anywhere"
);
pub const QUIET: &str = concat!("margin:0 0 12px;color:", colour!(quiet));
/// The first thing to do, as on a board.
pub const TOP: &str = concat!(
    "background:",
    colour!(top),
    ";color:",
    colour!(top ink),
    ";padding:16px 16px 4px;margin:0 0 16px;border-radius:4px"
);
pub const FIRST: &str = "margin:0 0 12px;font-size:26px;line-height:1.2;font-weight:bold";
pub const LEAD: &str = "margin:0 0 12px;font-size:20px;line-height:1.3";
pub const NEXT: &str = concat!(
    "margin:24px 0 0;padding:16px 0 0;border-top:3px solid ",
    colour!(rule)
);
pub const HEADING: &str = "margin:0 0 12px;font-size:22px;line-height:1.25;font-weight:bold";
pub const PLACES: &str = "margin:0;padding:0;list-style:none";
pub const PLACE: &str = "margin:12px 0";
pub const BIG: &str = "font-size:20px;line-height:1.3";
pub const UNTIL: &str = "display:block;font-size:20px;line-height:1.3";
pub const PARAGRAPH: &str = "margin:0 0 12px";
pub const TITLE: &str = "margin:16px 0 4px;font-size:16px;font-weight:bold";
pub const LIST: &str = "margin:0 0 12px;padding:0 0 0 20px";
pub const TABLE: &str =
    "width:100%;border-collapse:collapse;margin:16px 0;overflow-wrap:break-word";
/// Where a name would push the other columns off a phone.
pub const NARROW: &str =
    "width:100%;table-layout:fixed;border-collapse:collapse;margin:16px 0;overflow-wrap:anywhere";
pub const CAPTION: &str = "text-align:left;font-weight:bold;padding:0 0 4px";
pub const COLUMN: &str = concat!(
    "text-align:left;vertical-align:bottom;padding:4px 8px 4px 0;border-bottom:2px solid ",
    colour!(rule)
);
pub const GROUP: &str = concat!(
    "text-align:left;padding:16px 0 4px;border-bottom:1px solid ",
    colour!(rule)
);
pub const CELL: &str = concat!(
    "text-align:left;vertical-align:top;font-weight:normal;padding:8px 8px 8px 0;border-bottom:1px solid ",
    colour!(rule)
);
pub const CHART: &str = "display:block;width:100%;height:auto;margin:16px 0;background:#ffffff";
pub const CARE: &str = concat!(
    "margin:16px 0;padding:12px 12px 12px 14px;background:",
    colour!(care),
    ";border:1px solid ",
    colour!(care edge),
    ";border-left:8px solid ",
    colour!(care edge)
);
pub const TAPS: &str = "margin:0 0 16px";
/// A thumb needs 44 px: 12 above, 24 of text, 12 below, and the edge.
pub const TAP: &str = concat!(
    "display:inline-block;margin:0 12px 12px 0;padding:12px 24px;font-size:18px;line-height:24px;font-weight:bold;\
     text-decoration:none;border-radius:4px;border:2px solid ",
    colour!(top),
    ";background:",
    colour!(paper),
    ";color:",
    colour!(ink)
);
pub const LIKELY: &str = concat!(
    "display:inline-block;margin:0 12px 12px 0;padding:12px 24px;font-size:18px;line-height:24px;font-weight:bold;\
     text-decoration:none;border-radius:4px;border:2px solid ",
    colour!(top),
    ";background:",
    colour!(top),
    ";color:",
    colour!(top ink)
);
pub const SMALL: &str = concat!(
    "margin:24px 0 0;padding:12px 0 0;font-size:14px;color:",
    colour!(quiet),
    ";border-top:1px solid ",
    colour!(rule)
);

/// What hangs on the screen: the dark, and phones.
pub const STYLE: &str = concat!(
    ":root{color-scheme:light dark}\n",
    ".whole{white-space:nowrap}\n",
    "@media (prefers-color-scheme:dark){\n",
    ".page{background:",
    colour!(dark paper),
    "!important;color:",
    colour!(dark ink),
    "!important}\n",
    ".quiet{color:",
    colour!(dark quiet),
    "!important}\n",
    ".top{background:",
    colour!(dark top),
    "!important}\n",
    ".care{background:",
    colour!(dark care),
    "!important;border-color:",
    colour!(dark care edge),
    "!important}\n",
    ".tap{background:",
    colour!(dark paper),
    "!important;color:",
    colour!(dark ink),
    "!important;border-color:",
    colour!(dark ink),
    "!important}\n",
    ".likely{background:",
    colour!(dark ink),
    "!important;color:",
    colour!(dark paper),
    "!important;border-color:",
    colour!(dark ink),
    "!important}\n",
    "}\n",
    "@media (max-width:420px){\n",
    ".sheet{padding:12px!important}\n",
    ".tap,.likely{display:block!important;margin:0 0 12px!important;text-align:center}\n",
    "}"
);

#[cfg(test)]
mod tests {
    /// Relative luminance (WCAG 2.2).
    fn luminance(colour: &str) -> f64 {
        let channel = |at: usize| {
            let c = f64::from(u8::from_str_radix(&colour[at..at + 2], 16).unwrap()) / 255.0;
            if c <= 0.04045 {
                c / 12.92
            } else {
                ((c + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
    }

    fn contrast(one: &str, other: &str) -> f64 {
        let (one, other) = (luminance(one), luminance(other));
        (one.max(other) + 0.05) / (one.min(other) + 0.05)
    }

    #[track_caller]
    fn check(ink: &str, paper: &str, least: f64) {
        let found = contrast(ink, paper);
        assert!(found >= least, "{ink} on {paper}: {found:.2}");
    }

    #[test]
    fn contrast_is_as_it_is_published() {
        assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 0.005);
        // The lightest grey that is still 4.5 to 1 on white.
        assert!((contrast("#767676", "#ffffff") - 4.54).abs() < 0.005);
    }

    #[test]
    fn words_are_read_in_the_sun_and_in_the_dark() {
        // 7 to 1 is more than AA asks (4.5): the sun takes some.
        check(colour!(ink), colour!(paper), 7.0);
        check(colour!(quiet), colour!(paper), 7.0);
        check(colour!(top ink), colour!(top), 7.0);
        check(colour!(ink), colour!(care), 7.0);
        check(colour!(dark ink), colour!(dark paper), 7.0);
        check(colour!(dark quiet), colour!(dark paper), 7.0);
        check(colour!(top ink), colour!(dark top), 7.0);
        check(colour!(dark ink), colour!(dark care), 7.0);
    }

    #[test]
    fn edges_are_seen() {
        for edge in [colour!(rule), colour!(top), colour!(care edge)] {
            check(edge, colour!(paper), 3.0);
        }
        check(colour!(care edge), colour!(care), 3.0);
        for edge in [colour!(rule), colour!(dark ink), colour!(dark care edge)] {
            check(edge, colour!(dark paper), 3.0);
        }
    }
}
