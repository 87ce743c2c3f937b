//! Which code ran: the counters that `-C instrument-coverage` puts into the program, where scripts/fuzz built it so.
//!
//! They are found by the sections of the program's own file and read through `/proc/self/mem`, which needs no unsafe code and no
//! crate. A program that was built as always has none, and is guided by what its targets answer alone.
use std::fs::File;
use std::os::unix::fs::FileExt;

/// The section of the counters, eight bytes each.
const SECTION: &str = "__llvm_prf_cnts";
/// Counters that are compared at once.
const STRIDE: usize = 512;

/// Counters of the running program.
pub struct Coverage {
    memory: File,
    at: u64,
    now: Vec<u8>,
    before: Vec<u8>,
    /// For each counter, a bit for each order of magnitude that it rose by in one execution.
    seen: Vec<u8>,
}

impl Coverage {
    /// Nothing where the program has no counters.
    pub fn find() -> Option<Self> {
        let program = std::fs::read("/proc/self/exe").ok()?;
        let (address, bytes) = section(&program)?;
        let maps = std::fs::read_to_string("/proc/self/maps").ok()?;
        let base = u64::from_str_radix(maps.split('-').next()?, 16).ok()?;
        let memory = File::open("/proc/self/mem").ok()?;
        let (now, before) = (vec![0; bytes], vec![0; bytes]);
        Some(Self { memory, at: base + address, now, before, seen: vec![0; bytes / 8] })
    }

    /// Counters that ever rose.
    pub fn reached(&self) -> usize {
        self.seen.iter().filter(|bits| **bits != 0).count()
    }

    /// Whether a counter rose since the last call by an order of magnitude that it never rose by.
    pub fn is_new(&mut self) -> bool {
        std::mem::swap(&mut self.now, &mut self.before);
        if self.memory.read_exact_at(&mut self.now, self.at).is_err() {
            return false;
        }
        let mut new = false;
        for (stretch, (now, before)) in self.now.chunks(STRIDE).zip(self.before.chunks(STRIDE)).enumerate() {
            if now == before {
                continue;
            }
            for (i, (now, before)) in now.chunks_exact(8).zip(before.chunks_exact(8)).enumerate() {
                let rise = count(now).wrapping_sub(count(before));
                if rise > 0 {
                    let bit = 1 << rise.ilog2().min(7);
                    let seen = &mut self.seen[stretch * STRIDE / 8 + i];
                    new |= *seen & bit == 0;
                    *seen |= bit;
                }
            }
        }
        new
    }
}

fn count(bytes: &[u8]) -> u64 {
    bytes.try_into().map_or(0, u64::from_le_bytes)
}

/// Address and length of the section in a little-endian ELF file of 64 bits.
fn section(elf: &[u8]) -> Option<(u64, usize)> {
    if !elf.starts_with(b"\x7fELF\x02\x01") {
        return None;
    }
    let number = |at: usize, bytes: usize| -> Option<usize> {
        let part = elf.get(at..at + bytes)?;
        Some(part.iter().rev().fold(0, |sum, byte| sum << 8 | usize::from(*byte)))
    };
    let (table, size, entries, names) = (number(0x28, 8)?, number(0x3a, 2)?, number(0x3c, 2)?, number(0x3e, 2)?);
    let header = |i: usize| table + i * size;
    let names_at = number(header(names) + 0x18, 8)?;
    (0..entries).map(header).find_map(|at| {
        let name = names_at + number(at, 4)?;
        let is_it = elf.get(name..)?.starts_with(SECTION.as_bytes());
        is_it.then_some(())?;
        Some((number(at + 0x10, 8)? as u64, number(at + 0x20, 8)? & !7))
    })
}
