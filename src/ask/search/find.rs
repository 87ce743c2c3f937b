//! Candidates for a name: the same spelling, then what begins so, then what holds all words, then the nearest spelling.
use super::candidate::{NameCandidate, NameFit};
use super::spelling::{LetterCounts, apart, holds_words, slips};
use crate::base::error::Result;
use crate::base::fold::folded;
use crate::base::geodesy::distance_m;
use crate::base::words::NameKind;
use crate::layer::Layer;

/// Fewest letters that a name may begin with.
const LEAST_BEGUN: usize = 3;
/// Most names read that begin alike, and most spellings that hold some words: far more than anybody can be asked about.
const MOST_READ: usize = 300;
/// Names told where nothing is found.
const NEAREST: usize = 5;
/// A road shorter than this may be a place by its name alone, metres.
const SHORT_ROAD_M: f64 = 2_000.0;
/// What lies this near to a place that was typed with it lies there, metres.
const IN_TOWN_M: f64 = 10_000.0;

/// What was found for a name.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct NameFound {
    /// Candidates that fit equally well; the layer cannot tell which is meant where there are several.
    pub best: Vec<NameCandidate>,
    /// Whether the one candidate is a road too long to be a place.
    pub long_road: bool,
    /// The nearest names where nothing fits.
    pub nearest: Vec<String>,
}

/// Looks for a name: `Ordino`, `Altdorf, Bayreuth`, `Main Street in Ordino`.
///
/// # Errors
/// The layer cannot be read.
pub fn find(layer: &Layer, text: &str) -> Result<NameFound> {
    let typed = folded(text);
    if typed.is_empty() {
        return Ok(NameFound::default());
    }
    let exact = NameCandidate::of_rows(layer, layer.names_of(&typed)?, NameFit::Exact)?;
    if !exact.is_empty() {
        return Ok(settled(exact, false));
    }
    for (name, town) in narrowed(text) {
        let mut found = staged(layer, &name)?.best;
        let near_town = found.iter().any(|c| c.lies_near(&town));
        let middles: Vec<_> = if near_town { Vec::new() } else { places_of(layer, &town)? };
        found.retain(|c| match near_town {
            true => c.lies_near(&town),
            false => middles.iter().any(|at| distance_m(*at, c.at()) <= IN_TOWN_M),
        });
        if !found.is_empty() {
            return Ok(settled(found, true));
        }
    }
    let NameFound { best, nearest, .. } = staged(layer, &typed)?;
    Ok(NameFound { nearest, ..settled(best, false) })
}

/// `NAME, TOWN` and `ROAD in TOWN`, folded.
fn narrowed(text: &str) -> Vec<(String, String)> {
    let lower = text.to_lowercase();
    let cut = |at: Option<usize>, by: usize| at.map(|at| (folded(&lower[..at]), folded(&lower[at + by..])));
    let all = [cut(lower.rfind(','), 1), cut(lower.rfind(" in "), 4)];
    all.into_iter().flatten().filter(|(name, town)| !name.is_empty() && !town.is_empty()).collect()
}

/// Where places of a spelling lie.
fn places_of(layer: &Layer, town: &str) -> Result<Vec<crate::base::geodesy::Position>> {
    let rows = layer.names_of(town)?;
    Ok(rows.iter().filter(|r| !matches!(r.kind, NameKind::Road | NameKind::Stop)).map(|r| r.at()).collect())
}

/// The best of candidates: those whose kind is known best, all that are equally good. With a town said, a road is a place.
fn settled(mut found: Vec<NameCandidate>, town_said: bool) -> NameFound {
    // A road and a place of the same name are equally good; a place to stop is often called after its village.
    let is_exact = found.first().is_some_and(|c| c.fit == NameFit::Exact);
    let class = |c: &NameCandidate| if is_exact { c.class() / 2 } else { c.class() };
    let best = found.iter().map(class).min().unwrap_or(0);
    found.retain(|c| class(c) == best);
    let long = |c: &NameCandidate| c.row.length_m.is_some_and(|m| m >= SHORT_ROAD_M);
    let long_road = !town_said && found.len() == 1 && found.iter().any(long);
    NameFound { best: found, long_road, nearest: Vec::new() }
}

/// All stages for one spelling.
fn staged(layer: &Layer, typed: &str) -> Result<NameFound> {
    let of = |rows, fit| NameCandidate::of_rows(layer, rows, fit);
    let exact = of(layer.names_of(typed)?, NameFit::Exact)?;
    if !exact.is_empty() {
        return Ok(NameFound { best: exact, ..NameFound::default() });
    }
    if typed.chars().count() >= LEAST_BEGUN {
        let mut begun = of(layer.names_that_begin(typed, MOST_READ)?, NameFit::Begins)?;
        // `Andorra` is Andorra la Vella before it is the Andorrana.
        let whole = format!("{typed} ");
        if begun.iter().any(|c| c.row.folded.starts_with(&whole)) {
            begun.retain(|c| c.row.folded.starts_with(&whole));
        }
        if !begun.is_empty() {
            return Ok(NameFound { best: begun, ..NameFound::default() });
        }
    }
    let seen = Spellings::of(layer, typed)?;
    let (spellings, fit) =
        if seen.words.is_empty() { (seen.slipped, NameFit::Spelling) } else { (seen.words, NameFit::Words) };
    let mut rows = Vec::new();
    for spelling in &spellings {
        rows.extend(layer.names_of(spelling)?);
    }
    let best = of(rows, fit)?;
    let mut nearest = Vec::new();
    for (_, spelling) in if best.is_empty() { seen.nearest } else { Vec::new() } {
        nearest.extend(layer.names_of(&spelling)?.into_iter().take(1).map(|row| row.name));
    }
    Ok(NameFound { best, nearest, ..NameFound::default() })
}

/// What one look at all spellings finds.
#[derive(Default)]
struct Spellings {
    /// Those that hold all words.
    words: Vec<String>,
    /// Those at the least distance, where that may be a slip.
    slipped: Vec<String>,
    /// The nearest of all, with their distance.
    nearest: Vec<(usize, String)>,
}

impl Spellings {
    fn of(layer: &Layer, typed: &str) -> Result<Self> {
        let (counts, words): (_, Vec<&str>) = (LetterCounts::of(typed), typed.split(' ').collect());
        let long_enough = typed.chars().filter(|c| *c != ' ').count() >= LEAST_BEGUN;
        let (most, mut seen) = (slips(counts.letters()), Self::default());
        // Beyond this a name has nothing to do with what was typed.
        let mut told = (counts.letters() / 2).max(1);
        layer.each_spelling(|spelling| {
            if long_enough && seen.words.len() < MOST_READ && holds_words(&words, spelling) {
                seen.words.push(spelling.to_owned());
            }
            let Some(away) = apart((typed, &counts), spelling, told) else { return };
            let at = seen.nearest.partition_point(|(known, _)| *known <= away);
            seen.nearest.insert(at, (away, spelling.to_owned()));
            seen.nearest.truncate(MOST_READ);
            if seen.nearest.len() >= NEAREST {
                told = told.min(seen.nearest[NEAREST - 1].0.max(most));
            }
        })?;
        let least = seen.nearest.first().map(|(away, _)| *away).filter(|away| *away <= most);
        let slipped = seen.nearest.iter().filter(|(away, _)| Some(*away) == least);
        seen.slipped = slipped.map(|(_, spelling)| spelling.clone()).collect();
        seen.nearest.truncate(NEAREST);
        Ok(seen)
    }
}
