//! The satellites of a timeline as drives ask for them, worked out once for all drives below it.
//!
//! Thousands of drives cross the same seconds. What a satellite is worth, where it stands in the masks and where it is a
//! second later depend on none of them.
use super::crowns::DriveOdds;
use super::rules::LinkRules;
use crate::physics::orbit::model::{Sighting, Timeline};
use crate::physics::scene::overheads::overhead::sideways_per_height;
use crate::physics::sky::mask::{SkyGrid, azimuth_bin};
use crate::profile::Profile;

/// Instead of the place of a satellite that is out of sight a second later.
const GONE: u32 = u32::MAX;

/// A satellite that a panel can use at one second, on a vehicle of some heading: what every drive asks for at every second,
/// kept small so that the skies of many seconds fit in a processor's cache.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Candidate {
    /// How much the satellite is preferred over others.
    pub weight: f64,
    pub satellite: u32,
    /// Place in the lists of all candidates and of their rays.
    here: u32,
    /// Place of the same satellite a second later.
    next: u32,
    /// Cell of the masks; the number of cells below their floor.
    pub cell: u16,
    /// Azimuth bin of the masks.
    pub bin: u8,
}

/// Where a candidate stands.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct CandidateRay {
    pub azimuth_deg: f32,
    pub elevation_deg: f32,
    /// See [`sideways_per_height`].
    pub per_height: Option<f64>,
}

/// Satellites second by second, and the rules by which a drive uses them.
#[derive(Debug, Clone)]
pub struct LinkSky {
    pub(super) rules: LinkRules,
    /// What crowns do, drive by drive.
    pub(super) odds: DriveOdds,
    candidates: Vec<Candidate>,
    rays: Vec<CandidateRay>,
    /// Start of each second in `candidates`, with one more entry at the end; empty without a timeline.
    starts: Vec<u32>,
}

impl LinkSky {
    /// The sky of a timeline for a profile's panel; masks have to be of the same grid.
    pub fn new(timeline: &Timeline, grid: SkyGrid, profile: &Profile) -> Self {
        let rules = LinkRules::new(grid, profile);
        let odds = DriveOdds::of(profile);
        let mut sky = Self { rules, odds, candidates: Vec::new(), rays: Vec::new(), starts: Vec::new() };
        if timeline.starts.len() < 2 {
            return sky;
        }
        sky.starts.push(0);
        for second in 0..timeline.seconds() {
            let usable = timeline.at(second).iter().filter(|s| sky.rules.may_see(s));
            for sighting in usable {
                sky.candidates.push(sky.rules.candidate(sighting, sky.rays.len() as u32));
                sky.rays.push(sky.rules.ray(sighting));
            }
            sky.starts.push(sky.candidates.len() as u32);
        }
        sky.link_seconds();
        sky
    }

    /// Length, whole seconds.
    pub(super) fn seconds(&self) -> usize {
        self.starts.len().saturating_sub(1)
    }

    /// What stands in the sky at a second; seconds beyond the end start over.
    pub(super) fn at(&self, second: u64) -> &[Candidate] {
        if self.seconds() == 0 {
            return &[];
        }
        let s = (second % self.seconds() as u64) as usize;
        &self.candidates[self.starts[s] as usize..self.starts[s + 1] as usize]
    }

    /// The same satellite a second later.
    pub(super) fn after(&self, candidate: &Candidate) -> Option<&Candidate> {
        // `GONE` lies behind the end of any list.
        self.candidates.get(candidate.next as usize)
    }

    /// Where a candidate stands.
    pub(super) fn ray(&self, candidate: &Candidate) -> &CandidateRay {
        &self.rays[candidate.here as usize]
    }

    /// Whether the panel, on a vehicle of a heading, can use a candidate; where its cone does not turn all candidates are.
    pub(super) fn sees(&self, candidate: &Candidate, heading_deg: f64) -> bool {
        if !self.rules.turns {
            return true;
        }
        let ray = self.ray(candidate);
        self.rules.cone.sees(heading_deg, f64::from(ray.azimuth_deg), f64::from(ray.elevation_deg))
    }

    /// Notes for every candidate where the same satellite stands a second later. Both lists are in the order of satellites.
    fn link_seconds(&mut self) {
        let seconds = self.seconds();
        for second in 0..seconds {
            let (here, there) = (self.span(second), self.span((second + 1) % seconds));
            for i in here {
                let satellite = self.candidates[i].satellite;
                let found = self.candidates[there.clone()].binary_search_by_key(&satellite, |c| c.satellite);
                self.candidates[i].next = found.map_or(GONE, |k| (there.start + k) as u32);
            }
        }
    }

