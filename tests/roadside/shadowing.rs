//! x
use crate::road::*;
use waymask::profile::Profile;

#[test]
fn look() {
    let profile = Profile::default();
    let el = [25.0, 40.0, 45.0, 60.0];
    let side: Vec<f64> = (0..72).map(|b| 2.5 + 5.0 * f64::from(b)).filter(|a: &f64| a.to_radians().sin().abs() > 0.7).collect();
    let all: Vec<f64> = (0..72).map(|b| 2.5 + 5.0 * f64::from(b)).collect();
    let mut optical = profile.clone();
    optical.link.margin_db = 0.1;
    optical.canopy.spread_ln = 0.05;
    for spacing in [Spacing::Random(6.0), Spacing::Random(8.0), Spacing::Even(6.0), Spacing::Even(8.0)] {
        let canopy = TreeRoad { spacing, ..CENTRAL }.canopy();
        println!("{spacing:?} square {:.3?}", shares_square(&canopy, 3.0, &el, &profile));
        println!("   optical {:.3?}", shares_square(&canopy, 3.0, &el, &optical));
        println!("   side {:.3?}", shares(&canopy, 6.0, &el, &profile, &side));
        println!("   all {:.3?}", shares(&canopy, 6.0, &el, &profile, &all));
    }
    for h in [8.0, 12.0, 15.0, 18.0, 22.0] {
        for o in [3.0, 5.0, 7.5, 10.0, 12.0] {
            let r = TreeRoad { offset_m: Spread::only(o), height_m: Spread::only(h), ..CENTRAL };
            print!("{o} {h}: {:.3?} | ", shares_square(&r.canopy(), 6.0, &el, &profile));
        }
        println!();
    }
}
