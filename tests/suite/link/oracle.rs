//! An independent stepper: plain loops over satellites every few milliseconds, decks by rays in space.
//!
//! Draws are taken out of the comparison: every satellite is usable, canopy blocks always or never, slots are all aware or all blind,
//! and the preference is so strong that the highest open satellite is drawn (weights of satellites six
//! degrees apart differ by a factor above 1e8).
use crate::link::kit::*;
use crate::link::overhead::{random_prism, ray_hits};
use waymask::physics::link::draw::Draw;
use waymask::physics::link::model::Stretch;
use waymask::physics::link::name::timeline_start_s;
use waymask::physics::link::simulate::outages;
use waymask::physics::orbit::model::Sighting;
use waymask::physics::sky::leaves::LeafOdds;
use waymask::physics::sky::mask::Mask;
use waymask::profile::Profile;

const STEP_S: f64 = 0.005;
const TIMELINE_S: usize = 400;

struct Stepper<'a> {
    stroke: &'a [Stretch],
    sky: &'a dyn Fn(usize) -> Vec<Sighting>,
    profile: &'a Profile,
    start_s: f64,
}

impl Stepper<'_> {
    /// Stretch and metres into it after a time of driving; `None` behind the end.
    fn place(&self, time_s: f64) -> Option<(usize, f64)> {
        let mut left_s = time_s;
        for (i, s) in self.stroke.iter().enumerate() {
            let takes_s = s.length_m / s.speed_mps;
            if left_s < takes_s {
                return Some((i, left_s * s.speed_mps));
            }
            left_s -= takes_s;
        }
        None
    }

    fn is_open(&self, (i, into_m): (usize, f64), satellite: &Sighting) -> bool {
        let s = &self.stroke[i];
        let spacing_m = s.length_m / (s.masks.len() - 1) as f64;
        let mask = &s.masks[(into_m / spacing_m).round() as usize];
        let (az, el) = (f64::from(satellite.azimuth_deg), f64::from(satellite.elevation_deg));
        if mask.blocked(GRID, &LeafOdds::of(self.profile), az, el) >= 0.5 {
            return false;
        }
        let starts_m = |k: usize| self.stroke[..k].iter().map(|s| s.length_m).sum::<f64>();
        let stroke_m = starts_m(i) + into_m;
        let hit = |k: usize| self.stroke[k].overheads.iter().any(|o| ray_hits(o, stroke_m - starts_m(k), az, el));
        !(0..self.stroke.len()).any(hit)
    }

    /// Whether there is no signal in the middle of every step.
    fn without_signal(&self) -> Vec<bool> {
        let mut out = Vec::new();
        let mut served: Option<u32> = None;
        let (mut up, mut retry_s, mut slot) = (false, 0.0, f64::NAN);
        while let Some(place) = self.place((out.len() as f64 + 0.5) * STEP_S) {
            let now_s = (out.len() as f64 + 0.5) * STEP_S;
            let seen = (self.sky)((self.start_s + now_s) as usize % TIMELINE_S);
            let mut open: Vec<&Sighting> = seen.iter().filter(|s| self.is_open(place, s)).collect();
            open.sort_by(|a, b| b.elevation_deg.total_cmp(&a.elevation_deg));
            let highest = open.first().map(|s| s.satellite);
            // What a slot is given: the best that is open, or the best whatever hides it.
            let best = seen.iter().max_by(|a, b| a.elevation_deg.total_cmp(&b.elevation_deg)).map(|s| s.satellite);
            let next = if self.profile.link.awareness > 0.5 { highest } else { best };
            let lose = |served: &mut Option<u32>, up: &mut bool, retry_s: &mut f64, keep: bool| {
                *up = false;
                *retry_s = now_s + self.profile.link.reselection_s;
                if !keep {
                    *served = None;
                }
            };
            if served.is_some_and(|id| !seen.iter().any(|s| s.satellite == id)) {
                served = None;
                if up {
                    served = next;
                    if next.is_none() {
                        lose(&mut served, &mut up, &mut retry_s, false);
                    }
                }
            }
            let slot_now = ((self.start_s + now_s) / self.profile.link.slot_s).floor();
            if slot_now != slot && up && next.is_some() {
                served = next;
            }
            slot = slot_now;
            let serving_is_open = served.is_some_and(|id| open.iter().any(|s| s.satellite == id));
            if up && !serving_is_open {
                lose(&mut served, &mut up, &mut retry_s, true);
            } else if !up && serving_is_open {
                up = true;
            } else if !up && now_s >= retry_s && highest.is_some() {
                (served, up) = (highest, true);
            }
            out.push(!up);
        }
        out
    }
}

