use std::sync::Mutex;
use std::time::Instant;
use waymask::base::progress::{Progress, Silent};
struct P(Mutex<(String, Instant)>);
impl Progress for P {
    fn begin(&self, s: &str, _: &'static str, _: Option<u64>) {
        *self.0.lock().unwrap() = (s.into(), Instant::now());
    }
    fn advance(&self, _: u64) {}
    fn end(&self) {
        let g = self.0.lock().unwrap();
        eprintln!("  {} {:.2} s, peak {}", g.0, g.1.elapsed().as_secs_f64(), peak());
    }
    fn warn(&self, _: &str) {}
}
fn peak() -> String {
    let s = std::fs::read_to_string("/proc/self/status").unwrap();
    s.lines().find(|l| l.starts_with("VmHWM")).unwrap().to_string()
}
fn main() {
    let a: Vec<String> = std::env::args().collect();
    let path = std::path::Path::new(&a[2]);
    let p = P(Mutex::new((String::new(), Instant::now())));
    let begun = Instant::now();
    eprintln!("start {}", peak());
    if a[1] == "read" {
        let e = waymask::map::extract::read(path, &p).unwrap();
        println!("roads {}", e.roads.len());
    } else {
        let mut sizes = waymask::map::divide::ShareSizes::default();
        if let Some(b) = a.get(4) {
            sizes.share_bytes = b.parse().unwrap();
        }
        let d = waymask::map::divide::divide_by(path, std::path::Path::new(&a[3]), &|_| true, &p, &sizes).unwrap();
        let bytes: u64 = d.districts.iter().map(|b| b.bytes).sum();
        let most = d.districts.iter().map(|b| b.bytes).max();
        println!(
            "roads {} districts {} bundle bytes {} largest {:?} disk {} = {:.1}x",
            d.counts.roads,
            d.districts.len(),
            bytes,
            most,
            d.disk_bytes,
            d.disk_bytes as f64 / d.info.bytes as f64
        );
    }
    let _ = Silent;
    println!("{:.2} s, {}", begun.elapsed().as_secs_f64(), peak());
}
