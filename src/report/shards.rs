//! A plan of shards, as text and as JSON.
use serde::Serialize;

use super::record::bytes;
use crate::base::count::counted;
use crate::base::error::{Error, Result};
use crate::base::plain::PlainLines;
use crate::base::progress::WorkAhead;

/// One shard of a plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ShardLine {
    /// Which, from 1.
    pub shard: usize,
    /// Names of its districts.
    pub districts: Vec<String>,
    /// Those of them whose part is not there yet.
    pub missing: Vec<String>,
    /// Road in them, kilometres.
    pub km: f64,
    /// Forecast of processor time, seconds.
    pub cpu_s: f64,
    /// Forecast of the memory of a process with one thread, bytes.
    pub memory_bytes: u64,
    /// Forecast of its parts on disk, bytes.
    pub disk_bytes: u64,
}

/// A plan of shards.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ShardsTold {
    /// Folder that holds the plan.
    pub work: String,
    /// Hash of the plan: shards of plans with another cannot be joined.
    pub plan: String,
    /// Road in all districts, kilometres.
    pub km: f64,
    /// Shards, in order.
    pub shards: Vec<ShardLine>,
}

/// As JSON.
///
/// # Errors
/// A figure that cannot be written, which is a fault of the program.
pub fn shards_json(told: &ShardsTold) -> Result<String> {
    let json = serde_json::to_string_pretty(told);
    json.map(|j| j + "\n").map_err(|e| Error::failed("shards", e.to_string(), "leave out --json"))
}

/// For people.
pub fn shards_text(told: &ShardsTold) -> String {
    let mut out = PlainLines::new();
    let count: usize = told.shards.iter().map(|s| s.districts.len()).sum();
    let all_s: f64 = told.shards.iter().map(|s| s.cpu_s).sum();
    let disk: u64 = told.shards.iter().map(|s| s.disk_bytes).sum();
    writeln!(
        out,
        "{:.1} km of road in {}, {}: about {} of one processor, {} of parts",
        told.km,
        counted(count, "district"),
        counted(told.shards.len(), "shard"),
        lasting(all_s),
        bytes(disk)
    );
    writeln!(out, "{:>7} {:>10} {:>10}  {:>10} {:>10} {:>10}", "shard", "districts", "km", "time", "memory", "disk");
    for s in told.shards.iter().filter(|s| !s.districts.is_empty()) {
        writeln!(
            out,
            "{:>7} {:>10} {:>10.1}  {:>10} {:>10} {:>10}",
            s.shard,
            s.districts.len(),
            s.km,
            lasting(s.cpu_s),
            bytes(s.memory_bytes),
            bytes(s.disk_bytes)
        );
    }
    let idle = told.shards.iter().filter(|s| s.districts.is_empty()).count();
    if idle > 0 {
        writeln!(out, "{} without any district: there are no more than {count}", counted(idle, "shard"));
    }
    let missing: usize = told.shards.iter().map(|s| s.missing.len()).sum();
    if missing < count {
        writeln!(out, "parts are there of {}, missing of {missing}", counted(count - missing, "district"));
    }
    writeln!(out, "plan {} in {}", told.plan, told.work);
    out.text()
}

/// What lies ahead of a build, for people, in one line.
pub fn ahead_line(work: &WorkAhead) -> String {
    let there = match work.there {
        0 => String::new(),
        n if n == work.districts => ", all of them rated already".into(),
        n => format!(", {n} of them rated already"),
    };
    format!(
        "{:.1} km of road in {}{there}: about {} with {}, {} of memory, {} of disk (measured on one machine, yours may differ)",
        work.km,
        counted(work.districts, "district"),
        lasting(work.rating_s + work.join_s),
        counted(work.threads, "thread"),
        bytes(work.memory_bytes),
        bytes(work.parts_bytes + work.layer_bytes)
    )
}

/// `45 s`, `12 min`, `3.4 h`.
pub fn lasting(seconds: f64) -> String {
    match seconds {
        s if s < 99.5 => format!("{s:.0} s"),
        s if s < 5_970.0 => format!("{:.0} min", s / 60.0),
        s if s < 360_000.0 => format!("{:.1} h", s / 3_600.0),
        s => format!("{:.0} days", s / 86_400.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plan_reads_as_a_table_with_all_of_it_first() {
        let line = |shard: usize, km: f64| ShardLine {
            shard,
            districts: vec!["n4250e00150".into(); shard],
            missing: vec!["n4250e00150".into(); shard - 1],
            km,
            cpu_s: 60.0 * km,
            memory_bytes: 150_000_000,
            disk_bytes: 5_000_000,
        };
        let told =
            ShardsTold { work: "w".into(), plan: "abc".into(), km: 30.0, shards: vec![line(1, 10.0), line(2, 20.0)] };
        let text = shards_text(&told);
        assert!(
            text.starts_with(
                "30.0 km of road in 3 districts, 2 shards: about 30 min of one processor, 10.0 MB of parts\n"
            ),
            "{text}"
        );
        assert!(text.contains("      2          2       20.0      20 min   150.0 MB     5.0 MB\n"), "{text}");
        assert!(text.contains("parts are there of 2 districts, missing of 1\n"), "{text}");
        assert!(shards_json(&told).unwrap().contains("\"cpu_s\": 1200.0"));
        assert_eq!([40.0, 150.0, 9e3, 4e5].map(lasting), ["40 s", "2 min", "2.5 h", "5 days"]);
    }
}