/// Whether whoever works over the link has none, step by step: an outage goes on until the signal, once it carries data again, has
/// held. `None` where a step more or less would decide whether it has.
fn lived(profile: &Profile, down: &[bool]) -> Option<Vec<bool>> {
    let link = &profile.link;
    let mut out = down.to_vec();
    let mut k = 0;
    while k < down.len() {
        if !down[k] {
            k += 1;
            continue;
        }
        let (begins, mut behind) = (k, k);
        // From one end of the signal's loss to the next, until one is held.
        let back = loop {
            while behind < down.len() && down[behind] {
                behind += 1;
            }
            let lost_s = (behind - begins) as f64 * STEP_S;
            let share = ((lost_s - link.reacquire_from_s) / link.reacquire_from_s).clamp(0.0, 1.0);
            let back_s = behind as f64 * STEP_S + share * link.reacquire_s;
            let Some(next) = (behind..down.len()).find(|n| down[*n]) else { break (back_s / STEP_S).round() as usize };
            let held_s = next as f64 * STEP_S - back_s;
            if (held_s - link.hold_s).abs() < 4.0 * STEP_S && link.hold_s + link.reacquire_s > 0.0 {
                return None;
            }
            if held_s >= link.hold_s || link.hold_s + link.reacquire_s == 0.0 {
                break (back_s / STEP_S).round() as usize;
            }
            behind = next;
        };
        let back = back.clamp(behind, down.len());
        out[begins..back].fill(true);
        k = back;
    }
    Some(out)
}

fn random_mask(key: Draw, dense: f64) -> Mask {
    let mut mask = Mask::open(GRID);
    for sector in 0..8_u64 {
        let draw = |name: u64| key.of(sector).of(name).unit();
        let bins = (sector as usize * 9)..(sector as usize * 9 + 9);
        if draw(1) < dense {
            bins.clone().for_each(|bin| mask.terrain_deg[bin] = (70.0 * draw(2)) as f32);
        }
        if draw(3) < dense {
            bins.clone().for_each(|bin| mask.solid_deg[bin] = (70.0 * draw(4)) as f32);
        }
        if draw(5) < dense {
            paint_canopy(&mut mask, bins, 25.0 + 50.0 * draw(6), 255);
        }
    }
    mask
}

pub fn random_road(key: Draw, dense: f64) -> Vec<Stretch> {
    let stretches = 1 + (4.0 * key.of(1).unit()) as u64;
    let mut stroke = Vec::new();
    for i in 0..stretches {
        let key = key.of(100 + i);
        let draw = |name: u64| key.of(name).unit();
        let mut s = stretch(60.0 + 300.0 * draw(1), 5.0 + 30.0 * draw(2), 0.0);
        let stations = 2 + (10.0 * draw(3)) as u64;
        s.masks = (0..stations).map(|k| random_mask(key.of(50 + k), dense)).collect();
        s.headings_deg = vec![(360.0 * draw(4)) as f32; stations as usize];
        for k in 0..(3.0 * draw(5)) as u64 {
            let mut prism = random_prism(|name| key.of(200 + k).of(name).unit());
            let shift_m = draw(6 + k) * s.length_m;
            prism.start_m += shift_m;
            prism.end_m += shift_m;
            s.overheads.push(prism);
        }
        stroke.push(s);
    }
    stroke
}

