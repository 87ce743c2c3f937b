//! What may hang too low: posted clearances and crowns that close over the road.
use super::super::drive::DayDriven;
use super::table::{PageCell, PageTable};
use crate::ask::corridor::Above;
use crate::base::words::Units;

/// Posted clearances up to this much above the vehicle are listed too, metres: what is posted may have changed.
const NEAR_M: f64 = 1.0;

/// The table and its sentence.
pub(in super::super) fn write(out: &mut String, driven: &DayDriven, overheads: &[Above], vehicle_m: f64) {
    let units = driven.shown.units;
    let heads = [units.post(), "place", "what", "posted", "for this vehicle"];
    let mut table =
        PageTable::new(format!("Low over the road (vehicle with panel: {})", units.tall(vehicle_m)), &heads);
    let mut rows: Vec<(f64, bool, Vec<PageCell>)> = posted(driven, overheads, vehicle_m);
    rows.extend(crowns(driven));
    rows.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (_, too_low, row) in rows {
        if too_low {
            table.strong.push(table.rows.len());
        }
        table.row(row);
    }
    if table.rows.is_empty() {
        *out += "<h3>Low over the road</h3>\n<p>The map has no posted clearance below or near the height of the \
                 vehicle on this road. Crowns over the road are not known except where the map has them, or a raster with \
                 pixels of 2 m or less. Signs and your own eyes beat the map.</p>\n";
        return;
    }
    table.write(out);
    *out += "<p class=\"small\">Only what is on the map or in a canopy raster with pixels of 2 m or less: elsewhere under trees, crowns over the road are not known. Signs and your own eyes beat the map.</p>\n";
}

/// Clearances of roads and of what stands over them, each once.
fn posted(driven: &DayDriven, overheads: &[Above], vehicle_m: f64) -> Vec<(f64, bool, Vec<PageCell>)> {
    let units = driven.shown.units;
    let near = |m: f64| m < vehicle_m + NEAR_M;
    let above = overheads.iter().filter_map(|o| {
        let what = o.name.clone().unwrap_or_else(|| o.kind.phrase().to_owned());
        o.maxheight_m.map(|m| (o.at_km, o.lat_deg, o.lon_deg, what, m))
    });
    let mut found: Vec<(f64, f64, f64, String, f64)> = above.filter(|f| near(f.4)).collect();
    let mut before: Option<f64> = None;
    for p in driven.pieces {
        let posted = p.maxheight_m.filter(|m| near(*m));
        let told = posted.is_some_and(|m| found.iter().any(|f| f.4 == m && (f.0 - p.at_km).abs() < 0.5));
        if let Some(m) = posted.filter(|m| before != Some(*m) && !told) {
            found.push((p.at_km, p.lat_deg, p.lon_deg, p.road.clone(), m));
        }
        before = posted;
    }
    let row = |(km, lat, lon, what, m): (f64, f64, f64, String, f64)| {
        let too_low = m < vehicle_m;
        let verdict = if too_low {
            "too low: do not drive under it".to_owned()
        } else {
            format!("passes with less than {} to spare", units.clearance(NEAR_M))
        };
        (km, too_low, cells(units, km, (lat, lon), what, units.clearance(m), &verdict))
    };
    found.into_iter().map(row).collect()
}

/// Stretches under crowns that close over the road.
fn crowns(driven: &DayDriven) -> Vec<(f64, bool, Vec<PageCell>)> {
    let units = driven.shown.units;
    let closed = |p: &crate::ask::corridor::Piece| p.overhang.has_crowns();
    let mut out = Vec::new();
    for run in driven.pieces.chunk_by(|a, b| closed(a) == closed(b) && a.drive == b.drive).filter(|r| closed(&r[0])) {
        let first = &run[0];
        let length_m: f64 = run.iter().map(|p| p.length_m).sum();
        let what = format!("crowns over {}, {}", first.road, units.length(length_m));
        out.push((
            first.at_km,
            false,
            cells(
                units,
                first.at_km,
                (first.lat_deg, first.lon_deg),
                what,
                "–".into(),
                "branches may hang low: look up",
            ),
        ));
    }
    out
}

fn cells(units: Units, km: f64, (lat, lon): (f64, f64), what: String, posted: String, verdict: &str) -> Vec<PageCell> {
    vec![
        PageCell::figure(format!("{:.1}", units.of_road(km * 1e3))),
        PageCell::figure(format!("{lat:.4},{lon:.4}")),
        PageCell::name(what),
        PageCell::figure(posted),
        PageCell::text(verdict),
    ]
}
