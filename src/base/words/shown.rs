//! How people want figures told.
use super::declare::words;

words! {
    /// Units in which people are told lengths. Programs always get metres and kilometres.
    #[derive(Default)]
    pub enum Units {
        /// Metres, kilometres, km/h.
        #[default]
        Metric = "metric",
        /// Feet, inches, miles, mph.
        Imperial = "imperial",
    }

    /// How a clock counts the hours of a day.
    #[derive(Default)]
    pub enum Dial {
        /// 0 to 23.
        #[default]
        Hours24 = "24h",
        /// Twice 1 to 12.
        Hours12 = "12h",
    }
}

/// How people are told figures: what they set, and not what a question is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct HowTold {
    /// Lengths.
    pub units: Units,
    /// Times of day.
    pub dial: Dial,
}