/// Satellites six degrees of elevation apart that wander in azimuth and come and go.
fn banded_sky(key: Draw, count: u64) -> impl Fn(usize) -> Vec<Sighting> {
    move |second| {
        let band = |k: u64| {
            let draw = |name: u64| key.of(k).of(name).unit();
            let phase = (second as f64 / (20.0 + 40.0 * draw(1)) + draw(2)).fract();
            let azimuth_deg = (360.0 * draw(3) + 0.6 * second as f64 * (draw(4) - 0.5)).rem_euclid(360.0);
            (phase < 0.8).then(|| sighting(k as u32, azimuth_deg, 28.0 + 7.0 * k as f64 + draw(5)))
        };
        (0..count).filter_map(band).collect()
    }
}

/// Steps at which the two disagree, outages, and steps in all.
fn disagreement(
    case: u64,
    satellites: u64,
    dense: f64,
    rules: &dyn Fn(&mut Profile, Draw),
) -> Option<(usize, usize, usize)> {
    let key = Draw::root(77).of(case);
    let stroke = random_road(key.of(1), dense);
    let sky = banded_sky(key.of(2), satellites);
    let mut profile = profile();
    profile.link.elevation_preference = 400.0;
    profile.link.drives = 4;
    profile.link.slot_s = 7.0;
    rules(&mut profile, key.of(3));
    let timeline = timeline(TIMELINE_S, &sky);
    let nth = (case % 4) as u32;
    let found = outages(&stroke, &timeline, GRID, &profile, case, nth);
    let start_s = timeline_start_s(&timeline, &profile, case, nth);
    let signal = Stepper { stroke: &stroke, sky: &sky, profile: &profile, start_s }.without_signal();
    let stepped = lived(&profile, &signal)?;
    let is_out = |time_s: f64| found.iter().any(|outage| outage.start_s <= time_s && time_s < outage.end_s);
    let differ = stepped.iter().enumerate().filter(|&(k, &out)| is_out((k as f64 + 0.5) * STEP_S) != out).count();
    Some((differ, found.len(), stepped.len()))
}

/// Drives that agree with the stepper under some rules: outages and steps.
fn agree(rules: &dyn Fn(&mut Profile, Draw)) {
    let (mut outages_seen, mut steps, mut cases_with_outages, mut undecided) = (0, 0, 0, 0);
    let mut apart = Vec::new();
    for case in 0..120 {
        let Some((differ, count, all)) = disagreement(case, [1, 2, 6][case as usize % 3], 0.35, rules) else {
            undecided += 1;
            continue;
        };
        outages_seen += count;
        steps += all;
        cases_with_outages += usize::from(count > 0);
        // Either end of an outage falls within a step, and an outage shorter than a step may be missed.
        if differ > 2 * count {
            apart.push((case, differ, count, all));
        }
    }
    assert!(
        outages_seen > 150 && cases_with_outages > 70 && undecided < 12,
        "{outages_seen} outages in {cases_with_outages} cases, {undecided} undecided, {steps} steps"
    );
    assert!(apart.is_empty(), "case, steps that differ, outages, steps: {apart:?}");
}

#[test]
fn drives_agree_with_a_plain_stepper() {
    agree(&|_, _| {});
}

#[test]
fn blind_slots_agree_with_a_plain_stepper() {
    agree(&|profile, _| profile.link.awareness = 0.0);
}

#[test]
fn held_and_reacquired_links_agree_with_a_plain_stepper() {
    agree(&|profile, key| {
        let link = &mut profile.link;
        link.awareness = if key.of(1).unit() < 0.5 { 0.0 } else { 1.0 };
        link.hold_s = 5.0 * key.of(2).unit();
        link.reacquire_s = 8.0 * key.of(3).unit();
        link.reacquire_from_s = 0.5 + 4.0 * key.of(4).unit();
    });
}
