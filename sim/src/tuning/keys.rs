//! Every number of a board file that can be tuned, for whoever shows it: unit, range, meaning.
//!
//! Ranges are those of `board_file`; here is only what a person needs beside them. A test sees to it that
//! no key is left out.

use serde::Serialize;

use crate::board_file::{CONTROL_KEYS, RIDER_KEYS};

/// What a key is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Group {
    /// What the thumb asks.
    Curves,
    /// How fast it comes and goes.
    Rates,
    /// How fast the board goes.
    Speed,
    /// Braking, charging, stopping.
    Brake,
    /// Motors and motor controller.
    Heat,
    /// The last of the charge.
    Reserve,
    /// The handheld and its thumb.
    Hand,
    /// Who rides, and what they bear.
    Riders,
}

/// A number that can be tuned.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Tunable {
    /// Section and key.
    pub key: &'static str,
    /// Of the number; empty for a share.
    pub unit: &'static str,
    /// In a few words.
    pub meaning: &'static str,
    /// What it is about.
    pub group: Group,
}

const fn key(
    key: &'static str,
    unit: &'static str,
    group: Group,
    meaning: &'static str,
) -> Tunable {
    Tunable { key, unit, meaning, group }
}

const ACCELERATION: &str = "m/s²";
const JERK: &str = "m/s³";
const SPEED: &str = "m/s";
const WARMTH: &str = "°C";

/// All of them, in the order in which they are shown.
pub const TUNABLE: [Tunable; 35] = [
    key("throttle.full_drive_m_s2", ACCELERATION, Group::Curves, "what the full thumb asks"),
    key("throttle.full_brake_m_s2", ACCELERATION, Group::Curves, "what the full brake asks"),
    key("throttle.softness", "", Group::Curves, "0 is a line, 1 a cubic: both curves"),
    key("throttle.taper_to", "", Group::Curves, "share of the drive curve left at the top speed"),
    key(
        "throttle.full_current_m_s2",
        ACCELERATION,
        Group::Curves,
        "what the greatest motor current does; measured, not chosen",
    ),
    key("throttle.drive_on_m_s3", JERK, Group::Rates, "how fast drive comes"),
    key("throttle.drive_off_s", "s", Group::Rates, "in which time full drive goes"),
    key("throttle.brake_on_m_s3", JERK, Group::Rates, "how fast a brake comes"),
    key("throttle.brake_off_m_s3", JERK, Group::Rates, "how fast a brake goes"),
    key(
        "throttle.brake_ease_m_s3",
        JERK,
        Group::Rates,
        "how fast a brake goes that nobody let go of",
    ),
    key("throttle.pause_s", "s", Group::Rates, "how long drive waits once a brake has gone"),
    key("throttle.top_speed_m_s", SPEED, Group::Speed, "where no drive is left"),
    key("brake.stop_with_m_s2", ACCELERATION, Group::Brake, "deceleration to be counted on"),
    key("brake.charge_A", "A", Group::Brake, "greatest current into the whole pack"),
    key("brake.beside_motors_m_s2", ACCELERATION, Group::Brake, "what brakes beside the motors"),
    key(
        "brake.without_charging_m_s2",
        ACCELERATION,
        Group::Brake,
        "what the motors brake without charging",
    ),
    key("brake.silent_m_s2", ACCELERATION, Group::Brake, "the board's own brake in a silence"),
    key("heat.motor_from_degC", WARMTH, Group::Heat, "motor: from here on less drive"),
    key("heat.motor_to_degC", WARMTH, Group::Heat, "motor: here no drive"),
    key("heat.controller_from_degC", WARMTH, Group::Heat, "controller: from here on less drive"),
    key("heat.controller_to_degC", WARMTH, Group::Heat, "controller: here no drive"),
    key("reserve.from", "", Group::Reserve, "charge from which on there is less drive"),
    key("reserve.to", "", Group::Reserve, "charge at the end of the reserve"),
    key("reserve.drive", "", Group::Reserve, "share of the drive that is left there"),
    key("reserve.speed_m_s", SPEED, Group::Reserve, "speed that is left there"),
    key("thumb.stuck_after_s", "s", Group::Hand, "a drive unmoved for so long is a stuck thumb"),
    key("handheld.warn_below_V", "V", Group::Hand, "the handheld's own battery: it warns"),
    key("handheld.walk_below_V", "V", Group::Hand, "the handheld's own battery: the walk home"),
    key("riders.lightest_kg", "kg", Group::Riders, "board and the lightest rider"),
    key("riders.heaviest_kg", "kg", Group::Riders, "board and the heaviest rider"),
    key("riders.bear_drive_m_s2", ACCELERATION, Group::Riders, "greatest drive to be felt"),
    key("riders.bear_brake_m_s2", ACCELERATION, Group::Riders, "greatest brake to be felt"),
    key("riders.bear_drive_jerk_m_s3", JERK, Group::Riders, "greatest jerk of drive that comes"),
    key("riders.bear_brake_jerk_m_s3", JERK, Group::Riders, "greatest jerk of a brake that comes"),
    key("riders.bear_let_go_jerk_m_s3", JERK, Group::Riders, "greatest jerk of drive that goes"),
];

impl Tunable {
    /// The lowest and the highest number that the key takes by itself.
    #[must_use]
    pub fn range(&self) -> (f64, f64) {
        let (section, name) = self.parts();
        let control = CONTROL_KEYS.iter().find(|key| key.section == section && key.key == name);
        let rider = || RIDER_KEYS.iter().find(|key| section == "riders" && key.key == name);
        let of_control = control.map(|key| key.range);
        of_control.or_else(|| rider().map(|key| key.range)).unwrap_or((f64::MIN, f64::MAX))
    }

    /// Its section and its name.
    #[must_use]
    pub fn parts(&self) -> (&'static str, &'static str) {
        self.key.split_once('.').unwrap_or(("", self.key))
    }

    /// Whether what it is without a word in the file follows from another key that can be tuned.
    #[must_use]
    pub fn follows(&self) -> bool {
        const FOLLOW: [&str; 3] =
            ["throttle.full_drive_m_s2", "throttle.full_brake_m_s2", "brake.silent_m_s2"];
        FOLLOW.contains(&self.key)
    }
}

/// The key of that name, where it can be tuned.
#[must_use]
pub fn tunable(key: &str) -> Option<&'static Tunable> {
    TUNABLE.iter().find(|tunable| tunable.key == key)
}
