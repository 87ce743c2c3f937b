//! Runs one target in a program of its own, which may die of it.
use std::collections::HashSet;
use std::fs::{self, File};
use std::os::unix::fs::FileExt;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use fastrand::Rng;

use crate::coverage::Coverage;
use crate::finds::{Find, keep};
use crate::mutate::mutated;
use crate::target::{Reader, Target};
use crate::watch::{most_bytes, panics, panics_from_now_on, worked};

/// An execution that takes longer is a find, if the processor works on it for longer when it is repeated.
const SLOW: Duration = Duration::from_secs(2);
/// An execution that the processor works on for longer is ended with its program.
const ENDLESS: Duration = Duration::from_secs(10);
/// The same for one that waits.
const WAITING: Duration = Duration::from_secs(100);
/// Exit code after an execution without end.
pub const ENDED: i32 = 99;
/// No more inputs are kept.
const MOST_KEPT: usize = 4_000;
/// Answers that quote their input are never the same: no more of them lead anywhere.
const MOST_ANSWERS: usize = 500;
/// A find is made shorter for no longer than this.
const SHORTENED: Duration = Duration::from_secs(3);

/// How a target is run.
pub struct Task<'a> {
    pub target: &'a Target,
    pub seconds: f64,
    pub seed: u64,
    /// Where finds, inputs that led somewhere new, and the input under way are kept.
    pub folder: &'a Path,
    /// Ends at the first find.
    pub first: bool,
}

/// When the execution under way began, milliseconds after the program; 0 for none.
static BEGAN_MS: AtomicU64 = AtomicU64::new(0);
static UNDER_WAY: Mutex<Vec<u8>> = Mutex::new(Vec::new());

struct Runner<'a> {
    task: &'a Task<'a>,
    reader: Reader,
    begun: Instant,
    under_way: File,
    executions: u64,
    foreign: u64,
    seen: HashSet<String>,
    coverage: Option<Coverage>,
    finds: HashSet<String>,
}

/// The file of the input under way: how many were executed, then the input.
pub fn under_way(folder: &Path, target: &str) -> PathBuf {
    folder.join(format!("{target}.under-way"))
}

/// Runs a target for its seconds; prints one line for its parent.
pub fn run(task: &Task) {
    panics_from_now_on();
    if catch_unwind(AssertUnwindSafe(|| run_out(task))).is_err() {
        println!("{} cannot be fuzzed: {:?}", task.target.name, panics());
        std::process::exit(1);
    }
}

fn run_out(task: &Task) {
    let own = tempfile::tempdir().expect("a temporary folder");
    let mut runner = Runner {
        task,
        reader: (task.target.prepare)(own.path()),
        begun: Instant::now(),
        under_way: File::create(under_way(task.folder, task.target.name)).expect("a file for the input under way"),
        executions: 0,
        foreign: 0,
        seen: HashSet::new(),
        coverage: Coverage::find(),
        finds: HashSet::new(),
    };
    let (folder, name, begun) = (task.folder.to_owned(), task.target.name, runner.begun);
    thread::spawn(move || end_what_has_no_end(&folder, name, begun));
    let kept = runner.fuzz();
    let reached = runner.coverage.as_ref().map_or(0, Coverage::reached);
    let seeds = kept.len();
    println!(
        "done {} {} {} {} {}",
        runner.executions,
        seeds,
        reached,
        runner.foreign,
        runner.begun.elapsed().as_secs_f64()
    );
    // The folder is removed here: what ends a program at once runs no destructors.
    drop(own);
}

/// Runs one input; what came of it.
pub fn run_once(target: &Target, input: &[u8]) -> Option<Find> {
    panics_from_now_on();
    let own = tempfile::tempdir().expect("a temporary folder");
    let mut reader = (target.prepare)(own.path());
    let (find, outcome, _) = executed(&mut reader, target, input);
    println!("{}: {outcome:?}", target.name);
    find
}

/// One execution: what is wrong with it, what it came to, panics of other people's parsers.
fn executed(reader: &mut Reader, target: &Target, input: &[u8]) -> (Option<Find>, String, u64) {
    let begun = Instant::now();
    let (done, bytes) = most_bytes(|| catch_unwind(AssertUnwindSafe(|| reader(input))));
    let took = begun.elapsed();
    let panics = panics();
    let ours = panics.iter().find(|p| p.ours);
    let find = match &done {
        Err(_) => Some(Find::new("panic", panics.last().map_or("a panic without words", |p| &p.said))),
        Ok(_) if ours.is_some() => ours.map(|p| Find::new("caught", &p.said)),
        Ok(_) if bytes > target.most_mb << 20 => {
            Some(Find::new("memory", &format!("held {} MB of {}", bytes >> 20, target.most_mb)))
        }
        Ok(_) if took > SLOW => Some(Find::new("slow", &format!("took {:.1} s", took.as_secs_f64()))),
        Ok(_) => None,
    };
    (find, done.unwrap_or_default(), panics.iter().filter(|p| !p.ours).count() as u64)
}

