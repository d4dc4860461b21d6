//! Runs a firmware in QEMU.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use anyhow::{Context as _, bail, ensure};

use super::image::Image;

/// A core, and the machine that stands for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Core {
    /// No divider, no wide multiplication.
    CortexM0,
    /// Both of them.
    CortexM3,
    /// And a floating-point unit.
    CortexM4F,
}

impl Core {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::CortexM0, Self::CortexM3, Self::CortexM4F];

    /// Its name in tables and budgets.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::CortexM0 => "cortex-m0",
            Self::CortexM3 => "cortex-m3",
            Self::CortexM4F => "cortex-m4f",
        }
    }

    /// The compiler's name for it.
    #[must_use]
    pub const fn target(self) -> &'static str {
        match self {
            Self::CortexM0 => "thumbv6m-none-eabi",
            Self::CortexM3 => "thumbv7m-none-eabi",
            Self::CortexM4F => "thumbv7em-none-eabihf",
        }
    }

    /// The emulator's name for a machine with it.
    #[must_use]
    pub const fn machine(self) -> &'static str {
        match self {
            Self::CortexM0 => "microbit",
            Self::CortexM3 => "lm3s6965evb",
            Self::CortexM4F => "mps2-an386",
        }
    }

    /// The firmware of that name for it, of those that were built into `folder`.
    ///
    /// # Errors
    /// Where it is not there.
    pub fn image(self, folder: &Path, name: &str) -> anyhow::Result<Image> {
        Image::open(&folder.join(self.target()).join("release").join(name))
    }
}

/// What the plugin in `boards/counter` is to count.
#[derive(Clone, Debug)]
pub struct Counting {
    /// The plugin.
    pub plugin: PathBuf,
    /// Where it writes.
    pub out: PathBuf,
    /// The functions to watch, the whole first.
    pub functions: Vec<&'static str>,
}

/// No firmware runs longer than this.
const LONGEST: Duration = Duration::from_secs(900);

/// Runs `image` with a ride in its flash and the `arguments` that it is to see; gives what it said.
///
/// # Errors
/// Where the emulator is missing, or the firmware ended badly or not at all.
pub fn run(
    core: Core,
    image: &Image,
    ride: &Path,
    arguments: &[&str],
    counting: Option<&Counting>,
) -> anyhow::Result<String> {
    let mut command = Command::new("qemu-system-arm");
    let mut semihosting = String::from("enable=on,target=native,arg=firmware");
    for argument in arguments {
        semihosting.push_str(",arg=");
        semihosting.push_str(argument);
    }
    let loader = format!(
        "loader,file={},addr={:#x},force-raw=on",
        ride.display(),
        image.address("_ride_start")?
    );
    command
        .args(["-machine", core.machine(), "-nographic", "-monitor", "none", "-serial", "none"])
        .args(["-semihosting-config", &semihosting, "-device", &loader]);
    if let Some(counting) = counting {
        let mut plugin = format!(
            "file={},out={},stack={:#x}",
            counting.plugin.display(),
            counting.out.display(),
            image.address("__sheap")?
        );
        for function in &counting.functions {
            plugin.push_str(&format!(",watch={:#x}", image.address(function)?));
        }
        command.args(["-plugin", &plugin]);
    }
    command.arg("-kernel").arg(image.path());
    waited_for(command).with_context(|| format!("{} on {}", image.path().display(), core.name()))
}

fn waited_for(mut command: Command) -> anyhow::Result<String> {
    let mut child = command
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .context("qemu-system-arm cannot be run (Debian: apt-get install qemu-system-arm)")?;
    // Both pipes are read while it runs, so that it never waits for a reader.
    let (mut out, mut err) = (child.stdout.take(), child.stderr.take());
    let read = |pipe: &mut dyn std::io::Read| {
        let mut text = String::new();
        pipe.read_to_string(&mut text).map(|_| text)
    };
    std::thread::scope(|scope| {
        let said = scope.spawn(move || out.as_mut().map_or(Ok(String::new()), |out| read(out)));
        let complained =
            scope.spawn(move || err.as_mut().map_or(Ok(String::new()), |err| read(err)));
        let began = Instant::now();
        let status = loop {
            if let Some(status) = child.try_wait()? {
                break status;
            }
            if began.elapsed() > LONGEST {
                child.kill()?;
                bail!("it did not end within {} s", LONGEST.as_secs());
            }
            std::thread::sleep(Duration::from_millis(20));
        };
        let said = said.join().map_err(|_| anyhow::anyhow!("a reader failed"))??;
        let complained = complained.join().map_err(|_| anyhow::anyhow!("a reader failed"))??;
        let tail = said.lines().last().unwrap_or("");
        ensure!(status.success(), "it ended badly ({status}): {tail}\n{complained}");
        Ok(said)
    })
}
