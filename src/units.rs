//! The measures of the trade as types, so that warmth is never mixed up with a temperature.
//!
//! Everything inside is metric and finite; degrees Fahrenheit exist only at the edges, through the conversions here.

use std::fmt;

/// A temperature in °C. Always finite.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Celsius(pub f64);

impl Celsius {
    /// From °F.
    ///
    /// ```
    /// use graftwarden::units::Celsius;
    /// assert_eq!(Celsius::from_fahrenheit(50.0).0, 10.0);
    /// ```
    pub fn from_fahrenheit(f: f64) -> Self {
        Self((f - 32.0) / 1.8)
    }

    /// In °F.
    pub fn fahrenheit(self) -> f64 {
        self.0 * 1.8 + 32.0
    }
}

/// Heat: warmth gathered over days, in °C·d above a base (or in the unit of the plan's rate). Finite, not negative.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct DegreeDays(pub f64);

/// Heat counted in days of usual grafting-season weather: how growers think ("17 of the 21 days").
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct StandardDays(pub f64);

impl DegreeDays {
    /// This much heat in standard days of the given size.
    pub fn in_standard_days(self, standard_day: DegreeDays) -> StandardDays {
        StandardDays(self.0 / standard_day.0)
    }
}

impl StandardDays {
    /// These standard days as heat, for a standard day of the given size.
    pub fn as_heat(self, standard_day: DegreeDays) -> DegreeDays {
        DegreeDays(self.0 * standard_day.0)
    }
}

/// The measures a person reads.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Units {
    /// °C, °C·d, cm.
    #[default]
    Metric,
    /// °F, °F·d, inches.
    Us,
}

impl Units {
    /// A temperature in whole degrees, with its unit.
    pub fn temperature(self, t: Celsius) -> String {
        match self {
            Self::Metric => format!("{:.0} °C", t.0),
            Self::Us => format!("{:.0} °F", t.fahrenheit()),
        }
    }

    /// A difference of temperatures in °C to one decimal, with its sign, without its unit.
    ///
    /// ```
    /// use graftwarden::units::Units;
    /// assert_eq!(Units::Metric.difference_figure(2.14), "+2.1");
    /// assert_eq!(Units::Us.difference_figure(-1.0), "-1.8");
    /// ```
    pub fn difference_figure(self, apart: f64) -> String {
        match self {
            Self::Metric => format!("{apart:+.1}"),
            Self::Us => format!("{:+.1}", apart * 1.8),
        }
    }

    /// A temperature to one decimal, without its unit, for tables.
    pub fn temperature_figure(self, t: Celsius) -> String {
        match self {
            Self::Metric => format!("{:.1}", t.0),
            Self::Us => format!("{:.1}", t.fahrenheit()),
        }
    }

    /// The name of the unit of temperature.
    pub fn temperature_unit(self) -> &'static str {
        match self {
            Self::Metric => "°C",
            Self::Us => "°F",
        }
    }

    /// A wind in whole km/h (miles an hour), with its unit.
    pub fn wind(self, kmh: f64) -> String {
        match self {
            Self::Metric => format!("{kmh:.0} km/h"),
            Self::Us => format!("{:.0} mph", kmh / 1.609_344),
        }
    }

    /// Rain in whole mm (inches to one decimal), with its unit.
    pub fn rain(self, mm: f64) -> String {
        match self {
            Self::Metric => format!("{mm:.0} mm"),
            Self::Us => format!("{:.1} in", mm / 25.4),
        }
    }

    /// Heat in whole degree-days, with its unit. One °C·d is 1.8 °F·d.
    pub fn heat(self, heat: DegreeDays) -> String {
        match self {
            Self::Metric => format!("{:.0} °C·d", heat.0),
            Self::Us => format!("{:.0} °F·d", heat.0 * 1.8),
        }
    }
}

impl fmt::Display for Celsius {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} °C", self.0)
    }
}
