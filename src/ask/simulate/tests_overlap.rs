//! Meetings whose figures are counted by hand.
use super::overlap::{Joints, PartOutages, figures};
use crate::physics::link::stats::Outage;

fn part(seconds: f64, drives: &[&[(f64, f64)]]) -> PartOutages {
    let outages = |drive: &&[(f64, f64)]| drive.iter().map(|&(start_s, end_s)| Outage { start_s, end_s }).collect();
    PartOutages { seconds, before_s: 0.0, drives: drives.iter().map(outages).collect() }
}

fn joints(hold_s: f64) -> Joints<'static> {
    Joints { hold_s, reacquire_s: &|_| 0.0 }
}

#[test]
fn what_overlaps_by_more_than_is_tolerated_counts_however_long_it_is() {
    // Begins before and takes 3 s of the meeting; ends after it and takes 1 s; none.
    let parts = [part(100.0, &[&[(-50.0, 3.0)], &[(99.0, 500.0)], &[]])];
    let told = figures(&parts, 2.0, &joints(2.0));
    assert!((told.risk - 1.0 / 3.0).abs() < 1e-12 && (told.outage_s - 4.0 / 3.0).abs() < 1e-12, "{told:?}");
    assert_eq!(figures(&parts, 5.0, &joints(2.0)).risk, 0.0);
    // Just what is tolerated is tolerated.
    assert_eq!(figures(&parts, 3.0, &joints(2.0)).risk, 0.0);
}

#[test]
fn an_outage_goes_on_from_one_part_into_the_next() {
    // Two seconds at the end of one part and two at the beginning of the next are four; with a link of half a second
    // between them, which holds nobody, all of it is one.
    let parts = [part(60.0, &[&[(58.0, 60.0)], &[(57.5, 59.5)], &[(50.0, 52.0)]]), part(60.0, &[&[(0.0, 2.0)][..]; 3])];
    assert_eq!(figures(&parts, 3.0, &joints(2.0)).risk, 2.0 / 3.0);
    assert_eq!(figures(&parts, 3.0, &joints(0.1)).risk, 1.0 / 3.0);
    assert_eq!(figures(&[], 3.0, &joints(0.1)).risk, 0.0);
}

#[test]
fn whoever_leaves_a_roof_waits_until_the_link_is_reacquired() {
    let roof = PartOutages { before_s: 60.0, ..part(60.0, &[&[(0.0, 60.0)]]) };
    let parts = [roof, part(300.0, &[&[]])];
    let told = |stands_s| {
        let joints = Joints { hold_s: 2.0, reacquire_s: &|outage_s| if outage_s >= 20.0 { 5.0 } else { 0.0 } };
        figures(&parts, stands_s, &joints)
    };
    // What was before the meeting is none of it; what is left of it is.
    assert_eq!((told(2.0).risk, told(5.0).risk, told(2.0).outage_s), (1.0, 0.0, 5.0));
}
