//! Fuzzing: readers fed with changed inputs for as long as one likes, each in a program of its own. `scripts/fuzz` runs it.
//!
//! A reader of ours may refuse whatever it is fed with. It may not panic, not even where `base/foreign.rs` makes an error of it;
//! die; hold more memory than its target states; or keep the processor busy for two seconds. What has an inverse comes back. Panics of other
//! people's crates at that border are errors there: they are counted, and are no finds.
//!
//! Why this and not a kept fuzzer: libFuzzer, AFL and honggfuzz need a second build of all crates with other flags, or a
//! toolchain that is not stable, and hooks in unsafe code, which this package forbids. `scripts/fuzz` compiles our own crate
//! once more with `-C instrument-coverage` and uses the crates that are there; inputs that reach new code are kept and changed
//! again. Run from the build of the tests it goes by what readers answer, which costs no compiling.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::print_stdout, clippy::print_stderr, reason = "it is a test")]
mod child;
mod coverage;
#[path = "../suite/elements_writer/mod.rs"]
mod elements_writer;
#[path = "../suite/extract_builder/mod.rs"]
#[allow(dead_code, reason = "the suite uses more of it")]
mod extract_builder;
mod finds;
#[path = "../suite/build/kit.rs"]
#[allow(dead_code, reason = "the suite uses more of it")]
mod kit;
mod mutate;
mod parent;
mod planted;
mod target;
mod targets;
mod watch;

use std::process::ExitCode;

fn main() -> ExitCode {
    parent::main(&std::env::args().skip(1).collect::<Vec<_>>())
}
