//! How a temperature file of the grower's own is laid out, as far as the config says it.

/// What the config says of a file; what it leaves out is found in the file.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Layout {
    /// The headings of its columns.
    pub columns: Columns,
    /// The unit of its temperatures.
    pub unit: Option<Unit>,
    /// How its dates are written (strftime), where not as ISO 8601.
    pub date_format: Option<String>,
    /// The byte between two fields.
    pub delimiter: Option<u8>,
}

/// The headings of the columns, where they are not the usual ones.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Columns {
    /// The date, or date and time.
    pub date: Option<String>,
    /// The time of day, where it has a column of its own.
    pub time: Option<String>,
    /// The day's (or interval's) minimum.
    pub min: Option<String>,
    /// The day's (or interval's) maximum.
    pub max: Option<String>,
    /// One reading.
    pub temp: Option<String>,
    /// The strongest gust in km/h.
    pub gust: Option<String>,
    /// Rain in mm.
    pub rain: Option<String>,
}

/// The unit of temperatures in a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// °C.
    C,
    /// °F.
    F,
}
