//! What a layer says about itself, as far as the reader of an answer must know it.
use std::collections::BTreeSet;

use serde::Serialize;

use crate::base::words::InputRole;
use crate::layer::Layer;
use crate::layer::model::InputRecord;
use crate::profile::Profile;

/// Where the answers of a trip come from.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Source {
    /// Who must be credited for the map data.
    pub credits: Vec<String>,
    /// Dates of the map data where the extract gives them, RFC 3339.
    pub data_of: Vec<String>,
    /// Version of the program that built the layer.
    pub built_by: String,
    /// Sentences: what the build assumed.
    pub assumed: Vec<String>,
    /// Profile in force.
    #[serde(skip)]
    pub profile: Profile,
}

impl Source {
    /// What a layer says about itself.
    pub fn of(layer: &Layer) -> Self {
        let record = layer.record();
        let told = |what: fn(&InputRecord) -> Option<&String>| {
            let all: BTreeSet<String> = record.inputs.iter().filter_map(what).cloned().collect();
            all.into_iter().collect()
        };
        Self {
            credits: told(|i| i.attribution.as_ref()),
            data_of: told(|i| i.data_time.as_ref().filter(|_| i.role == InputRole::Extract)),
            built_by: record.waymask_version.clone(),
            assumed: record.assumed.clone(),
            profile: record.profile.clone(),
        }
    }
}
