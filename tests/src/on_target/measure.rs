//! What a tick takes on each core: instructions, flash, memory, stack; and what a builder would use
//! instead, by the same means in the same run.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use anyhow::{Context as _, ensure};
use rayon::iter::{IntoParallelIterator as _, ParallelIterator as _};

use super::machine::{Core, Counting, run};
use super::rides::InFlash;
use super::told::Told;

/// What was measured on one core, by quantity; the names carry their unit.
pub type Measured = BTreeMap<String, u64>;

/// The functions that are counted, the whole first.
const WATCHED: [&str; 8] = [
    "handheld::Handheld::live",
    "charge::Charge::hear",
    "charge::Charge::estimate_at",
    "charge::Charge::ponder",
    "range::Range::ride",
    "range::Range::ponder",
    "throttle::Throttle::tick",
    // It ends with a jump to one of the two above on some cores.
    "handheld::Handheld::ponder",
];

/// The link's: a frame sealed at one end and opened at the other, the cipher's part of it, and each end
/// alone.
const TELEMETRY: [&str; 5] = [
    "telemetry_there",
    "cipher::Ascon::seal_beside",
    "cipher::Ascon::open_beside",
    "counted_seal_telemetry",
    "counted_open_telemetry",
];
const COMMAND: [&str; 3] = ["command_there", "counted_seal_command", "counted_open_command"];

/// What a builder would use instead.
const INSTEAD: [&str; 3] = ["kalman", "minikalman", "splines"];

/// Where everything lies that is needed to measure.
#[derive(Clone, Debug)]
pub struct Means {
    /// The firmwares, by target.
    pub images: PathBuf,
    /// The plugin.
    pub plugin: PathBuf,
    /// The rides.
    pub rides: PathBuf,
}

impl Means {
    fn ride(&self, ride: InFlash) -> PathBuf {
        self.rides.join(ride.name()).with_extension("ride")
    }
}

/// What one run told: the instructions of each call, by function, and the words that were said.
struct Counted {
    calls: Vec<Vec<u64>>,
    /// How much of it the deepest call took.
    stack_bytes: u64,
    told: Told,
}

fn counted(
    means: &Means,
    core: Core,
    name: &str,
    ride: InFlash,
    functions: Vec<&'static str>,
) -> anyhow::Result<Counted> {
    let out = tempfile::NamedTempFile::new()?;
    let image = core.image(&means.images, name)?;
    let counting = Counting { plugin: means.plugin.clone(), out: out.path().to_owned(), functions };
    let said = run(core, &image, &means.ride(ride), &["quietly"], Some(&counting))?;
    let told = Told::read(&said)?;
    let text = std::fs::read_to_string(out.path()).context("the counter wrote nothing")?;
    let (mut calls, mut deepest) = (Vec::new(), None);
    for line in text.lines() {
        if let Some(count) = line.strip_prefix("unended,") {
            ensure!(count == "0", "{count} calls of {name} were not seen to end");
        } else if let Some(address) = line.strip_prefix("deepest,0x") {
            deepest = Some(u32::from_str_radix(address, 16)?);
        } else {
            calls.push(line.split(',').map(str::parse).collect::<Result<_, _>>()?);
        }
    }
    ensure!(!calls.is_empty(), "{name} was never called");
    let deepest = deepest.context("the counter saw no stack")?;
    // Two ways to the same number where there is paint: it, and what the emulator saw written.
    if let Some(&painted) = told.words.get("deepest") {
        ensure!(
            painted == deepest,
            "the painted stack of {name} ends at {painted:x}, the emulator saw {deepest:x}"
        );
    }
    let before = told.words.get("before").copied().context("where the stack stood is not said")?;
    Ok(Counted { calls, stack_bytes: u64::from(before.saturating_sub(deepest)), told })
}

fn median(mut values: Vec<u64>) -> u64 {
    values.sort_unstable();
    values.get(values.len() / 2).copied().unwrap_or(0)
}

/// Keeps the larger of what is there and `value`.
fn at_least(measured: &mut Measured, name: &str, value: u64) {
    let kept = measured.entry(String::from(name)).or_default();
    *kept = value.max(*kept);
}

