//! Who rides a board, and what they bear: the measure of a tuning.
//!
//! Used by `reader`. For whatever judges settings before they are ridden (`feel`, `shape`); the
//! library is told nothing of it. All keys have a default, so that a board file without this section
//! can be tuned.
//!
//! No source fits a rider who stands without a handhold: trams and buses are found to exceed what such
//! passengers can hold (de Graaf and van Weperen 1995, Powell and Palacin 2015), and studies of comfort
//! are too varied for one figure (Hoberock 1977). What is taken from one says so; the rest is common
//! practice, no source.

use homestretch::board::Board;

use super::document::{Document, dotted};
use super::fault::Refused;

/// A key of the section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RiderKey {
    /// Its name.
    pub key: &'static str,
    /// The lowest and the highest number.
    pub range: (f64, f64),
}

const fn key(key: &'static str, range: (f64, f64)) -> RiderKey {
    RiderKey { key, range }
}

/// Every key of `[riders]`.
pub const RIDER_KEYS: [RiderKey; 7] = [
    key("lightest_kg", MASS_KG),
    key("heaviest_kg", MASS_KG),
    key("bear_drive_m_s2", (0.1, 10.0)),
    key("bear_brake_m_s2", (0.1, 10.0)),
    key("bear_drive_jerk_m_s3", (0.1, 50.0)),
    key("bear_brake_jerk_m_s3", (0.1, 50.0)),
    key("bear_let_go_jerk_m_s3", (0.1, 100.0)),
];

/// That of `vehicle.mass_kg`.
const MASS_KG: (f64, f64) = (1.0, 1000.0);

/// The lightest and the heaviest over the mass of the file: for 88 kg, 70 to 110. Common practice, no
/// source.
const LIGHTEST: f64 = 0.8;
const HEAVIEST: f64 = 1.25;

/// The usual full drive, 1.6 m/s2, as a rider of 0.8 times the mass feels it. Common practice, no
/// source: standing passengers of people movers get 0.16 g (ASCE 21, from memory), and they did not ask
/// for it with their own thumb.
const BEAR_DRIVE_M_S2: f64 = 2.0;

/// The usual full brake, 3 m/s2, likewise, and what rolls and drags beside it. Common practice, no
/// source: 0.32 g is an emergency stop of a people mover (ASCE 21, from memory).
const BEAR_BRAKE_M_S2: f64 = 4.0;

/// Jerk for comfort along the way. Source: AS 3860 for fixed guideways, second hand.
const BEAR_DRIVE_JERK_M_S3: f64 = 1.5;

/// Common practice, no source: the usual brake comes with 6 m/s3, and a rider who asks for it leans.
const BEAR_BRAKE_JERK_M_S3: f64 = 8.0;

/// The usual drive goes within 0.3 s: 1.6 m/s2 in that time are 5.3 m/s3, and 6.7 for the lightest.
/// Common practice, no source: that much has to pass, or letting go would be slower than it must be.
const BEAR_LET_GO_JERK_M_S3: f64 = 8.0;

/// Who rides a board, and what they bear.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Riders {
    /// The lightest rider and the board, kg.
    pub lightest_kg: f64,
    /// The heaviest rider and the board, kg.
    pub heaviest_kg: f64,
    /// The greatest acceleration that drive may be felt as, m/s2.
    pub bear_drive_m_s2: f64,
    /// The greatest deceleration that a brake may be felt as, m/s2.
    pub bear_brake_m_s2: f64,
    /// The greatest jerk with which drive may come, m/s3.
    pub bear_drive_jerk_m_s3: f64,
    /// The greatest jerk with which a brake may come, m/s3.
    pub bear_brake_jerk_m_s3: f64,
    /// The greatest jerk with which drive may go, m/s3.
    pub bear_let_go_jerk_m_s3: f64,
}

/// What the file says about the riders; faults are noted in the document. Nothing without a board.
pub(super) fn read(document: &Document<'_>, board: Option<&Board>) -> Option<Riders> {
    let [lightest, heaviest, drive, brake, drive_jerk, brake_jerk, let_go_jerk] =
        RIDER_KEYS.map(|RiderKey { key, range }| document.bounded("riders", key, range));
    let mass_kg = board?.vehicle().mass.to_f64();
    let of_mass = |share: f64| (share * mass_kg).clamp(MASS_KG.0, MASS_KG.1);
    let riders = Riders {
        lightest_kg: lightest.unwrap_or(of_mass(LIGHTEST)),
        heaviest_kg: heaviest.unwrap_or(of_mass(HEAVIEST)),
        bear_drive_m_s2: drive.unwrap_or(BEAR_DRIVE_M_S2),
        bear_brake_m_s2: brake.unwrap_or(BEAR_BRAKE_M_S2),
        bear_drive_jerk_m_s3: drive_jerk.unwrap_or(BEAR_DRIVE_JERK_M_S3),
        bear_brake_jerk_m_s3: brake_jerk.unwrap_or(BEAR_BRAKE_JERK_M_S3),
        bear_let_go_jerk_m_s3: let_go_jerk.unwrap_or(BEAR_LET_GO_JERK_M_S3),
    };
    if riders.lightest_kg > riders.heaviest_kg {
        refuse_order(document, &riders);
    }
    Some(riders)
}

/// The lightest is heavier than the heaviest: the one that the file states is told what would do.
fn refuse_order(document: &Document<'_>, riders: &Riders) {
    let stated = |key| document.find("riders", key).map(|found| found.line);
    let (name, given, allowed, line) = match stated("lightest_kg") {
        Some(line) => {
            ("lightest_kg", riders.lightest_kg, (MASS_KG.0, riders.heaviest_kg), Some(line))
        }
        None => (
            "heaviest_kg",
            riders.heaviest_kg,
            (riders.lightest_kg, MASS_KG.1),
            stated("heaviest_kg"),
        ),
    };
    let key = dotted("riders", name);
    let (lowest, highest) = allowed;
    let what =
        format!("{key} is {given}; beside the rest of the file {lowest} to {highest} is allowed");
    document.refuse(line, what, Refused { key, given: Some(given), allowed: Some(allowed) });
}
