//! What a draft comes to: every number in effect, and the curves as the library has them.
//!
//! Read from the checked settings, so that a default is what the library made of it.

use std::collections::BTreeMap;

use homestretch::throttle::curve::USUAL_BLEND;
use homestretch::throttle::{Curve, LimitSettings, Parts};
use homestretch::units::Ratio;
use serde::Serialize;

use super::draft::Draft;
use super::fault::Fault;
use super::keys::{Group, TUNABLE, Tunable};
use super::rewrite;
use crate::board_file::BoardFile;

/// A curve is shown at so many steps of the thumb and at zero: those of the library's own table.
const STEPS: u32 = 64;

/// Every number in effect, by its key, and the curves.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Values {
    /// All keys that can be tuned, in effect.
    pub values: BTreeMap<&'static str, f64>,
    /// Those that the file states.
    pub given: Vec<&'static str>,
    /// The two curves.
    pub curves: CurvesShown,
}

/// The two curves.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CurvesShown {
    /// Of drive.
    pub drive: CurveShown,
    /// Of brake.
    pub brake: CurveShown,
}

/// How a curve is stated.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum CurveKind {
    /// By its end and its softness.
    Usual,
    /// By handles.
    Handles,
}

/// A curve.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CurveShown {
    /// How it is stated.
    pub kind: CurveKind,
    /// Its handles, pairs of thumb and m/s²; for the usual shape one to begin with, and its end.
    pub handles: Vec<(f64, f64)>,
    /// What the thumb asks at 65 places, pairs likewise.
    pub points: Vec<(f64, f64)>,
    /// What the full thumb asks.
    pub greatest_m_s2: f64,
}

/// A key with all that is shown beside its number.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct KeyShown {
    /// Section and key.
    pub key: &'static str,
    /// Of the number; empty for a share.
    pub unit: &'static str,
    /// The lowest number.
    pub lowest: f64,
    /// The highest number.
    pub highest: f64,
    /// In a few words.
    pub meaning: &'static str,
    /// What it is where the file says nothing; nothing where that follows from others.
    pub usual: Option<f64>,
    /// What it is about.
    pub group: Group,
}

impl Draft {
    /// Every key that can be tuned, in the order in which they are shown.
    #[must_use]
    pub fn keys(&self) -> Vec<KeyShown> {
        let usual = self.usual().unwrap_or_default();
        let shown = |known: &Tunable| {
            let Tunable { key, unit, meaning, group } = *known;
            let (lowest, highest) = known.range();
            let usual = usual.get(key).copied().flatten();
            KeyShown { key, unit, lowest, highest, meaning, usual, group }
        };
        TUNABLE.iter().map(shown).collect()
    }

    /// What it comes to.
    #[must_use]
    pub fn values(&self) -> Values {
        let stated = rewrite::states(self.text());
        let given = TUNABLE.iter().filter(|key| stated(key.parts())).map(|key| key.key).collect();
        let curves = &self.file().throttle.parts().curves;
        let shown = |curve: &Curve, key| {
            let (kind, handles) = match rewrite::pairs(self.text(), ("throttle", key)) {
                Some(handles) => (CurveKind::Handles, handles),
                None => (CurveKind::Usual, vec![at(curve, STEPS / 2), at(curve, STEPS)]),
            };
            let points: Vec<_> = (0..=STEPS).map(|step| at(curve, step)).collect();
            let greatest_m_s2 = rounded(curve.greatest().to_f64());
            CurveShown { kind, handles, points, greatest_m_s2 }
        };
        Values {
            values: self.in_effect(),
            given,
            curves: CurvesShown {
                drive: shown(&curves.drive, "drive_curve"),
                brake: shown(&curves.brake, "brake_curve"),
            },
        }
    }

    /// What every key would be if the file said nothing of any; nothing for those that follow from
    /// others.
    ///
    /// # Errors
    /// The faults of such a file; there are none where its paces fit the usual settings.
    pub fn usual(&self) -> Result<BTreeMap<&'static str, Option<f64>>, Vec<Fault>> {
        let mut text = self.text().to_owned();
        let curves = [("throttle", "drive_curve"), ("throttle", "brake_curve")];
        for at in TUNABLE.iter().map(|key| key.parts()).chain(curves) {
            text = rewrite::without(&text, at).map_err(|fault| vec![fault])?;
        }
        let values = Self::new(self.path(), text)?.in_effect();
        let known = |key: &Tunable| {
            let value = values.get(key.key).copied();
            (key.key, value.filter(|_| !key.follows()))
        };
        Ok(TUNABLE.iter().map(known).collect())
    }

    fn in_effect(&self) -> BTreeMap<&'static str, f64> {
        let softness = rewrite::number(self.text(), ("throttle", "softness"));
        let softness = softness.unwrap_or_else(|| USUAL_BLEND.to_f64());
        let parts = self.file().throttle.parts();
        let riders = &self.file().riders;
        let mut all: BTreeMap<&'static str, f64> =
            throttle(parts, softness).into_iter().chain(limits(parts)).collect();
        all.extend([
            ("riders.lightest_kg", riders.lightest_kg),
            ("riders.heaviest_kg", riders.heaviest_kg),
            ("riders.bear_drive_m_s2", riders.bear_drive_m_s2),
            ("riders.bear_brake_m_s2", riders.bear_brake_m_s2),
            ("riders.bear_drive_jerk_m_s3", riders.bear_drive_jerk_m_s3),
            ("riders.bear_brake_jerk_m_s3", riders.bear_brake_jerk_m_s3),
            ("riders.bear_let_go_jerk_m_s3", riders.bear_let_go_jerk_m_s3),
        ]);
        all.into_iter().map(|(key, value)| (key, rounded(value))).collect()
    }
}

