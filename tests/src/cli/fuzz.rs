//! The command `fuzz`.

use std::fmt::Write;
use std::panic::catch_unwind;
use std::time::Instant;

use anyhow::Context as _;
use clap::Args;
use rayon::prelude::*;

use crate::fuzz::mutation::{Mutation, seeds};
use crate::fuzz::{TARGETS, Target, corpus};

/// Changed inputs of one stream.
const STREAM: u64 = 10_000;

/// Throw changed bytes at every door: frames, logs, board files, fault scripts, memories.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// How many inputs for each door
    #[arg(default_value_t = 10_000)]
    inputs: u64,
    /// Only the door of this name
    #[arg(long)]
    target: Option<String>,
    /// Chance
    #[arg(long, default_value_t = 1)]
    seed: u64,
}

impl Arguments {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let mut out = String::new();
        writeln!(out, "{}", super::typed())?;
        let asked = |(name, _): &&Target| self.target.as_deref().is_none_or(|only| only == *name);
        let mut broken = Vec::new();
        for &(name, target) in TARGETS.iter().filter(asked) {
            let began = Instant::now();
            let found = self.throw(name, target)?;
            let took = began.elapsed().as_secs_f64();
            writeln!(
                out,
                "{:>10} inputs, {:>3} broken, {took:.0} s: {name}",
                self.inputs,
                found.len()
            )?;
            broken.extend(found.into_iter().map(|input| (name, input)));
        }
        super::show(&out)?;
        for (name, input) in broken.iter().take(10) {
            let path = std::env::temp_dir().join(format!("{name}-{:016x}", digest(input)));
            std::fs::write(&path, input).context("cannot keep what broke a door")?;
            eprintln!("{name}: {}", path.display());
        }
        anyhow::ensure!(broken.is_empty(), "{} inputs broke a door", broken.len());
        Ok(())
    }

    /// The inputs that made a target panic.
    fn throw(&self, name: &str, target: fn(&[u8])) -> anyhow::Result<Vec<Vec<u8>>> {
        let seeds = seeds(&corpus(name))?;
        let stream = |number: u64| {
            let mut changes =
                Mutation::new(seeds.clone(), self.seed.wrapping_mul(1 << 32) ^ number);
            let count = STREAM.min(self.inputs - number * STREAM);
            let mut broken = Vec::new();
            for _ in 0..count {
                let input = changes.next();
                if catch_unwind(|| target(input)).is_err() {
                    broken.push(input.to_vec());
                }
            }
            broken
        };
        Ok((0..self.inputs.div_ceil(STREAM)).into_par_iter().flat_map_iter(stream).collect())
    }
}

/// A name for a file.
fn digest(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0xcbf2_9ce4_8422_2325, |hash, &byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    })
}
