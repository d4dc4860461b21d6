//! A fault script: what breaks, from when, for how long.
//!
//! Read by `cli`; the format is docs/files.md, "Fault script".

use std::path::Path;

use serde::Deserialize;
use thiserror::Error;

/// One thing that breaks.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
pub struct Fault {
    /// Seconds after switching on, 0 to 86 400.
    pub from_s: f64,
    /// How long it lasts, 0.02 to 86 400 s; to the end of the ride where it is not said.
    pub for_s: Option<f64>,
    /// What breaks.
    #[serde(flatten)]
    pub kind: Kind,
}

/// What can break.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Kind {
    /// The thumb's wire is open: its converter reads nothing.
    ThumbWireOpen {},
    /// The thumb's wire touches the supply: its converter reads all there is.
    ThumbWireShorted {},
    /// The thumb's slider stays where it was.
    ThumbStuck {},
    /// The thumb's converter is noisy.
    ThumbNoise {
        /// One sigma, 0 to 2000 counts.
        counts: f64,
    },
    /// Telemetry says what cannot be.
    TelemetryImpossible {},
    /// No telemetry arrives; commands do.
    TelemetrySilent {},
    /// Nothing arrives, either way.
    RadioSilent {},
    /// More frames are lost than the ride's radio loses.
    RadioLoss {
        /// The share of them, 0 to 1.
        share: f64,
    },
    /// Frames arrive with some of their bits turned over.
    RadioDamages {
        /// The share of them, 0 to 1.
        share: f64,
    },
    /// Frames arrive twice or more, some of them much later.
    RadioRepeats {
        /// The share of them, 0 to 1.
        share: f64,
    },
    /// Frames arrive up to a tenth of a second late, so that later ones overtake them.
    RadioReorders {
        /// The share of them, 0 to 1.
        share: f64,
    },
    /// Somebody jams the channel, on and off.
    Jammer {
        /// Nothing gets through for so long, 0.02 to 3600 s,
        on_s: f64,
        /// and then all for so long, 0.02 to 3600 s.
        off_s: f64,
    },
    /// A stranger has recorded all that was ever sent, also what was lost, and plays it.
    Recorder {
        /// So many frames a second, 0 to 1000.
        rate_Hz: f64,
    },
    /// A stranger sends frames of this pair with tags that are guessed.
    Forger {
        /// So many a second, 0 to 1000.
        rate_Hz: f64,
    },
    /// The motor controller no longer answers: the board's end tells what it last told, and how old
    /// that is.
    ControllerSilent {},
    /// Another handheld of the same make and key sends commands of its own.
    SecondHand {
        /// What it asks for, -1 to 1.
        share: f64,
    },
    /// The hand's clock jumps, once.
    HandClockJumps {
        /// By so much, -86 400 to 86 400 s.
        by_s: f64,
    },
    /// The hand is off, and then starts anew.
    HandRestarts {},
    /// The hand hangs, and then goes on as if nothing had been.
    HandHangs {},
    /// The board's end is off, and then starts anew.
    BoardRestarts {},
    /// The board's end hangs: its last pulse goes on until its watchdog bites.
    BoardHangs {},
    /// The hand's own battery is down to this.
    HandBattery {
        /// 0 to 60 V.
        voltage_V: f64,
    },
    /// No fault: the rider chooses another pace.
    Pace {
        /// Its number, from 0, in the order of the board file.
        number: u8,
    },
}

impl Kind {
    /// What a table calls it.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        match self {
            Self::ThumbWireOpen {} => "thumb-wire-open",
            Self::ThumbWireShorted {} => "thumb-wire-shorted",
            Self::ThumbStuck {} => "thumb-stuck",
            Self::ThumbNoise { .. } => "thumb-noise",
            Self::TelemetryImpossible {} => "telemetry-impossible",
            Self::TelemetrySilent {} => "telemetry-silent",
            Self::RadioSilent {} => "radio-silent",
            Self::RadioLoss { .. } => "radio-loss",
            Self::RadioDamages { .. } => "radio-damages",
            Self::RadioRepeats { .. } => "radio-repeats",
            Self::RadioReorders { .. } => "radio-reorders",
            Self::Jammer { .. } => "jammer",
            Self::Recorder { .. } => "recorder",
            Self::Forger { .. } => "forger",
            Self::ControllerSilent {} => "controller-silent",
            Self::SecondHand { .. } => "second-hand",
            Self::HandClockJumps { .. } => "hand-clock-jumps",
            Self::HandRestarts {} => "hand-restarts",
            Self::HandHangs {} => "hand-hangs",
            Self::BoardRestarts {} => "board-restarts",
            Self::BoardHangs {} => "board-hangs",
            Self::HandBattery { .. } => "hand-battery",
            Self::Pace { .. } => "pace",
        }
    }
}

impl Fault {
    /// Whether it acts at `time_s`.
    #[must_use]
    pub fn acts(&self, time_s: f64) -> bool {
        let until_s = self.for_s.map_or(f64::INFINITY, |for_s| self.from_s + for_s);
        (self.from_s..until_s).contains(&time_s)
    }

