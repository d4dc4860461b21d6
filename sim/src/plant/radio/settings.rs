//! How bad a radio is, as plain numbers.
//!
//! Written in a scenario or drawn by a campaign; turned into losses by `Radio`. No fit of a hand
//! remote's losses was found, so the defaults are common practice, no source.

use serde::Deserialize;
use thiserror::Error;

/// A radio's losses. A slot is a fiftieth of a second, and carries a command.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum RadioSettings {
    /// Loses nothing.
    Perfect {},
    /// Two states; see E. N. Gilbert (1960) and E. O. Elliott (1963).
    GilbertElliott {
        /// Chance in each slot that a good state turns bad, 0 to 1.
        worsens: f64,
        /// Chance in each slot that a bad state turns good, 0.0001 to 1: bursts of 1 / `recovers`
        /// slots on average.
        recovers: f64,
        /// Share of frames lost in the good state, 0 to 1.
        #[serde(default)]
        loss_in_good: f64,
        /// Share of frames lost in the bad state, 0 to 1.
        #[serde(default = "all")]
        loss_in_bad: f64,
    },
    /// Bursts with a heavy tail: most are short, a few last very long.
    HeavyTail {
        /// Bursts an hour, 0.01 to 36 000.
        bursts_per_hour: f64,
        /// Pareto's exponent, 0.5 to 10: the smaller, the heavier the tail.
        #[serde(default = "usual_shape")]
        shape: f64,
        /// The shortest burst, 0.02 to 60 s.
        #[serde(default = "usual_shortest_s")]
        shortest_s: f64,
        /// Where the tail is cut, 0.02 to 3600 s.
        #[serde(default = "usual_longest_s")]
        longest_s: f64,
        /// Share of frames lost between bursts, 0 to 1.
        #[serde(default)]
        loss_in_good: f64,
    },
}

const fn all() -> f64 {
    1.0
}

const fn usual_shape() -> f64 {
    1.5
}

const fn usual_shortest_s() -> f64 {
    0.1
}

const fn usual_longest_s() -> f64 {
    20.0
}

impl Default for RadioSettings {
    /// One slot in fifty is lost, two at a time.
    fn default() -> Self {
        Self::GilbertElliott { worsens: 0.01, recovers: 0.5, loss_in_good: 0.0, loss_in_bad: 1.0 }
    }
}

impl RadioSettings {
    /// Sixty bursts an hour, a third of a second on average and up to twenty.
    #[must_use]
    pub const fn heavy_tail() -> Self {
        Self::HeavyTail {
            bursts_per_hour: 60.0,
            shape: usual_shape(),
            shortest_s: usual_shortest_s(),
            longest_s: usual_longest_s(),
            loss_in_good: 0.01,
        }
    }

    /// What a table or a file calls it.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Perfect {} => "perfect",
            Self::GilbertElliott { .. } => "gilbert-elliott",
            Self::HeavyTail { .. } => "heavy-tail",
        }
    }

    /// Nothing, if every setting makes sense.
    ///
    /// # Errors
    /// [`RadioError`] for the first that doesn't.
    pub fn check(&self) -> Result<(), RadioError> {
        match *self {
            Self::Perfect {} => Ok(()),
            Self::GilbertElliott { worsens, recovers, loss_in_good, loss_in_bad } => {
                within("worsens", worsens, 0.0, 1.0)?;
                within("recovers", recovers, 0.0001, 1.0)?;
                within("loss_in_good", loss_in_good, 0.0, 1.0)?;
                within("loss_in_bad", loss_in_bad, 0.0, 1.0)
            }
            Self::HeavyTail { bursts_per_hour, shape, shortest_s, longest_s, loss_in_good } => {
                within("bursts_per_hour", bursts_per_hour, 0.01, 36_000.0)?;
                within("shape", shape, 0.5, 10.0)?;
                within("shortest_s", shortest_s, 0.02, 60.0)?;
                within("longest_s", longest_s, shortest_s, 3600.0)?;
                within("loss_in_good", loss_in_good, 0.0, 1.0)
            }
        }
    }
}

/// A setting that makes no sense.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[error("radio setting `{key}` is {given}; allowed is {lowest} to {highest}")]
pub struct RadioError {
    /// Its name.
    pub key: &'static str,
    /// What it is.
    pub given: f64,
    /// The least that is allowed.
    pub lowest: f64,
    /// The most that is allowed.
    pub highest: f64,
}

fn within(key: &'static str, given: f64, lowest: f64, highest: f64) -> Result<(), RadioError> {
    // Not a number lies within nothing.
    let allowed = (lowest..=highest).contains(&given);
    if allowed { Ok(()) } else { Err(RadioError { key, given, lowest, highest }) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_usual_radios_make_sense_and_are_read_from_text() {
        RadioSettings::default().check().unwrap();
        RadioSettings::heavy_tail().check().unwrap();
        let text = "kind = \"heavy-tail\"\nbursts_per_hour = 60\nloss_in_good = 0.01\n";
        assert_eq!(toml::from_str::<RadioSettings>(text).unwrap(), RadioSettings::heavy_tail());
        assert!(toml::from_str::<RadioSettings>("kind = \"perfect\"\nworse = 1\n").is_err());
    }

    #[test]
    fn a_setting_that_makes_no_sense_is_named() {
        let settings = RadioSettings::GilbertElliott {
            worsens: 1.5,
            recovers: 0.5,
            loss_in_good: 0.0,
            loss_in_bad: 1.0,
        };
        let message = settings.check().unwrap_err().to_string();
        assert_eq!(message, "radio setting `worsens` is 1.5; allowed is 0 to 1");
    }
}