/// The numbers of a file in effect, by their keys, but for those of its riders.
#[must_use]
pub fn numbers_in_effect(file: &BoardFile) -> BTreeMap<&'static str, f64> {
    let exact = exact_numbers(file.throttle.parts()).into_iter();
    exact.map(|(key, value)| (key, rounded(value))).collect()
}

/// The numbers of these parts to the last bit, by their keys, always in the same order; all but the
/// softness, which the curves have taken in.
#[must_use]
pub fn exact_numbers(parts: &Parts) -> Vec<(&'static str, f64)> {
    let softness = |(key, _): &(&str, f64)| *key != "throttle.softness";
    throttle(parts, 0.0).into_iter().filter(softness).chain(limits(parts)).collect()
}

fn throttle(parts: &Parts, softness: f64) -> [(&'static str, f64); 15] {
    let Parts { curves, limits, rates, hand_battery, .. } = parts;
    [
        ("throttle.full_drive_m_s2", curves.drive.greatest().to_f64()),
        ("throttle.full_brake_m_s2", curves.brake.greatest().to_f64()),
        ("throttle.softness", softness),
        ("throttle.taper_to", limits.taper_drive.to_f64()),
        ("throttle.full_current_m_s2", parts.full_current_acceleration.to_f64()),
        ("throttle.drive_on_m_s3", rates.drive_on.to_f64()),
        ("throttle.drive_off_s", seconds(rates.drive_off_within)),
        ("throttle.brake_on_m_s3", rates.brake_on.to_f64()),
        ("throttle.brake_off_m_s3", rates.brake_off.to_f64()),
        ("throttle.brake_ease_m_s3", rates.brake_ease.to_f64()),
        ("throttle.pause_s", seconds(rates.pause)),
        ("throttle.top_speed_m_s", limits.top_speed.end.to_f64()),
        ("thumb.stuck_after_s", seconds(parts.stuck_after)),
        ("handheld.warn_below_V", hand_battery.warn_below.to_f64()),
        ("handheld.walk_below_V", hand_battery.walk_below.to_f64()),
    ]
}

fn limits(parts: &Parts) -> [(&'static str, f64); 13] {
    let LimitSettings { brake, hot_motor, hot_controller, reserve, .. } = &parts.limits;
    [
        ("brake.stop_with_m_s2", brake.stop_with.to_f64()),
        ("brake.charge_A", brake.charge_current.to_f64()),
        ("brake.beside_motors_m_s2", brake.beside_motors.to_f64()),
        ("brake.without_charging_m_s2", brake.without_charging.to_f64()),
        ("brake.silent_m_s2", parts.silent_brake.to_f64()),
        ("heat.motor_from_degC", hot_motor.begin.to_f64()),
        ("heat.motor_to_degC", hot_motor.end.to_f64()),
        ("heat.controller_from_degC", hot_controller.begin.to_f64()),
        ("heat.controller_to_degC", hot_controller.end.to_f64()),
        ("reserve.from", reserve.begin.to_f64()),
        ("reserve.to", reserve.end.to_f64()),
        ("reserve.drive", parts.limits.reserve_drive.to_f64()),
        ("reserve.speed_m_s", parts.limits.reserve_speed.to_f64()),
    ]
}

fn at(curve: &Curve, step: u32) -> (f64, f64) {
    let thumb = f64::from(step) / f64::from(STEPS);
    let ratio = Ratio::from_f64(thumb).unwrap_or(Ratio::ZERO);
    (thumb, rounded(curve.acceleration(ratio).to_f64()))
}

fn seconds(duration: homestretch::time::Duration) -> f64 {
    f64::from(u32::try_from(duration.to_micros()).unwrap_or(u32::MAX)) / 1e6
}

/// The library's steps are finer than a ten-thousandth, and no builder's numbers are.
fn rounded(value: f64) -> f64 {
    (value * 1e4).round() / 1e4
}
