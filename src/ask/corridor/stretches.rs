//! Stretches of one rating and one cause, and the worst of them.
use super::model::{Piece, RatedStretch};
use crate::base::words::Rating;

/// Stretches worse than steady, as driven.
pub fn stretches(pieces: &[Piece]) -> Vec<RatedStretch> {
    let mut out: Vec<RatedStretch> = Vec::new();
    for (i, p) in pieces.iter().enumerate().filter(|(_, p)| p.rating > Rating::Steady) {
        if let Some(s) = out.last_mut()
            && s.end == i
            && (s.rating, s.cause) == (p.rating, p.cause)
            && pieces[i - 1].drive == p.drive
        {
            s.end = i + 1;
            s.length_m += p.length_m;
            s.time_s += p.time_s;
            s.outage_s += p.outage_s;
            s.outage_p95_s = s.outage_p95_s.max(p.outage_p95_s);
            continue;
        }
        out.push(RatedStretch {
            first: i,
            end: i + 1,
            segment_id: p.segment_id,
            at_km: p.at_km,
            lon_deg: p.lon_deg,
            lat_deg: p.lat_deg,
            road: p.road.clone(),
            town: None,
            length_m: p.length_m,
            time_s: p.time_s,
            outage_s: p.outage_s,
            outage_p95_s: p.outage_p95_s,
            rating: p.rating,
            cause: p.cause,
        });
    }
    out
}

/// Places of the worst stretches in their list, worst first.
pub fn worst_first(stretches: &[RatedStretch]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..stretches.len()).collect();
    order.sort_by(|a, b| {
        let (a, b) = (&stretches[*a], &stretches[*b]);
        let by_outage_s = b.outage_s.total_cmp(&a.outage_s);
        b.rating
            .cmp(&a.rating)
            .then(by_outage_s)
            .then(b.outage_p95_s.total_cmp(&a.outage_p95_s))
            .then(a.first.cmp(&b.first))
    });
    order
}
