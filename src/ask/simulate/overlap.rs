//! Outages of the parts of a meeting, put together on its own clock.
use crate::ask::plan::Figures;
use crate::physics::link::stats::Outage;

/// What drives live through in one part of a meeting.
pub(super) struct PartOutages {
    /// How long the part lasts, seconds.
    pub seconds: f64,
    /// What of that lies before the meeting, seconds.
    pub before_s: f64,
    /// Outages of each drive in order, in seconds since the part began; they may begin before it and end after it.
    pub drives: Vec<Vec<Outage>>,
}

/// What joins outages of parts, as within a drive.
pub(super) struct Joints<'a> {
    /// What lies closer together is one outage, seconds.
    pub hold_s: f64,
    /// Time to reacquire after an outage of a length, both seconds.
    pub reacquire_s: &'a dyn Fn(f64) -> f64,
}

/// The figures of a meeting whose parts follow one another, each simulated with the same number of drives.
pub(super) fn figures(parts: &[PartOutages], stands_s: f64, joints: &Joints) -> Figures {
    let drives = parts.iter().map(|p| p.drives.len()).min().unwrap_or(0);
    let begins_s: f64 = parts.iter().map(|p| p.before_s).sum();
    let ends_s: f64 = parts.iter().map(|p| p.seconds).sum();
    let mut figures = Figures::default();
    for nth in 0..drives {
        let merged = merged(parts, nth, joints);
        let overlaps_s = || merged.iter().map(|o| (o.end_s.min(ends_s) - o.start_s.max(begins_s)).max(0.0));
        figures.risk += f64::from(overlaps_s().any(|overlap_s| overlap_s > stands_s));
        figures.outage_s += overlaps_s().sum::<f64>();
    }
    let drives = drives.max(1) as f64;
    Figures { risk: figures.risk / drives, outage_s: figures.outage_s / drives }
}

/// The outages of one drive on the clock of all parts. One that a part ends with, as when a vehicle leaves a roof, is over only
/// when the link is reacquired.
fn merged(parts: &[PartOutages], nth: usize, joints: &Joints) -> Vec<Outage> {
    const SAME_S: f64 = 1e-6;
    let mut out: Vec<Outage> = Vec::new();
    let mut begins_s = 0.0;
    for part in parts {
        let ends_s = begins_s + part.seconds;
        let clipped =
            part.drives[nth].iter().map(|o| (begins_s + o.start_s.max(0.0), begins_s + o.end_s.min(part.seconds)));
        for (start_s, end_s) in clipped.filter(|(start_s, end_s)| end_s > start_s) {
            match out.last_mut() {
                Some(open) if start_s - open.end_s < joints.hold_s => open.end_s = open.end_s.max(end_s),
                _ => out.push(Outage { start_s, end_s }),
            }
        }
        if let Some(open) = out.last_mut().filter(|o| (o.end_s - ends_s).abs() < SAME_S) {
            open.end_s = ends_s + (joints.reacquire_s)(open.length_s());
        }
        begins_s = ends_s;
    }
    out
}