fn end_what_has_no_end(folder: &Path, name: &str, begun: Instant) {
    let mut first_seen = (0, Duration::ZERO);
    loop {
        thread::sleep(Duration::from_millis(500));
        let began = BEGAN_MS.load(Ordering::Relaxed);
        if began != first_seen.0 {
            first_seen = (began, worked());
            continue;
        }
        let waited = begun.elapsed().saturating_sub(Duration::from_millis(began));
        if began > 0 && (worked() - first_seen.1 > ENDLESS || waited > WAITING) {
            let input = UNDER_WAY.lock().map(|input| input.clone()).unwrap_or_default();
            keep(folder, name, &Find::new("endless", &format!("no end after {} s", waited.as_secs())), &input);
            std::process::exit(ENDED);
        }
    }
}

impl Runner<'_> {
    fn time_is_up(&self) -> bool {
        self.begun.elapsed().as_secs_f64() >= self.task.seconds || (self.task.first && !self.finds.is_empty())
    }

    /// Seeds first, then changes to them; the inputs that are kept.
    fn fuzz(&mut self) -> Vec<Vec<u8>> {
        let target = self.task.target;
        let corpus = self.task.folder.join("inputs").join(target.name);
        let words = target.all_words();
        let mut rng = Rng::with_seed(self.task.seed);
        let mut kept: Vec<Vec<u8>> = Vec::new();
        let stored = inputs_in(&corpus);
        for input in (target.seeds)().into_iter().chain(stored) {
            // Of many seeds those that there is no time for are changed without having been run.
            let late = self.begun.elapsed().as_secs_f64() > self.task.seconds / 4.0;
            // What leads nowhere new is no worse a seed, if it is one of the first.
            if late || self.execute(&input) || kept.len() < 8 {
                kept.push(input);
            }
        }
        assert!(!kept.is_empty(), "{} has no seeds", target.name);
        while !self.time_is_up() {
            let input = mutated(&mut rng, &kept, &words, target.longest);
            if self.execute(&input) && kept.len() < MOST_KEPT {
                let _ = fs::create_dir_all(&corpus);
                let _ = fs::write(corpus.join(crate::finds::digest(&input)), &input);
                kept.push(input);
            }
        }
        kept
    }

    /// Whether it led somewhere new: to new code where that is counted, else to a new answer.
    fn execute(&mut self, input: &[u8]) -> bool {
        self.executions += 1;
        // An abort leaves no time to write it down.
        let mut told = self.executions.to_le_bytes().to_vec();
        told.extend((input.len() as u64).to_le_bytes());
        told.extend(input);
        let _ = self.under_way.write_all_at(&told, 0);
        if let Ok(mut held) = UNDER_WAY.lock() {
            held.clear();
            held.extend(input);
        }
        BEGAN_MS.store(1 + self.begun.elapsed().as_millis() as u64, Ordering::Relaxed);
        let (find, outcome, foreign) = executed(&mut self.reader, self.task.target, input);
        BEGAN_MS.store(0, Ordering::Relaxed);
        self.foreign += foreign;
        let new = match &mut self.coverage {
            Some(coverage) => coverage.is_new(),
            None => self.seen.len() < MOST_ANSWERS && self.seen.insert(outcome),
        };
        if let Some(find) = &find {
            self.found(find, input);
        }
        new && find.is_none()
    }

    /// Keeps a find of a kind that was not found before, as short as it becomes soon.
    fn found(&mut self, find: &Find, input: &[u8]) {
        if self.finds.contains(&find.place()) {
            return;
        }
        // Time that other programs took is not ours.
        let before = worked();
        if find.kind == "slow" {
            executed(&mut self.reader, self.task.target, input);
            if worked() - before < SLOW {
                return;
            }
        }
        self.finds.insert(find.place());
        let input = if ["slow", "memory"].contains(&find.kind) { input.to_vec() } else { self.shortened(find, input) };
        keep(self.task.folder, self.task.target.name, find, &input);
    }

    fn shortened(&mut self, find: &Find, input: &[u8]) -> Vec<u8> {
        let (mut best, begun) = (input.to_vec(), Instant::now());
        let mut step = best.len() / 2;
        while step > 0 && begun.elapsed() < SHORTENED {
            let mut at = 0;
            while at < best.len() && begun.elapsed() < SHORTENED {
                let mut less = best.clone();
                less.drain(at..(at + step).min(best.len()));
                self.executions += 1;
                let same = executed(&mut self.reader, self.task.target, &less).0;
                if same.is_some_and(|same| same.place() == find.place()) { best = less } else { at += step }
            }
            step /= 2;
        }
        best
    }
}

fn inputs_in(folder: &Path) -> Vec<Vec<u8>> {
    let mut paths: Vec<PathBuf> = fs::read_dir(folder).into_iter().flatten().flatten().map(|e| e.path()).collect();
    paths.sort();
    paths.iter().filter_map(|path| fs::read(path).ok()).collect()
}
