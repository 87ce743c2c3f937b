//! Layers of neighbouring regions asked as one with the first.
use std::ops::Deref;
use std::path::{Path, PathBuf};

use clap::{Args as ClapArgs, ValueHint};

use super::read;
use crate::ask::neighbours::{JoinedLayers, check_files, joined, reach_along};
use crate::ask::track::{Track, read_with};
use crate::base::error::Result;
use crate::layer::{Bounds, Layer};

/// Options of commands that may be asked of several layers.
#[derive(Debug, ClapArgs)]
pub(crate) struct WithLayers {
    /// A layer of a neighbouring region, asked as one with LAYER; may be given several times
    ///
    /// They are joined for this question, where they share nodes of the map or the line of a district cuts a road. Nothing is
    /// filled in between them. All must be built with the same profile.
    #[arg(long, value_name = "LAYER", value_hint = ValueHint::FilePath)]
    pub with: Vec<PathBuf>,
}

/// A layer that is asked: a file, or several that are joined as long as this lasts.
pub(crate) struct AskedLayer {
    layer: Layer,
    /// What is said with the answer.
    pub told: Vec<String>,
    /// What is said where places to stop are listed.
    pub of_stops: Vec<String>,
    /// What is said where meetings are held.
    pub of_masks: Vec<String>,
}

impl Deref for AskedLayer {
    type Target = Layer;
    fn deref(&self) -> &Layer {
        &self.layer
    }
}

impl WithLayers {
    /// Opens what is asked. Of several layers only what meets the boxes is joined; without boxes all of it.
    ///
    /// # Errors
    /// A layer cannot be read, or they cannot be asked together.
    pub fn open(&self, first: &Path, boxes: Option<&[Bounds]>) -> Result<AskedLayer> {
        if self.with.is_empty() {
            let [told, of_stops, of_masks] = [const { Vec::new() }; 3];
            return Ok(AskedLayer { layer: Layer::open(first)?, told, of_stops, of_masks });
        }
        let paths: Vec<PathBuf> = [first.to_owned()].into_iter().chain(self.with.iter().cloned()).collect();
        check_files(&paths)?;
        let layers = paths.iter().map(|path| Layer::open(path)).collect::<Result<Vec<_>>>()?;
        let JoinedLayers { layer, told, of_stops, of_masks } = joined(layers, boxes, &std::env::temp_dir())?;
        Ok(AskedLayer { layer, told, of_stops, of_masks })
    }
    /// Opens what is asked about a track: of several layers only what lies within a distance of it, metres, is joined, unless the
    /// track is places by name, which may lie anywhere.
    ///
    /// # Errors
    /// As of [`Self::open`], or the track cannot be read.
    pub fn open_along(
        &self,
        first: &Path,
        (track, polyline_decimals): (&str, Option<u8>),
        within_m: f64,
    ) -> Result<(AskedLayer, Track)> {
        if self.with.is_empty() {
            let layer = self.open(first, None)?;
            let track = read::track_in(&layer, track, polyline_decimals)?;
            return Ok((layer, track));
        }
        let given = match read::names_file(track) {
            true => Some(read::track(track, polyline_decimals)?),
            false => read_with(track, polyline_decimals).ok().filter(|_| track.contains(|c: char| c.is_ascii_digit())),
        };
        let boxes = given.as_ref().map(|track| reach_along(track, within_m));
        let layer = self.open(first, boxes.as_deref())?;
        let mut track = match given {
            Some(track) => track,
            None => read::track_in(&layer, track, polyline_decimals)?,
        };
        track.notes.splice(0..0, layer.told.iter().cloned());
        Ok((layer, track))
    }
}
