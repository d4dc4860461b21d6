//! The keys of a board file that say what the thumb may do: ranges, and the quantity of the library
//! that each sets.
//!
//! One table, so that a file, its documentation and a refusal by the library speak of the same key.
//! Used by `controls`; a check holds docs/files.md against it.

use homestretch::throttle::{Quantity, Reason};

/// A key with a number.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ControlKey {
    /// Its section.
    pub section: &'static str,
    /// Its name.
    pub key: &'static str,
    /// The lowest and the highest number.
    pub range: (f64, f64),
    /// What the library calls it where it refuses a value that fits the range, but not the others.
    pub(super) quantity: Quantity,
}

const fn key(
    section: &'static str,
    key: &'static str,
    range: (f64, f64),
    quantity: Quantity,
) -> ControlKey {
    ControlKey { section, key, range, quantity }
}

/// Every key with a number, but for counts of the thumb and the paces.
pub const CONTROL_KEYS: [ControlKey; 28] = [
    key("throttle", "top_speed_m_s", (1.7, 40.0), Quantity::BandEnd(Reason::TopSpeed)),
    key("throttle", "full_current_m_s2", (0.1, 10.0), Quantity::FullCurrentAcceleration),
    key("throttle", "full_drive_m_s2", (0.1, 10.0), Quantity::GreatestAcceleration),
    key("throttle", "full_brake_m_s2", (0.1, 10.0), Quantity::GreatestAcceleration),
    key("throttle", "softness", (0.0, 1.0), Quantity::Blend),
    key("throttle", "taper_to", (0.1, 1.0), Quantity::ShareLeft(Reason::TopSpeed)),
    key("throttle", "drive_on_m_s3", (0.1, 20.0), Quantity::DriveOn),
    key("throttle", "drive_off_s", (0.02, 0.3), Quantity::DriveOffWithin),
    key("throttle", "brake_on_m_s3", (1.0, 50.0), Quantity::BrakeOn),
    key("throttle", "brake_off_m_s3", (0.5, 50.0), Quantity::BrakeOff),
    key("throttle", "brake_ease_m_s3", (0.1, 50.0), Quantity::BrakeEase),
    key("throttle", "pause_s", (0.0, 2.0), Quantity::Pause),
    key("brake", "charge_A", (0.1, 2000.0), Quantity::ChargeCurrent),
    key("brake", "stop_with_m_s2", (0.2, 10.0), Quantity::StopWith),
    key("brake", "beside_motors_m_s2", (0.0, 10.0), Quantity::BesideMotors),
    key("brake", "without_charging_m_s2", (0.0, 10.0), Quantity::BrakeWithoutCharging),
    key("brake", "silent_m_s2", (0.0, 10.0), Quantity::SilentBrake),
    key("heat", "motor_from_degC", (30.0, 250.0), Quantity::BandBegin(Reason::HotMotor)),
    key("heat", "motor_to_degC", (30.0, 250.0), Quantity::BandEnd(Reason::HotMotor)),
    key("heat", "controller_from_degC", (30.0, 250.0), Quantity::BandBegin(Reason::HotController)),
    key("heat", "controller_to_degC", (30.0, 250.0), Quantity::BandEnd(Reason::HotController)),
    key("reserve", "from", (0.0, 0.5), Quantity::BandBegin(Reason::Reserve)),
    key("reserve", "to", (0.0, 0.5), Quantity::BandEnd(Reason::Reserve)),
    key("reserve", "drive", (0.0, 1.0), Quantity::ShareLeft(Reason::Reserve)),
    key("reserve", "speed_m_s", (1.7, 40.0), Quantity::ReserveSpeed),
    key("thumb", "stuck_after_s", (10.0, 3600.0), Quantity::StuckAfter),
    key("handheld", "warn_below_V", (0.8, 60.0), Quantity::HandWarnBelow),
    key("handheld", "walk_below_V", (0.7, 60.0), Quantity::HandWalkBelow),
];

/// The key of this section and name.
pub(super) fn of(section: &str, name: &str) -> Option<&'static ControlKey> {
    CONTROL_KEYS.iter().find(|key| key.section == section && key.key == name)
}
