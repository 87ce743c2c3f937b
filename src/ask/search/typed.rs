//! One place as typed: found, or asked back.
use super::candidate::{NameCandidate, NameFit};
use super::find::{NameFound, find};
use super::road::on_road;
use crate::base::coordinates::{self, Coordinates, written};
use crate::base::error::{Error, Result};
use crate::base::geodesy::Position;
use crate::layer::{Bounds, Layer};

/// Most places that are asked about.
const ASKED: usize = 10;
/// Letters of what was typed that are told again.
const TOLD: usize = 60;

/// What to do where nothing can be made of what was typed.
const GIVE: &str =
    "give coordinates such as 46.99,-28.01, or the name of a town, village, pass, stop or road of the layer";

/// A place that was typed.
#[derive(Debug, Clone, PartialEq)]
pub struct PlaceTyped {
    /// Where it is.
    pub at: Position,
    /// What was taken for the words: `Wether Harbour (town, 46.96922,-28.05054)`; nothing for coordinates.
    pub told: Option<String>,
}

impl PlaceTyped {
    /// The same on the road nearest to it, if it was typed by name and there is one within 3 km: names stand on squares and in
    /// meadows. Coordinates stay what they are.
    ///
    /// # Errors
    /// The layer cannot be read.
    pub fn on_road(self, layer: &Layer) -> Result<Self> {
        let at = if self.told.is_some() { on_road(layer, self.at)? } else { None };
        Ok(Self { at: at.unwrap_or(self.at), ..self })
    }
}

/// The place that is meant.
///
/// # Errors
/// It is not a place, or could be several: the error lists what it could be and what to type.
pub fn place_typed(layer: &Layer, text: &str) -> Result<PlaceTyped> {
    let shown = || format!("place `{}`", text.trim().chars().take(TOLD).collect::<String>());
    let at = |c: Coordinates| Position::from_deg(c.lon_deg, c.lat_deg);
    match coordinates::read(text) {
        Err(fact) => Err(Error::usage(shown(), fact, GIVE)),
        Ok(Some(found)) => match swapped(layer, found)? {
            None => Ok(PlaceTyped { at: at(found), told: None }),
            Some(fact) => {
                Err(Error::usage(shown(), fact, "latitude comes first; N, S, E or W behind the numbers settle it"))
            }
        },
        Ok(None) if text.trim().is_empty() => Err(Error::usage("place", "is empty", GIVE)),
        Ok(None) => named(layer, find(layer, text)?, text)?.map_err(|(fact, next)| Error::usage(shown(), fact, next)),
    }
}

/// What is said of numbers that lie outside of the layer, and inside when they are swapped. Nothing is swapped in silence.
fn swapped(layer: &Layer, found: Coordinates) -> Result<Option<String>> {
    let other = Position::from_deg(found.lat_deg, found.lon_deg);
    if found.lettered || !(-90.0..=90.0).contains(&found.lon_deg) {
        return Ok(None);
    }
    let holds = |extent: Bounds, at: Position| extent.meets(Bounds { min: at, max: at });
    let Some(extent) = layer.extent()? else { return Ok(None) };
    let here = Position::from_deg(found.lon_deg, found.lat_deg);
    Ok((!holds(extent, here) && holds(extent, other)).then(|| {
        let meant = written(found.lon_deg, found.lat_deg);
        format!("lies outside of the layer, and inside with its numbers swapped: did you mean `{meant}`?")
    }))
}

/// The one candidate, or what is wrong and what to do.
fn named(layer: &Layer, found: NameFound, text: &str) -> Result<Result<PlaceTyped, (String, String)>> {
    Ok(match found.best.as_slice() {
        [] => Err(unknown(&found.nearest, text)),
        [only] if !found.long_road => {
            layer.check_name(&only.row)?;
            let read = if only.fit == NameFit::Spelling { ", the nearest name to what was typed" } else { "" };
            Ok(PlaceTyped { at: only.at(), told: Some(format!("{}{read}", only.told())) })
        }
        [road] => {
            let km = road.row.length_m.unwrap_or(0.0) / 1e3;
            let fact = format!("is a road of {km:.1} km, too long to be one place");
            Err((fact, format!("type {}, or coordinates on it", asked(road, &found.best))))
        }
        several => Err(ask_back(several)),
    })
}

fn unknown(nearest: &[String], text: &str) -> (String, String) {
    let is_half = text.bytes().any(|b| b.is_ascii_digit()) && !text.chars().any(char::is_alphabetic);
    let fact = if is_half { "is one number, and no name of the layer" } else { "is not a name of the layer" };
    if nearest.is_empty() {
        return (fact.to_owned(), GIVE.to_owned());
    }
    let names: Vec<String> = nearest.iter().map(|name| format!("`{name}`")).collect();
    (fact.to_owned(), format!("did you mean {}? {}", names.join(", "), sentence(GIVE)))
}

/// With a capital, behind another sentence.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// The list of what could be meant.
fn ask_back(several: &[NameCandidate]) -> (String, String) {
    let fact = format!("could be {} places", several.len());
    let mut listed: Vec<String> = several.iter().take(ASKED).map(|c| asked(c, several)).collect();
    if several.len() > ASKED {
        listed
            .push(format!("or one of {} more: say in or near which place, as in `NAME, TOWN`", several.len() - ASKED));
    }
    (fact, format!("type one of these: {}", listed.join("; ")))
}

/// What to type for a candidate, and what it is.
fn asked(candidate: &NameCandidate, among: &[NameCandidate]) -> String {
    let typed = candidate.typed(among);
    let told = match candidate.near.as_ref().filter(|_| !typed.contains(" in ")) {
        Some(near) => format!("{} near {}", candidate.row.kind, near.name),
        None => candidate.row.kind.to_string(),
    };
    // Where coordinates are to be typed, the name alone would not tell which one is meant.
    match typed == candidate.coordinates() {
        true => format!("`{typed}` ({}, {told})", candidate.row.name),
        false => format!("`{typed}` ({told}, {})", candidate.coordinates()),
    }
}
