//! A look into a firmware's file: what it takes, where things are, and what must not be in it.

use std::path::{Path, PathBuf};

use anyhow::{Context as _, ensure};
use object::read::elf::ElfFile32;
use object::{Object as _, ObjectSection as _, ObjectSymbol as _, SectionFlags, SectionKind};

/// A firmware as linked.
#[derive(Debug)]
pub struct Image {
    path: PathBuf,
    symbols: Vec<(String, u64)>,
    flash_bytes: u64,
    ram_bytes: u64,
}

/// A name alike in both manglings: without the types that a function was made for, which only one of
/// them tells, and without brackets.
fn plain(name: &str) -> String {
    let types = name.match_indices("::<").find(|(at, _)| !name[at + 3..].starts_with("impl "));
    let kept = types.map_or(name, |(at, _)| &name[..at]);
    kept.replace(['<', '>'], "")
}

/// What a release image must not hold: the ways into a panic, and what would print one.
const UNWANTED: [&str; 2] = ["core::panicking", "core::fmt"];

impl Image {
    /// Reads the file.
    ///
    /// # Errors
    /// Where it cannot be read or is no such file.
    pub fn open(path: &Path) -> anyhow::Result<Self> {
        let bytes = std::fs::read(path)
            .with_context(|| format!("{} is not there; boards/build makes it", path.display()))?;
        let file = ElfFile32::<object::Endianness>::parse(&*bytes)
            .with_context(|| format!("{} is no firmware", path.display()))?;
        let symbol = |symbol: object::read::elf::ElfSymbol32<'_, '_>| {
            let name = symbol.name().ok()?;
            // Without the hash that a compiler puts behind a name.
            Some((plain(&format!("{:#}", rustc_demangle::demangle(name))), symbol.address()))
        };
        let symbols = file.symbols().filter_map(symbol).collect();
        let (mut flash_bytes, mut ram_bytes) = (0, 0);
        for section in file.sections() {
            let SectionFlags::Elf { sh_flags, .. } = section.flags() else { continue };
            if sh_flags.0 & object::elf::SHF_ALLOC.0 == 0 {
                continue;
            }
            let data = section.kind() == SectionKind::Data;
            let zeroed = section.kind() == SectionKind::UninitializedData;
            flash_bytes += if zeroed { 0 } else { section.size() };
            ram_bytes += if data || zeroed { section.size() } else { 0 };
        }
        ensure!(flash_bytes > 0, "{} has no code", path.display());
        Ok(Self { path: path.to_owned(), symbols, flash_bytes, ram_bytes })
    }

    /// Its file.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Code and constants.
    #[must_use]
    pub const fn flash_bytes(&self) -> u64 {
        self.flash_bytes
    }

    /// Static memory.
    #[must_use]
    pub const fn ram_bytes(&self) -> u64 {
        self.ram_bytes
    }

    /// Where the one function or mark with a name that ends in `end` lies.
    ///
    /// # Errors
    /// Where there is none, or more than one.
    pub fn address(&self, end: &str) -> anyhow::Result<u64> {
        let is_it = |name: &str| {
            name == end || name.ends_with(end) && name[..name.len() - end.len()].ends_with("::")
        };
        let mut found = self.symbols.iter().filter(|(name, _)| is_it(name));
        let (first, second) = (found.next(), found.next());
        let file = self.path.display();
        let (_, address) = first.with_context(|| format!("{file} has no {end}"))?;
        ensure!(second.is_none(), "{file} has more than one {end}");
        Ok(*address)
    }

    /// The names in it that a release image must not hold.
    #[must_use]
    pub fn unwanted(&self) -> Vec<&str> {
        let names = self.symbols.iter().map(|(name, _)| name.as_str());
        names.filter(|name| UNWANTED.iter().any(|unwanted| name.contains(unwanted))).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_function_has_one_name_in_both_manglings() {
        for name in
            ["homestretch::handheld::Handheld::tick", "<homestretch::handheld::Handheld>::tick"]
        {
            assert_eq!(plain(name), "homestretch::handheld::Handheld::tick");
        }
        let older =
            plain("homestretch::charge::thought::<impl homestretch::charge::Charge>::ponder");
        assert!(older.ends_with("homestretch::charge::Charge::ponder"), "{older}");
        assert_eq!(plain("filter::step::<filter::main::{closure#0}>"), "filter::step");
    }
}