/// Everything that is measured on `core`. Of three rides, each quantity's largest value.
///
/// # Errors
/// A firmware that is not there, or did not run.
pub fn measured(means: &Means, core: Core) -> anyhow::Result<Measured> {
    let mut all = Measured::new();
    let rides = InFlash::ALL
        .into_par_iter()
        .map(|ride| counted(means, core, "ride", ride, WATCHED.to_vec()));
    for counted in rides.collect::<anyhow::Result<Vec<_>>>()? {
        ticks(&mut all, &counted.calls);
        at_least(&mut all, "tick_stack_bytes", counted.stack_bytes);
        for (word, name) in [
            ("handheld", "handheld_bytes"),
            ("board", "board_bytes"),
            ("settings", "settings_bytes"),
        ] {
            let number = counted.told.words.get(word).with_context(|| format!("no {word}"))?;
            at_least(&mut all, name, u64::from(*number));
        }
    }
    let bare = core.image(&means.images, "bare")?;
    let least = core.image(&means.images, "least")?;
    all.insert(String::from("library_flash_bytes"), least.flash_bytes() - bare.flash_bytes());
    all.insert(String::from("library_static_ram_bytes"), least.ram_bytes() - bare.ram_bytes());
    link(&mut all, means, core)?;
    for (name, flash) in [("linked", "with_link_flash_bytes"), ("receiver", "receiver_flash_bytes")]
    {
        let image = core.image(&means.images, name)?;
        all.insert(String::from(flash), image.flash_bytes() - bare.flash_bytes());
        at_least(&mut all, "library_static_ram_bytes", image.ram_bytes() - bare.ram_bytes());
    }
    for name in INSTEAD {
        let counted = counted(means, core, name, InFlash::Town, vec!["counted_step"])?;
        let calls: Vec<u64> =
            counted.calls.iter().filter_map(|call| call.first()).copied().collect();
        let most = calls.iter().copied().max().unwrap_or(0);
        let image = core.image(&means.images, name)?;
        all.insert(format!("{name}_median_instructions"), median(calls));
        all.insert(format!("{name}_worst_instructions"), most);
        all.insert(format!("{name}_flash_bytes"), image.flash_bytes() - bare.flash_bytes());
        all.insert(format!("{name}_static_ram_bytes"), image.ram_bytes() - bare.ram_bytes());
        all.insert(format!("{name}_stack_bytes"), counted.stack_bytes);
    }
    Ok(all)
}

/// What the frames of one ride took: both ways, on both ends.
fn link(all: &mut Measured, means: &Means, core: Core) -> anyhow::Result<()> {
    let mut worst = |name: &str, calls: &[Vec<u64>], parts: &[usize]| {
        let sums = calls.iter().map(|call| parts.iter().filter_map(|&part| call.get(part)).sum());
        let sums: Vec<u64> = sums.collect();
        let most = sums.iter().copied().max().unwrap_or(0);
        at_least(all, &format!("{name}_median_instructions"), median(sums));
        at_least(all, &format!("{name}_worst_instructions"), most);
    };
    let told = counted(means, core, "link", InFlash::Town, TELEMETRY.to_vec())?;
    worst("link_cipher", &told.calls, &[1, 2]);
    worst("link_telemetry", &told.calls, &[0]);
    worst("link_telemetry_seal", &told.calls, &[3]);
    worst("link_telemetry_open", &told.calls, &[4]);
    let asked = counted(means, core, "link", InFlash::Town, COMMAND.to_vec())?;
    worst("link_command", &asked.calls, &[0]);
    worst("link_command_seal", &asked.calls, &[1]);
    worst("link_command_open", &asked.calls, &[2]);
    at_least(all, "link_stack_bytes", told.stack_bytes.max(asked.stack_bytes));
    for (word, name) in [("hand", "hand_link_bytes"), ("board", "board_link_bytes")] {
        let number = told.told.words.get(word).with_context(|| format!("no {word}"))?;
        all.insert(String::from(name), u64::from(*number));
    }
    Ok(())
}

/// What the ticks of one ride took: all of them, those with a frame, and each stage.
fn ticks(all: &mut Measured, calls: &[Vec<u64>]) {
    let of = |call: &[u64], parts: &[usize]| -> u64 {
        parts.iter().filter_map(|&part| call.get(part)).sum()
    };
    let column = |parts: &'static [usize]| calls.iter().map(move |call| of(call, parts));
    let with_frame = |parts: &'static [usize]| {
        let heard = calls.iter().filter(|call| of(call, &[1]) > 0);
        heard.map(move |call| of(call, parts)).collect::<Vec<_>>()
    };
    let worst = |parts: &'static [usize]| column(parts).max().unwrap_or(0);
    at_least(all, "tick_median_instructions", median(column(&[0]).collect()));
    at_least(all, "tick_worst_instructions", worst(&[0]));
    at_least(all, "frame_tick_median_instructions", median(with_frame(&[0])));
    // What a frame takes, the estimate that is asked for in each tick, and the steps of what is
    // weighed: in the median of the frames, in the worst tick, and all of it spread over the frames,
    // which is what compares with a filter that does its whole work in each.
    let frames = u64::try_from(with_frame(&[1]).len()).unwrap_or(u64::MAX).max(1);
    at_least(all, "charge_median_instructions", median(with_frame(&[1, 2])));
    at_least(all, "charge_worst_instructions", worst(&[1, 2, 3]));
    at_least(all, "charge_per_frame_instructions", column(&[1, 2, 3]).sum::<u64>() / frames);
    at_least(all, "range_median_instructions", median(with_frame(&[4])));
    at_least(all, "range_worst_instructions", worst(&[4, 5]));
    at_least(all, "range_per_frame_instructions", column(&[4, 5]).sum::<u64>() / frames);
    at_least(all, "throttle_median_instructions", median(column(&[6]).collect()));
    at_least(all, "throttle_worst_instructions", worst(&[6]));
}

/// Which compiler built the firmwares, as it was noted beside them.
///
/// # Errors
/// Where it was not.
pub fn compiler(images: &Path) -> anyhow::Result<String> {
    let path = images.join("compiler.txt");
    let text = std::fs::read_to_string(&path)
        .with_context(|| format!("{} is not there; boards/build makes it", path.display()))?;
    Ok(String::from(text.trim()))
}
