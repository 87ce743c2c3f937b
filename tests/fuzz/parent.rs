//! The command line, and a program for each target.
use std::io::{BufRead, BufReader};
use std::os::unix::process::ExitStatusExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitCode, Stdio};
use std::sync::Mutex;
use std::time::{Duration, Instant};
use std::{fs, thread};

use crate::child::{self, Task};
use crate::finds::{Find, keep};
use crate::planted::PLANTED;
use crate::target::Target;
use crate::targets;

/// Address space of a program, kilobytes; some of it belongs to libraries and threads.
const MOST_KB: u64 = 4_000_000;
/// A program that dies is started again no more often.
const DEATHS: usize = 3;
/// A target that does not come back is ended after this.
const GRACE: Duration = Duration::from_secs(120);

const USAGE: &str = "usage: fuzz FOLDER [--seconds N] [--jobs N] [--seed N] [TARGET...]
       fuzz FOLDER --self-test
       fuzz FOLDER --repeat FILE
       fuzz FOLDER --list";

/// What one target came to.
#[derive(Default)]
struct Tally {
    name: String,
    executions: u64,
    seconds: f64,
    inputs: u64,
    reached: u64,
    foreign: u64,
    finds: Vec<String>,
    ended: bool,
}

struct Options<'a> {
    folder: &'a Path,
    seconds: f64,
    jobs: usize,
    seed: u64,
    first: bool,
}

pub fn main(args: &[String]) -> ExitCode {
    let value = |flag: &str| args.iter().position(|a| a == flag).and_then(|i| args.get(i + 1)).map(String::as_str);
    let has = |flag: &str| args.iter().any(|a| a == flag);
    let Some(folder) = args.first().filter(|a| !a.starts_with('-')).map(PathBuf::from) else {
        eprintln!("{USAGE}");
        return ExitCode::from(2);
    };
    let number = |flag: &str, usual: f64| value(flag).and_then(|v| v.parse().ok()).unwrap_or(usual);
    let known = targets::all();
    if has("--list") {
        known.iter().for_each(|target| println!("{}", target.name));
        return ExitCode::SUCCESS;
    }
    if let Some(name) = value("--child") {
        let all = known.into_iter().chain(PLANTED.iter().map(|(target, _)| target));
        let target = all.into_iter().find(|t| t.name == name).expect("a target");
        let (seconds, seed) = (number("--seconds", 10.0), number("--seed", 1.0) as u64);
        child::run(&Task { target, seconds, seed, folder: &folder, first: has("--first") });
        return ExitCode::SUCCESS;
    }
    if let Some(file) = value("--repeat") {
        return repeat(Path::new(file), &known);
    }
    fs::create_dir_all(&folder).expect("a folder for what is found");
    let cores = thread::available_parallelism().map_or(1, usize::from);
    let mut options = Options {
        folder: &folder,
        seconds: number("--seconds", 10.0),
        jobs: number("--jobs", cores as f64) as usize,
        seed: number("--seed", 1.0) as u64,
        first: false,
    };
    if has("--self-test") {
        (options.first, options.seconds) = (true, 10.0);
        return self_test(&options);
    }
    let flags = ["--seconds", "--jobs", "--seed"];
    let named: Vec<&String> = (1..args.len())
        .filter(|i| !args[*i].starts_with("--") && !flags.contains(&args[i - 1].as_str()))
        .map(|i| &args[i])
        .collect();
    if let Some(wrong) = named.iter().find(|name| !known.iter().any(|t| t.name == **name)) {
        eprintln!("fuzz: there is no target `{wrong}`; --list names them\n{USAGE}");
        return ExitCode::from(2);
    }
    let wanted: Vec<&Target> =
        known.into_iter().filter(|t| named.is_empty() || named.iter().any(|n| *n == t.name)).collect();
    told(&run_all(&wanted, &options))
}

/// Runs targets side by side.
fn run_all(wanted: &[&Target], options: &Options) -> Vec<Tally> {
    let next = Mutex::new(wanted.iter());
    let done = Mutex::new(Vec::new());
    let work = || {
        loop {
            let Some(target) = next.lock().expect("no panic").next() else { return };
            let tally = run_one(target, options);
            done.lock().expect("no panic").push(tally);
        }
    };
    thread::scope(|scope| (0..options.jobs.max(1)).for_each(|_| drop(scope.spawn(work))));
    let mut done = done.into_inner().expect("no panic");
    done.sort_by_key(|tally| wanted.iter().position(|t| t.name == tally.name));
    done
}

/// Runs one target, again where its program dies before its time is up.
fn run_one(target: &Target, options: &Options) -> Tally {
    let mut tally = Tally { name: target.name.to_owned(), ..Tally::default() };
    let begun = Instant::now();
    for death in 0..DEATHS {
        let left = options.seconds - begun.elapsed().as_secs_f64();
        if death > 0 && (left < 1.0 || options.first) {
            break;
        }
        let mut child = start(target, options, left, options.seed + death as u64);
        let lines = lines_of(&mut child, &mut tally, left);
        let status = child.wait().expect("a program that ended");
        print!("{lines}");
        if status.success() {
            break;
        }
        let path = child::under_way(options.folder, target.name);
        let held = fs::read(&path).unwrap_or_default();
        let executions = held.first_chunk().map_or(0, |b| u64::from_le_bytes(*b));
        tally.executions += executions;
        tally.seconds = begun.elapsed().as_secs_f64();
        if status.code() != Some(child::ENDED) {
            let length = held.get(8..16).and_then(|b| b.try_into().ok()).map_or(0, u64::from_le_bytes) as usize;
            let input = held.get(16..).map_or(&[][..], |rest| &rest[..length.min(rest.len())]);
            let how = status.signal().map_or(format!("code {:?}", status.code()), |signal| format!("signal {signal}"));
            keep(options.folder, target.name, &Find::new("died", &format!("its program ended with {how}")), input);
            tally.finds.push("died".to_owned());
        }
    }
    let _ = fs::remove_file(child::under_way(options.folder, target.name));
    tally
}

