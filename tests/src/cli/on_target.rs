//! The command `on-target`: the library on emulated microcontrollers.

use std::path::{Path, PathBuf};

use anyhow::{Context as _, ensure};
use clap::{Args, Subcommand};
use serde_json::json;

use crate::on_target::bits;
use crate::on_target::budget::{All, Budgets, Finding, table};
use crate::on_target::machine::Core;
use crate::on_target::measure::{self, Means};
use crate::on_target::rides::InFlash;

/// The library on emulated microcontrollers; `boards/README.md` has the scripts that use it
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Write the rides that are put in flash
    Rides {
        /// Where to
        #[arg(long, value_name = "FOLDER")]
        out: PathBuf,
    },
    /// Live the rides on each core and here, and compare every state
    Bits {
        /// The firmwares, by target
        #[arg(long, value_name = "FOLDER")]
        images: PathBuf,
    },
    /// Look for what must not be in a release image
    Panics {
        /// The firmwares, by target
        #[arg(long, value_name = "FOLDER")]
        images: PathBuf,
        /// Look into this one as well
        #[arg(long, value_name = "NAME")]
        release_image: Option<String>,
    },
    /// Count instructions, flash, memory and stack, and compare with the budgets
    Measure(Measure),
}

#[derive(Debug, Args)]
struct Measure {
    /// The firmwares, by target
    #[arg(long, value_name = "FOLDER")]
    images: PathBuf,
    /// The counting plugin
    #[arg(long, value_name = "FILE")]
    plugin: PathBuf,
    /// The budgets
    #[arg(long, value_name = "FILE.toml")]
    budgets: PathBuf,
    /// One JSON object on standard output
    #[arg(long)]
    json: bool,
    /// Put what is measured on record; budgets stay as they are
    #[arg(long)]
    write: bool,
}

/// The images that a builder would ship, so that nothing in them may panic.
const RELEASE: [&str; 3] = ["bare", "least", "ride"];

impl Arguments {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        match &self.command {
            Command::Rides { out } => rides(out),
            Command::Bits { images } => bits(images),
            Command::Panics { images, release_image } => panics(images, release_image.as_deref()),
            Command::Measure(measure) => measure.run(),
        }
    }
}

/// Where the bundled boards and rides are.
fn examples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples")
}

fn rides(out: &Path) -> anyhow::Result<()> {
    std::fs::create_dir_all(out).with_context(|| format!("cannot make {}", out.display()))?;
    for ride in InFlash::ALL {
        let bytes = ride.bytes(&examples())?;
        let path = out.join(ride.name()).with_extension("ride");
        std::fs::write(&path, &bytes)
            .with_context(|| format!("cannot write {}", path.display()))?;
        super::show(&format!("{}: {} bytes\n", path.display(), bytes.len()))?;
    }
    Ok(())
}

fn bits(images: &Path) -> anyhow::Result<()> {
    let folder = tempfile::tempdir()?;
    for ride in InFlash::ALL {
        let path = folder.path().join(ride.name());
        std::fs::write(&path, ride.bytes(&examples())?)?;
        for core in Core::ALL {
            let ticks = bits::same(core, images, &path)
                .with_context(|| format!("{}, {}", ride.name(), core.name()))?;
            super::show(&format!(
                "{:<8} {:<12} {ticks} ticks, every state the same as here\n",
                ride.name(),
                core.name()
            ))?;
        }
    }
    Ok(())
}

fn panics(images: &Path, one_more: Option<&str>) -> anyhow::Result<()> {
    for core in Core::ALL {
        for name in RELEASE.into_iter().chain(one_more) {
            let image = core.image(images, name)?;
            let unwanted = image.unwanted();
            ensure!(
                unwanted.is_empty(),
                "{} holds {}",
                image.path().display(),
                unwanted.join(", ")
            );
        }
        super::show(&format!("{}: no way into a panic, no formatting\n", core.name()))?;
    }
    Ok(())
}

impl Measure {
    fn run(&self) -> anyhow::Result<()> {
        let folder = tempfile::tempdir()?;
        for ride in InFlash::ALL {
            let path = folder.path().join(ride.name()).with_extension("ride");
            std::fs::write(&path, ride.bytes(&examples())?)?;
        }
        let means = Means {
            images: self.images.clone(),
            plugin: self.plugin.canonicalize().context("the plugin is not there")?,
            rides: folder.path().to_owned(),
        };
        let compiler = measure::compiler(&self.images)?;
        let mut all = All::new();
        for core in Core::ALL {
            all.insert(String::from(core.name()), measure::measured(&means, core)?);
        }
        let mut budgets = Budgets::open(&self.budgets)?;
        if self.write {
            budgets = budgets.renewed(&compiler, &all);
            std::fs::write(&self.budgets, budgets.text())
                .with_context(|| format!("cannot write {}", self.budgets.display()))?;
        }
        let findings = budgets.findings(&compiler, &all);
        let within_budget = !findings.iter().any(Finding::is_over);
        if self.json {
            let told = json!({
                "compiler": compiler,
                "within_budget": within_budget,
                "cores": budgets.renewed(&compiler, &all).cores,
                "findings": findings,
            });
            super::show(&format!("{told}\n"))?;
        } else {
            super::show(&table(&budgets, &compiler, &all))?;
        }
        for finding in &findings {
            eprintln!("{finding}");
        }
        let new = findings.iter().filter(|finding| finding.is_new()).count();
        ensure!(new == 0, "{new} findings against {}", self.budgets.display());
        Ok(())
    }
}
