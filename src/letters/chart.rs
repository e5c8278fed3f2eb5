//! The chart of a letter: the heat of its batches against their windows, one picture a site.

/// One picture; all that it shows is said in words too.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Chart {
    /// The site.
    pub site: String,
    /// The name by which a letter shows it, `cid:NAME`; the same picture has the same name.
    pub cid: String,
    /// What it shows, in words.
    pub alt: String,
    /// The picture as SVG.
    pub svg: String,
}
