//! All drives of a stroke, one by one, for whoever asks more of them than their statistics.
use super::drive::Drive;
use super::model::Stretch;
use super::name::DriveName;
use super::sky::LinkSky;
use super::stats::Outage;
use super::way::StrokeWay;
use crate::profile::Profile;

/// The outages of every simulated drive of a stroke, each in order, in seconds of driving.
pub fn each_drive(stroke: &[Stretch], sky: &LinkSky, profile: &Profile, stroke_key: u64) -> Vec<Vec<Outage>> {
    let way = StrokeWay::new(stroke, sky);
    DriveName::all(profile, stroke_key).map(|name| Drive::new(&way, name).outages()).collect()
}
