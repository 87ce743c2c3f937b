//! What a layer says about itself, as far as the reader of an answer must know it.
use serde::Serialize;

use crate::profile::Profile;

/// Where the answers of a trip come from.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Source {
    /// Who must be credited for the map data.
    pub credits: Vec<String>,
    /// Dates of the map data where the extract tells them, RFC 3339.
    pub data_of: Vec<String>,
    /// Version of the program that built the layer.
    pub built_by: String,
    /// Sentences: what the build assumed.
    pub assumed: Vec<String>,
    /// Profile in force.
    #[serde(skip)]
    pub profile: Profile,
}
