//! What a silence of the hand does to a board at 25 km/h: decelerations, times and ways.
//!
//! The library's receiver before a point mass: rolling and air resistance of 90 kg, 0.02 and 0.6 m²
//! (the check table of the road load), no slope, no wind, and a motor controller that does as it is
//! told.

use homestretch::receiver::{Command, Measured, Receiver, Sender};
use homestretch::throttle::{Calibration, Counts, Error, Parts, Settings, Usual};
use homestretch::time::{Duration, Instant};
use homestretch::units::{Amperes, Kilograms, MetresPerSecond, MetresPerSecondSquared, Ratio};
use serde::Serialize;

/// 25 km/h.
const FROM_M_S: f64 = 25.0 / 3.6;

/// A walk, at which a rider steps off.
const WALK_M_S: f64 = 1.7;

/// The receiver's tick.
const TICK_US: u64 = 10_000;
const TICK_S: f64 = 0.01;

/// One row of the table.
#[derive(Clone, Debug, Serialize)]
pub struct Row {
    /// What the hand asked for when it fell silent, m/s².
    pub asked_m_s2: f64,
    /// What the board brakes with by itself, m/s².
    pub silent_brake_m_s2: f64,
    /// What the rider feels after 0.1, 0.25, 1, 2 and 5 s: everything that acts, m/s².
    pub felt_m_s2: [f64; 5],
    /// Seconds and metres until a walk; nothing where it takes more than two minutes.
    pub walk: Option<(f64, f64)>,
    /// Seconds and metres until it stands.
    pub stand: Option<(f64, f64)>,
}

/// The times at which it is felt, in milliseconds.
pub const FELT_AT_MS: [u64; 5] = [100, 250, 1000, 2000, 5000];

/// The table: for each brake of the board's own what was asked before.
///
/// # Errors
/// Settings that cannot be, which these are not.
pub fn table() -> Result<Vec<Row>, Error> {
    let mut rows = Vec::new();
    for silent_milli in [500, 0, 1000] {
        for asked_milli in [1600, 400, 0, -1500, -3000] {
            rows.push(row(asked_milli, silent_milli)?);
        }
    }
    Ok(rows)
}

/// Rolling and air resistance, as a deceleration.
fn resistance_m_s2(speed_m_s: f64) -> f64 {
    (0.02 * 90.0 * 9.80665 + 0.5 * 1.225 * 0.6 * speed_m_s * speed_m_s) / 90.0
}

fn row(asked_milli: i32, silent_milli: i32) -> Result<Row, Error> {
    let settings = settings(silent_milli)?;
    let full_m_s2 = settings.parts().full_current_acceleration.to_f64();
    let command = |milli| Command {
        sender: Sender { hand: 1, start: 1 },
        share: settings.share(MetresPerSecondSquared::from_milli(milli)),
        backward: false,
        neutral: milli == 0,
        brake_left: Ratio::ONE,
    };
    let mut receiver = Receiver::new();
    let mut now = Instant::from_micros(0);
    let mut tick = |receiver: &mut Receiver, speed_m_s: f64, command: Option<&Command>| {
        now = now + Duration::from_micros(TICK_US);
        let speed = MetresPerSecond::from_f64(speed_m_s);
        let measured = Measured { speed, ..Measured::default() };
        receiver.tick(now, command, &measured, &settings).share.to_f64() * full_m_s2
    };
    // Heard for a while at a steady speed.
    tick(&mut receiver, FROM_M_S, Some(&command(0)));
    for _ in 0..1000 {
        tick(&mut receiver, FROM_M_S, Some(&command(asked_milli)));
    }
    let (mut speed_m_s, mut way_m, mut ms) = (FROM_M_S, 0.0, 0_u64);
    let mut felt_m_s2 = [0.0; 5];
    let (mut walk, mut stand) = (None, None);
    while ms < 120_000 && stand.is_none() {
        let motors_m_s2 = tick(&mut receiver, speed_m_s, None);
        ms += TICK_US / 1000;
        let all_m_s2 = motors_m_s2 - resistance_m_s2(speed_m_s);
        for (felt, at) in felt_m_s2.iter_mut().zip(FELT_AT_MS) {
            if at == ms {
                *felt = all_m_s2;
            }
        }
        way_m += speed_m_s * TICK_S;
        speed_m_s = (speed_m_s + all_m_s2 * TICK_S).max(0.0);
        let seconds = Duration::from_millis(ms).to_micros() as f64 / 1e6;
        if speed_m_s <= WALK_M_S {
            walk.get_or_insert((seconds, way_m));
        }
        if speed_m_s <= 0.0 {
            stand = Some((seconds, way_m));
        }
    }
    Ok(Row {
        asked_m_s2: f64::from(asked_milli) / 1000.0,
        silent_brake_m_s2: f64::from(silent_milli) / 1000.0,
        felt_m_s2,
        walk,
        stand,
    })
}

fn settings(silent_milli: i32) -> Result<Settings, Error> {
    let calibration = Calibration::new(Counts {
        full_scale: 4095,
        low: 800,
        centre: 2000,
        high: 3300,
        deadband: 60,
        hysteresis: 20,
        broken_margin: 200,
        reversed: false,
    })?;
    let usual = Usual {
        series: 10,
        greatest_discharge: Amperes::from_whole(40),
        greatest_charge: Amperes::from_whole(40),
        mass: Kilograms::from_whole(90),
    };
    let full = MetresPerSecondSquared::from_milli(3500);
    let usual = Settings::standard(calibration, &usual, full)?;
    let silent_brake = MetresPerSecondSquared::from_milli(silent_milli);
    Settings::new(Parts { silent_brake, ..*usual.parts() })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn drive_is_gone_in_a_quarter_second_and_a_brake_is_held_for_a_second() {
        let rows = table().unwrap();
        let drove = &rows[0];
        let rolls = resistance_m_s2(FROM_M_S);
        assert!((drove.felt_m_s2[1] + rolls).abs() < 0.02, "{drove:?}");
        let braked = &rows[4];
        assert!((braked.felt_m_s2[2] + 3.0 + rolls).abs() < 0.3, "{braked:?}");
        // Textbook: from 25 km/h at 3 m/s² alone v²/2a is 8.04 m, and resistance only shortens it.
        let (_, way_m) = braked.stand.unwrap();
        assert!((6.0..9.5).contains(&way_m), "{way_m}");
    }
}
