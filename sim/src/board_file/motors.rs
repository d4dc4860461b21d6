//! Motors, gear and motor controller of a board file: what synthetic rides are ridden with.
//!
//! Used by `reader`. All keys have a default that follows from the rest of the board (`plant`), so
//! that a board file without this section rides. The library is told nothing of it.

use super::document::Document;
use crate::plant::MotorSheet;

/// What the file says about the motors; faults are noted in the document.
pub(super) fn read(document: &Document<'_>) -> MotorSheet {
    MotorSheet {
        count: count(document),
        kv_rpm_V: bounded(document, "kv_rpm_V", (5.0, 2000.0)),
        winding_ohm: bounded(document, "winding_ohm", (0.001, 5.0)),
        gear_ratio: bounded(document, "gear_ratio", (0.5, 20.0)),
        max_motor_A: bounded(document, "max_motor_A", (0.1, 1000.0)),
        max_battery_A: bounded(document, "max_battery_A", (0.1, 1000.0)),
        max_regen_A: bounded(document, "max_regen_A", (0.0, 1000.0)),
        idle_W: bounded(document, "idle_W", (0.0, 100.0)),
    }
}

fn count(document: &Document<'_>) -> Option<u8> {
    let (value, line) = document.number("motor", "count")?;
    match value {
        value if (value - 1.0).abs() < f64::EPSILON => Some(1),
        value if (value - 2.0).abs() < f64::EPSILON => Some(2),
        value => {
            document.blame(line, format!("motor.count is {value}; 1 or 2 is wanted"));
            None
        }
    }
}

fn bounded(document: &Document<'_>, key: &'static str, range: (f64, f64)) -> Option<f64> {
    document.bounded("motor", key, range)
}
