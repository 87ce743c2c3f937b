//! Satellites to choose from, and the draw among them.
use super::draw::Draw;
use super::sky::Candidate;

/// A usable satellite that the mask of the station may let through.
#[derive(Debug, Clone, Copy)]
pub(super) struct Choice<'a> {
    pub candidate: &'a Candidate,
    /// Probability that crowns hide it at a gap length; 0 in open sky.
    pub crowns: f64,
    /// How densely crowns stand before it, in eighths of that probability.
    pub dimness: u8,
}

/// Draws by preference among those seen most clearly: a satellite seen through a gap between crowns is weaker than
/// one in clear sky. The key of a draw is `ln(u) / weight` and the greatest wins, which picks
/// each with probability in proportion to its weight (Efraimidis and Spirakis 2006); so taking
/// one satellite away does not change the order of the others.
///
/// A logarithm costs more than all the rest, so those that cannot win are passed over before: `ln(u)` is never above `u - 1`.
pub(super) fn favourite<'a, 'c>(slot: Draw, among: impl Iterator<Item = &'c Choice<'a>>) -> Option<&'a Candidate>
where
    'a: 'c,
{
    /// More than any rounding of the bound.
    const SLACK: f64 = 1.0 - 1e-12;
    let mut best: Option<(u8, f64, &Candidate)> = None;
    for choice in among {
        let Candidate { satellite, weight, .. } = *choice.candidate;
        let drawn = slot.of(u64::from(satellite)).unit();
        if let Some((dimness, key, _)) = best {
            let is_short = weight > 0.0 && (drawn - 1.0) / weight * SLACK < key;
            if choice.dimness > dimness || (choice.dimness == dimness && is_short) {
                continue;
            }
        }
        let key = drawn.ln() / weight;
        if best.is_none_or(|(dimness, highest, _)| choice.dimness < dimness || key.total_cmp(&highest).is_gt()) {
            best = Some((choice.dimness, key, choice.candidate));
        }
    }
    best.map(|(_, _, candidate)| candidate)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::link::sky::LinkSky;
    use crate::physics::orbit::model::{Sighting, Timeline};
    use crate::physics::sky::mask::SkyGrid;
    use crate::profile::Profile;

    #[test]
    fn passing_over_some_finds_the_same_as_all_logarithms() {
        let sightings: Vec<_> = (0..40)
            .map(|k| Sighting { satellite: k, azimuth_deg: 9.0 * k as f32, elevation_deg: 26.0 + 1.5 * k as f32 })
            .collect();
        let timeline = Timeline { latitude_deg: 45.0, starts: vec![0, sightings.len() as u32], sightings };
        for preference in [0.0, 1.0, 6.0, 400.0, -2.0] {
            let mut profile = Profile::default();
            profile.link.elevation_preference = preference;
            profile.terminal.scan_half_angle_deg = 70.0;
            profile.terminal.lowest_elevation_deg = 20.0;
            let sky = LinkSky::new(&timeline, SkyGrid { floor_deg: 20.0 }, &profile);
            assert_eq!(sky.at(0).len(), 40);
            for case in 0..3000_u64 {
                let (slot, key) = (Draw::root(1).of(case), Draw::root(2).of(case));
                let choice = |(k, candidate)| {
                    let dimness = (3.0 * key.of(k).unit()) as u8 + u8::from(case % 2 == 0);
                    Choice { candidate, crowns: 0.5, dimness }
                };
                let count = 1 + (20.0 * key.of(99).unit()) as usize;
                let choices: Vec<_> = (0..).zip(sky.at(0)).map(choice).skip(case as usize % 20).take(count).collect();
                let drawn = |c: &Choice| slot.of(u64::from(c.candidate.satellite)).unit().ln() / c.candidate.weight;
                let plain = choices
                    .iter()
                    .min_by(|a, b| a.dimness.cmp(&b.dimness).then_with(|| drawn(b).total_cmp(&drawn(a))))
                    .map(|c| c.candidate);
                assert_eq!(favourite(slot, choices.iter()), plain);
            }
            assert_eq!(favourite(Draw::root(1), [].iter()), None);
        }
    }
}