    fn check(&self) -> Result<(), ScriptError> {
        let within = |key, given, (lowest, highest): (f64, f64)| {
            if (lowest..=highest).contains(&given) {
                Ok(())
            } else {
                let kind = self.kind.name();
                Err(ScriptError::OutOfRange { kind, key, given, lowest, highest })
            }
        };
        const DAY_S: f64 = 86_400.0;
        within("from_s", self.from_s, (0.0, DAY_S))?;
        within("for_s", self.for_s.unwrap_or(1.0), (0.02, DAY_S))?;
        match self.kind {
            Kind::ThumbNoise { counts } => within("counts", counts, (0.0, 2000.0)),
            Kind::RadioLoss { share }
            | Kind::RadioDamages { share }
            | Kind::RadioRepeats { share }
            | Kind::RadioReorders { share } => within("share", share, (0.0, 1.0)),
            Kind::Jammer { on_s, off_s } => {
                within("on_s", on_s, (0.02, 3600.0))?;
                within("off_s", off_s, (0.02, 3600.0))
            }
            Kind::Recorder { rate_Hz } | Kind::Forger { rate_Hz } => {
                within("rate_Hz", rate_Hz, (0.0, 1000.0))
            }
            Kind::SecondHand { share } => within("share", share, (-1.0, 1.0)),
            Kind::HandClockJumps { by_s } => within("by_s", by_s, (-DAY_S, DAY_S)),
            Kind::HandBattery { voltage_V } => within("voltage_V", voltage_V, (0.0, 60.0)),
            _ => Ok(()),
        }
    }
}

/// All that breaks on one ride.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Script {
    /// The faults, in any order; more than one may act at a time.
    #[serde(rename = "fault")]
    pub faults: Vec<Fault>,
}

impl Script {
    /// Reads and checks a fault script.
    ///
    /// # Errors
    /// [`ScriptError`]: unreadable, no TOML, a key that is not understood, or a value out of range.
    pub fn open(path: &Path) -> Result<Self, ScriptError> {
        let file = path.display().to_string();
        let unread = |source| ScriptError::Unread { file: file.clone(), source };
        let text = std::fs::read_to_string(path).map_err(unread)?;
        Self::parse(&text).map_err(|fault| match fault {
            ScriptError::Unclear { line, what, .. } => ScriptError::Unclear { file, line, what },
            other => other,
        })
    }

    /// The script in `text`.
    ///
    /// # Errors
    /// As [`Self::open`], without a file's name.
    pub fn parse(text: &str) -> Result<Self, ScriptError> {
        let unclear = |error: toml::de::Error| {
            let at = error.span().map_or(0, |span| span.start);
            let line = text.bytes().take(at).filter(|&byte| byte == b'\n').count() + 1;
            let what = error.message().replace('\n', " ");
            ScriptError::Unclear { file: String::new(), line, what }
        };
        let table: toml::Table = toml::from_str(text).map_err(unclear)?;
        misspelt(&table)?;
        let script: Self = toml::from_str(text).map_err(unclear)?;
        script.faults.iter().try_for_each(Fault::check)?;
        Ok(script)
    }
}

/// Names a key that no fault has: flattened kinds let it pass.
fn misspelt(table: &toml::Table) -> Result<(), ScriptError> {
    const KNOWN: [&str; 11] = [
        "kind",
        "from_s",
        "for_s",
        "counts",
        "share",
        "by_s",
        "voltage_V",
        "number",
        "on_s",
        "off_s",
        "rate_Hz",
    ];
    let faults = table.get("fault").and_then(toml::Value::as_array);
    for fault in faults.into_iter().flatten().filter_map(toml::Value::as_table) {
        if let Some(key) = fault.keys().find(|key| !KNOWN.contains(&key.as_str())) {
            return Err(ScriptError::Unknown { key: key.clone(), known: KNOWN.join(", ") });
        }
    }
    Ok(())
}

/// A script that cannot be read or cannot be.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum ScriptError {
    /// The file cannot be read.
    #[error("cannot read the fault script `{file}`")]
    Unread {
        /// Its name.
        file: String,
        /// What the system said.
        source: std::io::Error,
    },
    /// It is no TOML, or has a kind or a value that is not understood.
    #[error("fault script `{file}`, line {line}: {what}")]
    Unclear {
        /// Its name.
        file: String,
        /// Counted from 1.
        line: usize,
        /// What is not understood.
        what: String,
    },
    /// A key that no fault has.
    #[error("fault script: `{key}` is not known; {known} are")]
    Unknown {
        /// The key.
        key: String,
        /// Those that are known.
        known: String,
    },
    /// A value out of its range.
    #[error("fault `{kind}`: `{key}` is {given}; allowed is {lowest} to {highest}")]
    OutOfRange {
        /// What breaks.
        kind: &'static str,
        /// The value's name.
        key: &'static str,
        /// What it is.
        given: f64,
        /// The least that is allowed.
        lowest: f64,
        /// The most that is allowed.
        highest: f64,
    },
}
