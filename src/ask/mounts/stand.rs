//! A panel on a stand is packed while one drives: nobody holds a meeting in motion with it.
//!
//! The rules of a day know that already of people who are at the wheel, or do not work over the link. So the trip is asked with as
//! many drivers as it has, and with nobody who could hold a meeting while another drives.
use crate::ask::days::PlanQuestion;
use crate::ask::people::People;
use crate::ask::plan::Traveller;
use crate::profile::{Bearings, Profile};

/// Whether the panel of a profile is on a stand, not on a vehicle.
pub(super) fn is_on_stand(profile: &Profile) -> bool {
    profile.terminal.bearings_from == Bearings::North
}

/// The same trip with nobody who could hold a meeting in motion. The travellers have no names: nobody invited is one of them.
pub(super) fn nobody_in_motion(question: &PlanQuestion) -> PlanQuestion {
    let drivers = question.settings.rules().driving.drivers;
    let one = Traveller { name: String::new(), drives: true, link: false };
    let mut out = question.clone();
    out.settings.people = People { traveller: vec![one; usize::from(drivers)], meeting: Vec::new() };
    out
}
