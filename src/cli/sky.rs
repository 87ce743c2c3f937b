//! `sky`: one place, its mask and who passes over it.
use std::fmt::Write as _;

use super::args::Sky;
use super::{picture, show, whole};
use crate::ask::place::{self, Spot, SpotOptions};
use crate::base::error::{Error, Result};
use crate::base::geodesy;
use crate::base::words::Cause;
use crate::report::{self, polar};

/// Runs the command; the text to print.
pub fn run(args: &Sky) -> Result<String> {
    let options = SpotOptions {
        layer: args.layer.clone(),
        at_deg: args.at,
        within_m: args.within,
        backward: args.backward,
        orbits: args.orbits.clone(),
        time: args.time.unwrap_or_else(jiff::Timestamp::now),
        minutes: args.minutes,
    };
    let spot = place::spot(&options)?;
    if let Some(path) = &args.output {
        let ending = path.extension().and_then(|e| e.to_str()).unwrap_or_default().to_ascii_lowercase();
        let picture = match ending.as_str() {
            "svg" => polar::svg(&spot).into_bytes(),
            "png" => picture::png(&polar::svg(&spot))?,
            _ => {
                let fact = "is not a kind of picture this command draws";
                return Err(Error::usage(path.display().to_string(), fact, "give a name that ends in .svg or .png"));
            }
        };
        whole::write(path, &picture, args.overwrite)?;
    }
    if args.json {
        let json =
            serde_json::to_string_pretty(&spot).map_err(|e| Error::failed("sky", e.to_string(), "leave out --json"))?;
        return Ok(json + "\n");
    }
    let mut text = text(&spot, args.orbits.is_some());
    if let Some(path) = &args.output {
        let _ = writeln!(text, "written\n  {}", path.display());
    }
    Ok(text + show::CAUTION + "\n")
}

fn text(spot: &Spot, with_orbits: bool) -> String {
    let mut out = String::new();
    let _ = writeln!(
        out,
        "{}, {:.0} m away, heading {:.0}\u{b0}: segment {} is {}, outage p95 {:.1} s",
        spot.road, spot.distance_m, spot.heading_deg, spot.segment_id, spot.rating_name, spot.outage_p95_s
    );
    let share = |name: &str| 100.0 * spot.shares.get(name).copied().unwrap_or(0.0);
    let _ = writeln!(out, "usable sky, weighted by {:.1} expected satellites", spot.expected_satellites);
    let _ = writeln!(out, "  {:5.1} %  open", share("open"));
    for cause in Cause::ALL.iter().filter(|c| share(c.name()) >= 0.05) {
        let _ = writeln!(out, "  {:5.1} %  {}", share(cause.name()), cause.phrase());
    }
    let _ = writeln!(out, "by direction: expected satellites, share of them in open sky, what blocks most");
    for (k, name) in report::ROSE.iter().enumerate() {
        let _ = writeln!(out, "  {name:2}  {}", direction(spot, k));
    }
    if with_orbits {
        passes(&mut out, spot);
    }
    out
}

/// One eighth of the sky, centred on its direction.
fn direction(spot: &Spot, nth: usize) -> String {
    let cells = || spot.cells.iter().filter(|c| geodesy::eighth(c.azimuth_deg) == nth);
    let weight: f64 = cells().map(|c| c.weight).sum();
    let open: f64 = cells().map(|c| c.weight * (1.0 - c.blocked)).sum();
    let by = |cause: Cause| cells().filter(|c| c.cause == cause).map(|c| c.weight * c.blocked).sum::<f64>();
    let blocking = Cause::ALL.iter().copied().filter(|c| by(*c) > 0.0);
    let worst = blocking.max_by(|a, b| by(*a).total_cmp(&by(*b))).unwrap_or(Cause::None);
    let share = if weight > 0.0 { 100.0 * open / weight } else { 0.0 };
    format!("{:5.2}  {share:5.1} %  {}", weight * spot.expected_satellites, worst.phrase())
}

fn passes(out: &mut String, spot: &Spot) {
    let _ = writeln!(out, "passes (UTC): rise, highest, set, seconds in open usable sky");
    for pass in &spot.passes {
        let clock = |time: &str| time.get(11..19).unwrap_or(time).to_owned();
        let _ = writeln!(
            out,
            "  {:18} {} {:3.0}\u{b0}  {:2.0}\u{b0} at {}  {} {:3.0}\u{b0}  {:4.0} of {:4.0} s",
            pass.satellite,
            clock(&pass.rise.time),
            pass.rise.azimuth_deg,
            pass.peak.elevation_deg,
            clock(&pass.peak.time),
            clock(&pass.set.time),
            pass.set.azimuth_deg,
            pass.open_s,
            pass.seconds
        );
    }
    if spot.passes.is_empty() {
        let _ = writeln!(out, "  none");
    }
    if spot.lost > 0 {
        let _ = writeln!(out, "  {} satellites cannot be placed at this time and are left out", spot.lost);
    }
}
