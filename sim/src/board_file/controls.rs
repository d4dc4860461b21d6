//! Thumb and throttle of a board file: the sensor's counts, and what the thumb may do.
//!
//! Used by `reader`. All keys have a default, so that a board file without these sections rides.

use homestretch::board::Board;
use homestretch::throttle::{Calibration, Counts, Error, Quantity, Settings};
use homestretch::units::{MetresPerSecond, MetresPerSecondSquared};

use super::document::Document;

/// A twelve-bit converter and a spring-loaded slider that uses most of its range.
/// Common practice, no source: every thumb has to be calibrated.
const USUAL: Counts = Counts {
    full_scale: 4095,
    low: 400,
    centre: 2048,
    high: 3700,
    deadband: 80,
    hysteresis: 20,
    broken_margin: 200,
    reversed: false,
};

/// What the vehicle does at the greatest motor current where the file does not say: an
/// assumption, to be measured on the board.
const FULL_CURRENT_M_S2: f64 = 3.5;

/// 25 km/h, where the file does not say. Local law decides.
const TOP_SPEED_M_S: f64 = 7.0;

/// What the file says about thumb and throttle; faults are noted in the document.
pub(super) fn read(document: &Document<'_>, board: Option<&Board>) -> Option<Settings> {
    let calibration = calibration(document);
    let top_speed = bounded(document, "top_speed_m_s", TOP_SPEED_M_S, (1.0, 40.0))
        .and_then(MetresPerSecond::from_f64);
    let full = bounded(document, "full_current_m_s2", FULL_CURRENT_M_S2, (0.1, 10.0));
    let full = full.and_then(MetresPerSecondSquared::from_f64);
    let board = board?;
    let made = Settings::of_board(calibration?, board, top_speed?, full?);
    made.map_err(|error| document.miss(format!("throttle: {error}"))).ok()
}

fn calibration(document: &Document<'_>) -> Option<Calibration> {
    let count = |key, usual: u16| {
        let Some((value, line)) = document.number("thumb", key) else { return usual };
        let whole = value.round();
        if (value - whole).abs() > f64::EPSILON || !(0.0..=65535.0).contains(&whole) {
            document.blame(
                line,
                format!("thumb.{key} is {value}; a whole number from 0 to 65535 is wanted"),
            );
            return usual;
        }
        format!("{whole:.0}").parse().unwrap_or(usual)
    };
    let counts = Counts {
        full_scale: count("full_scale", USUAL.full_scale),
        low: count("low", USUAL.low),
        centre: count("centre", USUAL.centre),
        high: count("high", USUAL.high),
        deadband: count("deadband", USUAL.deadband),
        hysteresis: count("hysteresis", USUAL.hysteresis),
        broken_margin: count("broken_margin", USUAL.broken_margin),
        reversed: document.flag("thumb", "reversed").unwrap_or(USUAL.reversed),
    };
    Calibration::new(counts).map_err(|error| blame(document, &error)).ok()
}

/// Names a refused count by its key and its line.
fn blame(document: &Document<'_>, error: &Error) {
    const KEYS: [(Quantity, &str); 6] = [
        (Quantity::ThumbLow, "low"),
        (Quantity::ThumbCentre, "centre"),
        (Quantity::ThumbHigh, "high"),
        (Quantity::ThumbDeadband, "deadband"),
        (Quantity::ThumbHysteresis, "hysteresis"),
        (Quantity::ThumbBrokenMargin, "broken_margin"),
    ];
    if let Error::OutOfRange { quantity, given, lowest, highest } = error
        && let Some((_, key)) = KEYS.iter().find(|(known, _)| known == quantity)
    {
        let what = format!("thumb.{key} is {given}; {lowest} to {highest} is allowed");
        match document.find("thumb", key) {
            Some(found) => document.blame(found.line, what),
            None => document.miss(what),
        }
    } else {
        document.miss(format!("thumb: {error}"));
    }
}

fn bounded(
    document: &Document<'_>,
    key: &'static str,
    usual: f64,
    range: (f64, f64),
) -> Option<f64> {
    let Some((value, line)) = document.number("throttle", key) else {
        return (!document.has("throttle", key)).then_some(usual);
    };
    let (lowest, highest) = range;
    if (lowest..=highest).contains(&value) {
        return Some(value);
    }
    document.blame(line, format!("throttle.{key} is {value}; {lowest} to {highest} is allowed"));
    None
}