/// With bounded memory; the shell is replaced by the program.
fn start(target: &Target, options: &Options, seconds: f64, seed: u64) -> Child {
    let program = std::env::current_exe().expect("the path of this program");
    let mut command = Command::new("sh");
    command
        .args(["-c", &format!("ulimit -v {MOST_KB}; ulimit -c 0; exec \"$@\""), "sh"])
        .arg(program)
        .arg(options.folder);
    command.args(["--child", target.name, "--seconds", &seconds.to_string(), "--seed", &seed.to_string()]);
    if options.first {
        command.arg("--first");
    }
    // One thread: what is found is found again.
    command.env("RAYON_NUM_THREADS", "1");
    command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::null()).spawn().expect("a program for a target")
}

/// What a program says of its finds; its last line is counted.
fn lines_of(child: &mut Child, tally: &mut Tally, seconds: f64) -> String {
    let until = Instant::now() + Duration::from_secs_f64(seconds) + GRACE;
    let out = child.stdout.take().expect("a pipe");
    let reader = thread::spawn(move || BufReader::new(out).lines().map_while(Result::ok).collect::<Vec<_>>());
    while !reader.is_finished() {
        thread::sleep(Duration::from_millis(50));
        if Instant::now() > until {
            let _ = child.kill();
        }
    }
    let mut said = String::new();
    for line in reader.join().unwrap_or_default() {
        if let Some(figures) = line.strip_prefix("done ") {
            let figures: Vec<f64> = figures.split(' ').filter_map(|f| f.parse().ok()).collect();
            if let [executions, inputs, reached, foreign, seconds] = figures[..] {
                tally.executions += executions as u64;
                (tally.inputs, tally.reached) = (inputs as u64, reached as u64);
                (tally.foreign, tally.ended) = (tally.foreign + foreign as u64, true);
                tally.seconds += seconds;
            }
            continue;
        }
        if let Some(found) = line.strip_prefix("found ") {
            tally.finds.push(found.split(' ').next().unwrap_or_default().to_owned());
        }
        said += &line;
        said.push('\n');
    }
    said
}

/// The table; 1 where something was found or a target did not run.
fn told(done: &[Tally]) -> ExitCode {
    println!(
        "{:<18} {:>10} {:>8} {:>7} {:>8} {:>8} {:>6}",
        "target", "executions", "per s", "inputs", "counters", "foreign", "finds"
    );
    for tally in done {
        let per_s = tally.executions as f64 / tally.seconds.max(0.001);
        println!(
            "{:<18} {:>10} {:>8.0} {:>7} {:>8} {:>8} {:>6}",
            tally.name,
            tally.executions,
            per_s,
            tally.inputs,
            tally.reached,
            tally.foreign,
            tally.finds.len()
        );
    }
    let finds: usize = done.iter().map(|t| t.finds.len()).sum();
    let executions: u64 = done.iter().map(|t| t.executions).sum();
    println!("{} targets, {executions} executions, {finds} finds", done.len());
    let idle: Vec<&str> = done.iter().filter(|t| t.executions < 2).map(|t| t.name.as_str()).collect();
    if !idle.is_empty() {
        println!("not fuzzed: {}", idle.join(", "));
    }
    if finds > 0 || !idle.is_empty() || done.is_empty() { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}

/// Every planted fault is found as what it is, and nothing else is.
fn self_test(options: &Options) -> ExitCode {
    let wanted: Vec<&Target> = PLANTED.iter().map(|(target, _)| target).collect();
    let mut missed = 0;
    for (tally, (target, kind)) in run_all(&wanted, options).iter().zip(PLANTED) {
        let right = if kind.is_empty() { tally.finds.is_empty() && tally.foreign > 0 } else { tally.finds == [*kind] };
        if !right {
            println!(
                "self-test: {} found {:?} in {} executions, not [{kind:?}]",
                target.name, tally.finds, tally.executions
            );
            missed += 1;
        }
    }
    println!("self-test: {} of {} planted faults found", PLANTED.len() - missed, PLANTED.len());
    if missed == 0 { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// Runs one input of a target that the name of its file begins with.
fn repeat(file: &Path, known: &[&'static Target]) -> ExitCode {
    let name = file.file_name().map_or(String::new(), |n| n.to_string_lossy().into_owned());
    let all = known.iter().copied().chain(PLANTED.iter().map(|(target, _)| target));
    let found = all
        .filter(|t| name.strip_prefix(t.name).is_some_and(|rest| rest.starts_with('-')))
        .max_by_key(|t| t.name.len());
    let (Some(target), Ok(input)) = (found, fs::read(file)) else {
        eprintln!("fuzz: {}: give a file that was kept as a find: TARGET-KIND-NUMBER", file.display());
        return ExitCode::from(2);
    };
    match child::run_once(target, &input) {
        Some(find) => {
            println!("{} in {}: {}", find.kind, target.name, find.said);
            ExitCode::FAILURE
        }
        None => {
            println!("nothing is wrong with it");
            ExitCode::SUCCESS
        }
    }
}
