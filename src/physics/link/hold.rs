//! When an outage is over for whoever works over the link: a pass over the finished list of a drive.
//!
//! A glimpse of a satellite ends nothing, and after a long outage the panel needs a while. Both only ever lengthen and join outages,
//! so longer times give outages that contain those of shorter ones, and never more of them for a longer hold.
use super::rules::LinkRules;
use super::stats::Outage;

/// Outages as they are lived, from those of the signal, in order.
pub(super) fn lived(rules: &LinkRules, signal: Vec<Outage>, drive_end_s: f64) -> Vec<Outage> {
    if rules.hold_s <= 0.0 && rules.reacquire_s <= 0.0 {
        return signal;
    }
    let again_s = |outage: &Outage| reacquire_s(rules.reacquire_s, rules.reacquire_from_s, outage.length_s());
    let back_s = |outage: &Outage| outage.end_s + again_s(outage);
    let mut out: Vec<Outage> = Vec::with_capacity(signal.len());
    for next in signal {
        match out.last_mut() {
            Some(open) if next.start_s < back_s(open) + rules.hold_s => open.end_s = next.end_s,
            _ => out.push(next),
        }
    }
    for outage in &mut out {
        // A drive that ends meanwhile ends the outage with it.
        outage.end_s = back_s(outage).min(drive_end_s).max(outage.end_s);
    }
    out
}

/// Until the link carries data again after an outage of a length, seconds: nothing up to `from_s`, all of `all_s` from twice that on.
pub fn reacquire_s(all_s: f64, from_s: f64, outage_s: f64) -> f64 {
    all_s * (outage_s / from_s - 1.0).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::link::draw::Draw;
    use crate::physics::sky::mask::SkyGrid;
    use crate::profile::Profile;

    fn rules(hold_s: f64, reacquire_s: f64, reacquire_from_s: f64) -> LinkRules {
        let mut profile = Profile::default();
        profile.link.hold_s = hold_s;
        profile.link.reacquire_s = reacquire_s;
        profile.link.reacquire_from_s = reacquire_from_s;
        LinkRules::new(SkyGrid { floor_deg: 35.0 }, &profile)
    }

    fn outages(spans: &[(f64, f64)]) -> Vec<Outage> {
        spans.iter().map(|&(start_s, end_s)| Outage { start_s, end_s }).collect()
    }

    #[test]
    fn what_is_shorter_than_the_hold_ends_nothing() {
        let signal = outages(&[(1.0, 2.0), (3.0, 4.0), (6.0, 7.0), (9.5, 10.0)]);
        let lived = |hold_s| lived(&rules(hold_s, 0.0, 10.0), signal.clone(), 10.5);
        assert_eq!(lived(0.0), signal);
        assert_eq!(lived(1.0), signal, "a link of just the hold is one");
        assert_eq!(lived(1.5), outages(&[(1.0, 4.0), (6.0, 7.0), (9.5, 10.0)]));
        assert_eq!(lived(2.5), outages(&[(1.0, 7.0), (9.5, 10.0)]));
        // Half a second at the end of the drive counts as held.
        assert_eq!(lived(60.0), outages(&[(1.0, 10.0)]));
    }

    #[test]
    fn reacquiring_grows_from_nothing_to_all_and_may_reach_the_next_outage() {
        let of = |length_s: f64| lived(&rules(0.0, 6.0, 10.0), outages(&[(0.0, length_s)]), 1000.0)[0].end_s - length_s;
        for (length_s, added_s) in [(3.0, 0.0), (10.0, 0.0), (12.5, 1.5), (15.0, 3.0), (20.0, 6.0), (500.0, 6.0)] {
            assert!((of(length_s) - added_s).abs() < 1e-9, "{length_s} s: {}", of(length_s));
        }
        let signal = outages(&[(0.0, 20.0), (25.0, 26.0), (40.0, 41.0)]);
        assert_eq!(lived(&rules(0.0, 6.0, 10.0), signal.clone(), 50.0), outages(&[(0.0, 32.0), (40.0, 41.0)]));
        assert_eq!(lived(&rules(0.0, 30.0, 10.0), signal, 50.0), outages(&[(0.0, 50.0)]), "the drive ends first");
    }

    #[test]
    fn longer_times_give_outages_that_contain_the_others() {
        for case in 0..300_u64 {
            let draw = |name: u64| Draw::root(9).of(case).of(name).unit();
            let mut at_s = 0.0;
            let mut signal = Vec::new();
            for k in 0..40 {
                let start_s = at_s + 6.0 * draw(3 * k).powi(3);
                at_s = start_s + 25.0 * draw(3 * k + 1).powi(4);
                signal.push(Outage { start_s, end_s: at_s });
            }
            let end_s = at_s + draw(999);
            let of = |hold_s: f64, reacquire_s: f64| lived(&rules(hold_s, reacquire_s, 4.0), signal.clone(), end_s);
            let (hold_s, reacquire_s) = (4.0 * draw(1001), 8.0 * draw(1002));
            let base = of(hold_s, reacquire_s);
            for more in [of(hold_s + draw(1003), reacquire_s), of(hold_s, reacquire_s + 3.0 * draw(1004))] {
                let within = |o: &Outage| more.iter().any(|m| m.start_s <= o.start_s && o.end_s <= m.end_s + 1e-9);
                assert!(base.iter().all(within), "{case}");
                let total = |all: &[Outage]| all.iter().map(Outage::length_s).sum::<f64>();
                assert!(total(&more) >= total(&base) - 1e-9);
                assert!(more.windows(2).all(|pair| pair[0].end_s <= pair[1].start_s));
            }
            assert!(of(hold_s + draw(1003), reacquire_s).len() <= base.len());
        }
    }
}
