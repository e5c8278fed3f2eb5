//! Which way heat is reckoned: the method, its cutoff and its temperatures. `heat` does the reckoning.

/// How a day's minimum and maximum become heat (domain words; the formulas and sources are in `heat`).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Method {
    /// Mean of minimum and maximum; the cutoff acts on the mean.
    Average,
    /// Both readings clamped between base and upper, then averaged (the 86/50 rule).
    ClampedAverage,
    /// One triangle a day.
    SingleTriangle,
    /// Two half triangles, the second down to tomorrow's minimum.
    DoubleTriangle,
    /// One sine wave a day.
    SingleSine,
    /// Two half sine waves, the second down to tomorrow's minimum.
    DoubleSine,
    /// Growing degree hours over the day's sine wave.
    GrowingDegreeHours,
    /// Beta response over the day's sine wave, in optimum-days.
    Beta,
}

impl Method {
    /// Every method, in the order of the documentation.
    pub const ALL: [Self; 8] = [
        Self::Average,
        Self::ClampedAverage,
        Self::SingleTriangle,
        Self::DoubleTriangle,
        Self::SingleSine,
        Self::DoubleSine,
        Self::GrowingDegreeHours,
        Self::Beta,
    ];

    /// The name used in files and on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Self::Average => "average",
            Self::ClampedAverage => "clamped-average",
            Self::SingleTriangle => "single-triangle",
            Self::DoubleTriangle => "double-triangle",
            Self::SingleSine => "single-sine",
            Self::DoubleSine => "double-sine",
            Self::GrowingDegreeHours => "growing-degree-hours",
            Self::Beta => "beta",
        }
    }

    /// The method of that name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|m| m.name() == name)
    }

    /// Needs an optimum and an upper temperature, and takes no cutoff.
    pub fn is_response(self) -> bool {
        matches!(self, Self::GrowingDegreeHours | Self::Beta)
    }

    /// Needs tomorrow's minimum.
    pub fn is_double(self) -> bool {
        matches!(self, Self::DoubleTriangle | Self::DoubleSine)
    }

    /// The unit of the sum: `degree-days`, `degree-hours` or `optimum-days`.
    pub fn unit(self) -> &'static str {
        match self {
            Self::GrowingDegreeHours => "degree-hours",
            Self::Beta => "optimum-days",
            _ => "degree-days",
        }
    }
}

/// What happens to warmth above the upper temperature.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Cutoff {
    /// There is no upper temperature.
    #[default]
    None,
    /// Counts as if it were the upper temperature.
    Horizontal,
    /// Counts down again by as much as it is above.
    Intermediate,
    /// Counts nothing.
    Vertical,
}

impl Cutoff {
    /// Every cutoff, in the order of the documentation.
    pub const ALL: [Self; 4] = [
        Self::None,
        Self::Horizontal,
        Self::Intermediate,
        Self::Vertical,
    ];

    /// The name used in files and on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::Horizontal => "horizontal",
            Self::Intermediate => "intermediate",
            Self::Vertical => "vertical",
        }
    }

    /// The cutoff of that name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|c| c.name() == name)
    }
}

/// A way to reckon heat. Part of a care plan: a heat sum only holds for the method it was fitted with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Model {
    /// The curve or response.
    pub method: Method,
    /// What happens above `upper`; [`Cutoff::None`] for the responses.
    pub cutoff: Cutoff,
    /// Base temperature in °C, below which nothing grows.
    pub base: f64,
    /// Optimum temperature in °C; only the responses have one.
    pub optimum: Option<f64>,
    /// Upper temperature in °C, above `base` (and `optimum`); absent only where `cutoff` is none.
    pub upper: Option<f64>,
}

impl Model {
    /// Refuses temperatures that do not belong together, in a grower's words.
    pub fn new(
        method: Method,
        cutoff: Cutoff,
        base: f64,
        optimum: Option<f64>,
        upper: Option<f64>,
    ) -> Result<Self, String> {
        let finite = |t: f64| t.is_finite() && (-60.0..=80.0).contains(&t);
        if ![Some(base), optimum, upper]
            .into_iter()
            .flatten()
            .all(finite)
        {
            return Err("base, optimum and upper must lie between -60 and 80 °C".into());
        }
        if method.is_response() {
            let (Some(optimum), Some(upper)) = (optimum, upper) else {
                return Err(format!(
                    "{} needs an optimum and an upper temperature",
                    method.name()
                ));
            };
            if !(base < optimum && optimum < upper) {
                return Err(format!(
                    "base {base} must lie below optimum {optimum}, and that below upper {upper}"
                ));
            }
            return Ok(Self {
                method,
                cutoff: Cutoff::None,
                base,
                optimum: Some(optimum),
                upper: Some(upper),
            });
        }
        if optimum.is_some() {
            return Err(format!(
                "{} has no optimum; only growing-degree-hours and beta do",
                method.name()
            ));
        }
        match (cutoff, upper) {
            (Cutoff::None, _) => Ok(Self {
                method,
                cutoff,
                base,
                optimum: None,
                upper: None,
            }),
            (_, None) => Err(format!(
                "a {} cutoff needs an upper temperature",
                cutoff.name()
            )),
            (_, Some(upper)) if upper <= base => {
                Err(format!("upper {upper} must lie above base {base}"))
            }
            (_, Some(_)) => Ok(Self {
                method,
                cutoff,
                base,
                optimum: None,
                upper,
            }),
        }
    }
}
