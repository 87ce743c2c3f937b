//! Figures for the table that `scripts/bench` prints at its end: one line each in the file that WAYMASK_BENCH names.
use std::io::Write;

/// A time without a peer, seconds.
#[allow(dead_code)] // Not every bench has both kinds.
pub fn alone(what: &str, ours_s: f64) {
    println!("  {what}: {ours_s:.3} s");
    line(&format!("{what}\t{ours_s}\t\t"));
}

/// A time and that of another program doing the same; `None` where that program is missing or failed.
#[allow(dead_code)]
pub fn beside(what: &str, ours_s: f64, peer: &str, peer_s: Option<f64>) {
    match peer_s {
        Some(s) => println!("  {what}: {ours_s:.3} s, {peer} {s:.3} s, ratio {:.2}", s / ours_s),
        None => println!("  {what}: {ours_s:.3} s; {peer} is missing or failed"),
    }
    line(&format!("{what}\t{ours_s}\t{peer}\t{}", peer_s.map_or("missing".into(), |s| s.to_string())));
}

fn line(fields: &str) {
    let Some(path) = std::env::var_os("WAYMASK_BENCH") else { return };
    let mut file = std::fs::OpenOptions::new().append(true).create(true).open(path).expect("WAYMASK_BENCH is writable");
    writeln!(file, "{}\t{fields}", env!("CARGO_CRATE_NAME")).expect("WAYMASK_BENCH is writable");
}
