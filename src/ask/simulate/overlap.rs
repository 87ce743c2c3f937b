//! Outages of the parts of a meeting, put together on its own clock.
use crate::ask::plan::Figures;
use crate::physics::link::stats::Outage;

/// What drives live through in one part of a meeting.
pub(super) struct PartOutages {
    /// How long the part lasts, seconds.
    pub seconds: f64,
    /// Outages of each drive in order, in seconds since the part began; they may begin before it and end after it.
    pub drives: Vec<Vec<Outage>>,
}

/// The figures of a meeting whose parts follow one another, each simulated with the same number of drives. What lies
/// closer together than `hold_s` is one outage, as within a drive.
pub(super) fn figures(parts: &[PartOutages], stands_s: f64, hold_s: f64) -> Figures {
    let drives = parts.iter().map(|p| p.drives.len()).min().unwrap_or(0);
    let mut figures = Figures::default();
    for nth in 0..drives {
        let merged = merged(parts, nth, hold_s);
        figures.risk += f64::from(merged.iter().any(|o| o.length_s() > stands_s));
        figures.outage_s += merged.iter().map(Outage::length_s).sum::<f64>();
    }
    let drives = drives.max(1) as f64;
    Figures { risk: figures.risk / drives, outage_s: figures.outage_s / drives }
}

/// What of the outages of one drive falls into the meeting.
fn merged(parts: &[PartOutages], nth: usize, hold_s: f64) -> Vec<Outage> {
    let mut out: Vec<Outage> = Vec::new();
    let mut begins_s = 0.0;
    for part in parts {
        for outage in &part.drives[nth] {
            let start_s = begins_s + outage.start_s.max(0.0);
            let end_s = begins_s + outage.end_s.min(part.seconds);
            if end_s <= start_s {
                continue;
            }
            match out.last_mut() {
                Some(open) if start_s - open.end_s < hold_s => open.end_s = open.end_s.max(end_s),
                _ => out.push(Outage { start_s, end_s }),
            }
        }
        begins_s += part.seconds;
    }
    out
}
