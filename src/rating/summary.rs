//! What the summary of a rated layer says: kilometres, and sentences on what its figures are based on.
use super::drives::Skies;
use crate::base::count::counted;
use crate::base::words::{Rating, SideFrom};
use crate::layer::model::{BuildRecord, NO_COUNTRY, NOT_KNOWN, SegmentRow};
use crate::profile::{Constellation, Profile};

/// Stands for the country where neither it nor the side of the traffic is known.
pub(crate) const ASSUMED_SIDE: &str = "assumed";

/// Sentences a profile makes, always as many.
pub(crate) fn assumed_by(p: &Profile) -> Vec<String> {
    let satellites: u32 = p.constellation.shells.iter().map(|s| s.count()).sum();
    let generic = p.constellation.shells == Constellation::default().shells;
    let shell = if generic { "generic shell" } else { "given shell" };
    vec![
        format!(
            "{} in {}, a share of {} of them usable; slot {} s, reselection {} s",
            counted(satellites, "satellite"),
            counted(p.constellation.shells.len(), shell),
            p.link.usable_share,
            p.link.slot_s,
            p.link.reselection_s
        ),
        format!(
            "panel {} m above the road, usable sky from {} degrees of elevation up",
            p.vehicle.antenna_height_m,
            p.terminal.floor_deg()
        ),
        format!(
            "untagged trees {} m (broad-leaved) and {} m (needle-leaved) high, season {}",
            p.canopy.broadleaved_height_m, p.canopy.needleleaved_height_m, p.canopy.season
        ),
    ]
}

/// Adds one segment to the kilometres.
pub(crate) fn count_segment(record: &mut BuildRecord, row: &SegmentRow) {
    let km = row.length_m / 1000.0;
    *record.km_by_rating.entry(row.rating.name().into()).or_default() += km;
    *record.km_by_rating_best.entry(row.rating_best.name().into()).or_default() += km;
    let worst = row.rating_worst.map_or(NOT_KNOWN, |rating| rating.name());
    *record.km_by_rating_worst.entry(worst.into()).or_default() += km;
    *record.km_by_cause.entry(row.main_cause.name().into()).or_default() += km;
    let place = row.country.as_deref().unwrap_or(match row.keeps_from {
        SideFrom::Default => ASSUMED_SIDE,
        SideFrom::Tag | SideFrom::Profile | SideFrom::Country => NO_COUNTRY,
    });
    *record.km_by_side.entry(format!("{} {place}", row.keeps)).or_default() += km;
    for (what, value) in [
        ("terrain", row.evidence_terrain.name()),
        ("canopy", row.evidence_canopy.name()),
        ("buildings", row.evidence_building.name()),
        ("rating", row.evidence.name()),
    ] {
        *record.km_by_evidence.entry(evidence_of(what, value)).or_default() += km;
    }
}

/// What kilometres of a kind of evidence are counted under: `rating: unknown`.
pub fn evidence_of(what: &str, value: &str) -> String {
    format!("{what}: {value}")
}

/// Halves lie farther apart than two builds of all drives do, by the square root of two: the spread of a figure falls with the
/// square root of the number of drives, and what lies within it of an edge falls as the spread does.
const OF_HALVES: f64 = std::f64::consts::FRAC_1_SQRT_2;

/// Adds one segment to the kilometres that another seed would rate otherwise, if the halves of its drives disagree.
pub(crate) fn count_chance(record: &mut BuildRecord, row: &SegmentRow, is_by_chance: bool) {
    if is_by_chance {
        record.km_by_chance += OF_HALVES * row.length_m / 1000.0;
    }
}

/// Sentences about the usable satellites at every latitude.
pub fn expected(skies: &Skies) -> Vec<String> {
    let sentence = |(latitude_deg, expected): (i32, f64)| {
        let short = skies.short_of_satellites().find(|(latitude, _)| *latitude == latitude_deg);
        let open = short.map_or(String::new(), |(_, rating)| format!("; open road itself is rated {rating} there"));
        format!(
            "{expected:.1} usable satellites expected in the usable sky at {latitude_deg} degrees of latitude{open}"
        )
    };
    skies.expected().map(sentence).collect()
}

/// Sentences about latitudes at which open road itself is not steady.
pub fn short_of_satellites(skies: &Skies) -> Vec<String> {
    let sentence = |(latitude_deg, rating): (i32, Rating)| {
        format!(
            "open road at {latitude_deg} degrees of latitude is rated {rating} under the satellites assumed: where a \
             road is no worse and most of its sky is open, its cause is few satellites, not what stands beside it; \
             elements of today's satellites (--orbits) may give another result"
        )
    };
    skies.short_of_satellites().map(sentence).collect()
}

/// Kilometres to the metre.
pub(crate) fn round_km(record: &mut BuildRecord) {
    record.km_by_chance = (record.km_by_chance * 1000.0).round() / 1000.0;
    let BuildRecord { km_by_rating, km_by_cause, km_by_evidence, km_by_side, .. } = record;
    let ends = [&mut record.km_by_rating_best, &mut record.km_by_rating_worst];
    for km in [km_by_rating, km_by_cause, km_by_evidence, km_by_side].into_iter().chain(ends) {
        for value in km.values_mut() {
            *value = (*value * 1000.0).round() / 1000.0;
        }
    }
}