    fn span(&self, second: usize) -> std::ops::Range<usize> {
        self.starts[second] as usize..self.starts[second + 1] as usize
    }
}

impl LinkRules {
    /// Whether the panel can use a satellite on a vehicle of any heading.
    fn may_see(&self, sighting: &Sighting) -> bool {
        self.turns || self.cone.sees(0.0, f64::from(sighting.azimuth_deg), f64::from(sighting.elevation_deg))
    }

    fn candidate(&self, sighting: &Sighting, here: u32) -> Candidate {
        let bin = azimuth_bin(f64::from(sighting.azimuth_deg));
        let row = self.grid.row(f64::from(sighting.elevation_deg));
        let cell = row.map_or(self.grid.cells(), |row| self.grid.cell(bin, row));
        Candidate {
            weight: self.preference(f64::from(sighting.elevation_deg)),
            satellite: sighting.satellite,
            here,
            next: GONE,
            cell: cell as u16,
            bin: bin as u8,
        }
    }

    fn ray(&self, sighting: &Sighting) -> CandidateRay {
        let elevation_deg = f64::from(sighting.elevation_deg);
        CandidateRay {
            azimuth_deg: sighting.azimuth_deg,
            elevation_deg: sighting.elevation_deg,
            per_height: sideways_per_height(elevation_deg),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Four satellites that come and go over five seconds; the third stands outside a cone of 55 degrees.
    fn timeline() -> Timeline {
        let mut timeline = Timeline { latitude_deg: 45.0, sightings: vec![], starts: vec![0] };
        for second in 0..5_u32 {
            for satellite in (0..4).filter(|s| (second + s) % 3 != 0) {
                let (azimuth_deg, elevation_deg) =
                    (80.0 * satellite as f32 + second as f32, 60.0 - 15.0 * satellite as f32);
                timeline.sightings.push(Sighting { satellite, azimuth_deg, elevation_deg });
            }
            timeline.starts.push(timeline.sightings.len() as u32);
        }
        timeline
    }

    fn profiles() -> [Profile; 2] {
        let mut tilted = Profile::default();
        tilted.terminal.tilt_deg = 20.0;
        tilted.terminal.tilt_towards_deg = 40.0;
        [Profile::default(), tilted]
    }

    #[test]
    fn a_drive_is_shown_what_the_cone_lets_through_of_the_timeline() {
        let (timeline, grid) = (timeline(), SkyGrid { floor_deg: 25.0 });
        for profile in profiles() {
            let sky = LinkSky::new(&timeline, grid, &profile);
            let mut left_out = 0;
            for (second, heading_deg) in (0..12).flat_map(|s| [(s, 0.0), (s, 200.0)]) {
                let (kept, rest): (Vec<_>, Vec<_>) = timeline.at(second).iter().partition(|s| {
                    sky.rules.cone.sees(heading_deg, f64::from(s.azimuth_deg), f64::from(s.elevation_deg))
                });
                left_out += rest.len();
                let shown = sky.at(second as u64).iter().filter(|c| sky.sees(c, heading_deg));
                let shown = shown.map(|c| (c.satellite, sky.ray(c).azimuth_deg, sky.ray(c).elevation_deg));
                let kept = kept.iter().map(|s: &&Sighting| (s.satellite, s.azimuth_deg, s.elevation_deg));
                assert_eq!(shown.collect::<Vec<_>>(), kept.collect::<Vec<_>>());
            }
            assert!(left_out > 0, "the cone has to matter");
        }
    }

    #[test]
    fn a_satellite_is_found_again_a_second_later_or_is_gone() {
        let sky = LinkSky::new(&timeline(), SkyGrid { floor_deg: 25.0 }, &Profile::default());
        let (mut found, mut gone) = (0, 0);
        for second in 0..10 {
            for candidate in sky.at(second) {
                let searched = sky.at(second + 1).iter().find(|c| c.satellite == candidate.satellite);
                assert_eq!(sky.after(candidate), searched);
                *(if searched.is_some() { &mut found } else { &mut gone }) += 1;
            }
        }
        assert!(found > 3 && gone > 3, "{found} {gone}");
    }

    #[test]
    fn nothing_stands_in_a_sky_without_seconds() {
        let nothing = Timeline { latitude_deg: 0.0, sightings: vec![], starts: vec![] };
        let sky = LinkSky::new(&nothing, SkyGrid { floor_deg: 25.0 }, &Profile::default());
        assert_eq!((sky.seconds(), sky.at(7).len()), (0, 0));
    }
}
