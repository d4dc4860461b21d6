//! Changes made blindly to bytes that are known to be right: flipped, cut, doubled, spliced, and numbers
//! in texts turned into extreme ones.
//!
//! Used by the command `fuzz`. A fuzzer that watches branches finds more (`fuzz/`); this one needs no
//! other compiler.

use std::path::Path;

use anyhow::Context as _;
use rand::{Rng as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;

/// No input is longer.
const LONGEST: usize = 4096;

/// What numbers in texts are turned into.
const EXTREMES: [&str; 14] = [
    "0",
    "-0.0",
    "-1",
    "1",
    "1e308",
    "-1e308",
    "1e-320",
    "nan",
    "inf",
    "65536",
    "4294967296",
    "-9223372036854775808",
    "0.1",
    "\"\"",
];

/// The files of a folder, in the order of their names.
///
/// # Errors
/// Where the folder or a file cannot be read.
pub fn seeds(folder: &Path) -> anyhow::Result<Vec<Vec<u8>>> {
    let entries = std::fs::read_dir(folder)
        .with_context(|| format!("cannot read the corpus {}", folder.display()))?;
    let mut paths: Vec<_> = entries.filter_map(Result::ok).map(|entry| entry.path()).collect();
    paths.sort();
    let read = |path: &std::path::PathBuf| {
        std::fs::read(path).with_context(|| format!("cannot read {}", path.display()))
    };
    paths.iter().map(read).collect()
}

/// An endless line of changed inputs.
#[derive(Debug)]
pub struct Mutation {
    seeds: Vec<Vec<u8>>,
    numbers: ChaCha8Rng,
    input: Vec<u8>,
}

impl Mutation {
    /// Changes of these inputs, the same for the same seed.
    #[must_use]
    pub fn new(seeds: Vec<Vec<u8>>, seed: u64) -> Self {
        Self { seeds, numbers: ChaCha8Rng::seed_from_u64(seed), input: Vec::new() }
    }

    fn below(&mut self, end: usize) -> usize {
        let end = u32::try_from(end).unwrap_or(u32::MAX).max(1);
        usize::try_from(self.numbers.next_u32() % end).unwrap_or(0)
    }

    /// The next input: one of the seeds, changed in one to eight places.
    #[allow(clippy::should_implement_trait, reason = "what is given is borrowed")]
    pub fn next(&mut self) -> &[u8] {
        let seed = self.below(self.seeds.len());
        self.input.clone_from(&self.seeds[seed]);
        for _ in 0..=self.below(8) {
            self.change();
        }
        self.input.truncate(LONGEST);
        &self.input
    }

    fn change(&mut self) {
        let length = self.input.len();
        let at = self.below(length + 1);
        let byte = self.numbers.next_u32().to_le_bytes()[0];
        let until = (at + 1 + self.below(24)).min(length);
        match self.below(8) {
            0 if at < length => self.input[at] ^= 1 << (byte % 8),
            1 if at < length => self.input[at] = byte,
            2 => self.input.insert(at, byte),
            3 if at < until => drop(self.input.drain(at..until)),
            4 if at < until => {
                let piece = self.input[at..until].to_vec();
                let to = self.below(self.input.len() + 1);
                self.input.splice(to..to, piece);
            }
            5 => self.input.truncate(at),
            6 => {
                let other = self.below(self.seeds.len());
                let (from, length) = (self.below(self.seeds[other].len() + 1), self.below(64));
                let piece: Vec<u8> =
                    self.seeds[other].iter().skip(from).take(length).copied().collect();
                self.input.splice(at..at, piece);
            }
            _ => self.extreme(at),
        }
    }

    /// Turns the next number of a text into an extreme one.
    fn extreme(&mut self, from: usize) {
        let digit = |byte: &u8| byte.is_ascii_digit();
        let Some(begin) = self.input.iter().skip(from).position(digit).map(|at| from + at) else {
            return;
        };
        let part_of = |byte: &u8| byte.is_ascii_digit() || *byte == b'.';
        let length = self.input.iter().skip(begin).take_while(|byte| part_of(byte)).count();
        let word = EXTREMES[self.below(EXTREMES.len())];
        self.input.splice(begin..begin + length, word.bytes());
    }
}
