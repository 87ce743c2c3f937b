//! Satellites that pass over a place, and how much of a pass lies in open sky.
use jiff::ToSpan;

use super::model::{PassesQuestion, Sighted, SkyCell, SkyPass};
use crate::base::defect::{Defect, Tally};
use crate::physics::orbit::elements::passes::{Moment, Pass, passes};
use crate::physics::orbit::elements::satellite::{Satellite, prepare};
use crate::physics::orbit::elements::{self, ElementSets, Unreadable};
use crate::physics::orbit::frames::Observer;
use crate::physics::sky::mask::{SkyGrid, azimuth_bin};

/// A pass is looked at this often, seconds.
const LOOK_S: i64 = 5;

/// Orbital elements from the bytes of a file.
///
/// # Errors
/// What is wrong with them, and what to do.
pub fn read_elements(bytes: &[u8]) -> Result<ElementSets, Unreadable> {
    elements::read(bytes)
}

/// Elements of a file that could not be used, as sentences.
pub(super) fn left_out(sets: &ElementSets) -> Vec<String> {
    let told = |(defect, tally): (Defect, &Tally)| {
        format!("{} ({}, such as {})", defect.text(), tally.count, tally.examples.join("; "))
    };
    sets.defects.iter().map(told).collect()
}

/// Passes over the place, and how many satellites cannot be placed.
pub(super) fn all_passes(
    asked: &PassesQuestion,
    at_deg: (f64, f64),
    cells: &[SkyCell],
    grid: SkyGrid,
) -> (Vec<SkyPass>, usize) {
    let (satellites, unprepared) = prepare(asked.elements.objects.clone());
    let observer = Observer::at(at_deg.0, at_deg.1, asked.altitude_m);
    let (found, failed) = passes(&satellites, &observer, asked.time, asked.minutes * 60.0, grid.floor_deg);
    let one = |pass: &Pass| one_pass(pass, &satellites[pass.satellite], &observer, cells, grid);
    (found.iter().map(one).collect(), unprepared.len() + failed.len())
}

fn one_pass(pass: &Pass, satellite: &Satellite, observer: &Observer, cells: &[SkyCell], grid: SkyGrid) -> SkyPass {
    let seconds = pass.set.time.duration_since(pass.rise.time).as_secs_f64();
    let (mut path, mut open_s, mut looks) = (Vec::new(), 0.0, 0);
    let mut time = pass.rise.time;
    while time <= pass.set.time {
        if let Ok((place, _)) = satellite.earth_fixed(time) {
            let direction = observer.look(place).0;
            let (azimuth, elevation) = (direction.azimuth_deg, direction.elevation_deg);
            if let Some(row) = grid.row(elevation) {
                let cell = &cells[grid.cell(azimuth_bin(azimuth), row)];
                open_s += if cell.usable { 1.0 - cell.blocked } else { 0.0 };
            }
            path.push((azimuth, elevation));
        }
        looks += 1;
        match time.checked_add(LOOK_S.seconds()) {
            Ok(next) => time = next,
            Err(_) => break,
        }
    }
    let sighted = |m: &Moment| Sighted {
        time: m.time.strftime("%Y-%m-%dT%H:%M:%S%.3fZ").to_string(),
        azimuth_deg: m.direction.azimuth_deg,
        elevation_deg: m.direction.elevation_deg,
    };
    SkyPass {
        satellite: satellite.elements.label(),
        rise: sighted(&pass.rise),
        peak: sighted(&pass.peak),
        set: sighted(&pass.set),
        seconds,
        elements_age_days: pass.rise.time.duration_since(satellite.elements.epoch).as_secs_f64().abs() / 86_400.0,
        open_s: seconds * open_s / f64::from(looks.max(1)),
        path,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_set_that_cannot_be_used_is_told_and_the_others_stay() {
        let set = |id: u32, epoch: &str| {
            format!(
                r#"{{"OBJECT_NAME":"A{id}","OBJECT_ID":"2026-001A","EPOCH":"{epoch}","MEAN_MOTION":15.05,"ECCENTRICITY":0.0001,"INCLINATION":53.5,"RA_OF_ASC_NODE":0,"ARG_OF_PERICENTER":0,"MEAN_ANOMALY":31,"EPHEMERIS_TYPE":0,"CLASSIFICATION_TYPE":"U","NORAD_CAT_ID":{id},"ELEMENT_SET_NO":999,"REV_AT_EPOCH":1,"BSTAR":0.0001,"MEAN_MOTION_DOT":0,"MEAN_MOTION_DDOT":0}}"#
            )
        };
        let whole = "2026-06-15T00:00:00";
        let sets = read_elements(format!("[{},{}]", set(7, whole), set(8, "2026-1e308-15T00")).as_bytes()).unwrap();
        let told = left_out(&sets);
        assert!(sets.objects.len() == 1 && told.len() == 1, "{told:?}");
        assert!(told[0].starts_with("orbital elements not understood; object left out (1, such as"), "{told:?}");
        assert!(told[0].contains('8'), "{told:?}");
        let sets = read_elements(format!("[{}]", set(7, whole)).as_bytes()).unwrap();
        assert!(left_out(&sets).is_empty());
    }
}
