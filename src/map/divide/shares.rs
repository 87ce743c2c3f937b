//! Shares: how what is too large for memory is split, so that one share at a time fits.
use rayon::prelude::*;

use crate::base::error::Result;
use crate::base::progress::Progress;

/// Most shares: with more, what a buffer holds of each would be too little to be written at a time.
const MOST_SHARES: u64 = 8_000;
/// Bytes in memory for each byte of the extract in a share (measured: 14 in Andorra).
const MEMORY_FACTOR: u64 = 16;

/// How much is held in memory at a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ShareSizes {
    /// Least bytes of the extract for each share.
    pub share_bytes: u64,
    /// Most bytes that wait in the buffers of one temporary file.
    pub buffer_bytes: usize,
    /// What the shares that are worked on at a time may hold together, bytes.
    pub work_bytes: u64,
}

impl Default for ShareSizes {
    fn default() -> Self {
        Self { share_bytes: 1_000_000, buffer_bytes: 32 << 20, work_bytes: 256 << 20 }
    }
}

/// The shares of one extract.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct DivideShares {
    /// How many there are.
    pub count: u32,
    /// Most bytes in the buffers of one temporary file.
    pub buffer_bytes: usize,
    at_once: usize,
}

impl DivideShares {
    /// The shares of an extract, by its length.
    pub fn of(extract_bytes: u64, sizes: &ShareSizes) -> Self {
        let share_bytes = (extract_bytes / MOST_SHARES).max(sizes.share_bytes).max(1);
        // At most as many as allowed, and one more.
        let count = (extract_bytes / share_bytes) as u32 + 1;
        let at_once = (sizes.work_bytes / (share_bytes * MEMORY_FACTOR)).max(1) as usize;
        Self { count, buffer_bytes: sizes.buffer_bytes, at_once }
    }
    /// The share of a node. Nodes of near ids go together: they often belong to the same ways.
    pub fn of_node(&self, id: i64) -> u32 {
        self.of_number((id >> 10) as u64)
    }
    /// The share of a way or relation.
    pub fn of_object(&self, id: i64) -> u32 {
        self.of_number(id as u64)
    }
    fn of_number(&self, number: u64) -> u32 {
        (scattered(number) % u64::from(self.count)) as u32
    }
    /// Works on all shares, some at a time, and takes the results in their order.
    ///
    /// # Errors
    /// The first that has one.
    pub fn each<T: Send>(
        &self,
        progress: &dyn Progress,
        stage: &str,
        work: impl Fn(u32) -> Result<T> + Sync,
        mut take: impl FnMut(T) -> Result<()>,
    ) -> Result<()> {
        let all: Vec<u32> = (0..self.count).collect();
        progress.begin(stage, "shares", Some(all.len() as u64));
        for batch in all.chunks(self.at_once.min(rayon::current_num_threads())) {
            let done: Vec<Result<T>> = batch.par_iter().map(|share| work(*share)).collect();
            for one in done {
                take(one?)?;
                progress.advance(1);
            }
        }
        progress.end();
        Ok(())
    }
}

/// A number that depends on every bit of another (the finalizer of SplitMix64).
pub(super) fn scattered(number: u64) -> u64 {
    let mut z = number.wrapping_add(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_are_of_like_size_and_any_id_has_one() {
        let shares = DivideShares::of(9_999_999, &ShareSizes::default());
        assert_eq!((shares.count, shares.at_once), (10, 16));
        let planet = DivideShares::of(80_000_000_000, &ShareSizes::default());
        assert_eq!((planet.count, planet.at_once), (8_001, 1));
        let mut held = [0_u32; 10];
        (-50_000..50_000).for_each(|id| held[shares.of_object(id) as usize] += 1);
        assert!(held.iter().all(|n| (9_000..11_000).contains(n)), "{held:?}");
        for id in [i64::MIN, -1, 0, i64::MAX] {
            assert!(shares.of_node(id) < 10 && shares.of_object(id) < 10);
        }
    }
}
