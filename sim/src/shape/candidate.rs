//! A candidate: eight numbers, each a share of what may be tried, and the changes of the board file.

use homestretch::throttle::Half;

use crate::board_file::BoardFile;
use crate::tuning::{Change, Draft, Fault, tunable};

/// How many numbers are searched.
pub(super) const NUMBERS: usize = 8;

/// A thousandth is as fine as a builder would write it.
const STEPS_PER_ONE: f64 = 1000.0;

/// Where the inner handle of each curve stands.
const INNER_THUMB: f64 = 0.5;

/// What is tried: lowest and highest of each number.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Space {
    ranges: [(f64, f64); NUMBERS],
}

/// One candidate, as the numbers that the file will have.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Candidate {
    /// What the full thumb asks, m/s².
    pub full_drive_m_s2: f64,
    /// What half a thumb asks of that.
    pub half_drive_share: f64,
    /// How fast drive comes, m/s³.
    pub drive_on_m_s3: f64,
    /// In which time it goes.
    pub drive_off_s: f64,
    /// What is left of it at the top speed.
    pub taper_to: f64,
    /// What the full brake asks, m/s².
    pub full_brake_m_s2: f64,
    /// What half a brake asks of that.
    pub half_brake_share: f64,
    /// How fast a brake comes, m/s³.
    pub brake_on_m_s3: f64,
}

impl Space {
    /// Around what the riders of a board bear: a little more than that by the board file's own mass, and down
    /// to what hardly moves.
    #[must_use]
    pub fn of(board: &BoardFile) -> Self {
        let riders = &board.riders;
        let full = board.throttle.parts().full_current_acceleration.to_f64();
        // Heavy riders get less of it than they bear: so more than the lightest bears is worth a look.
        let up_to = |bears: f64| (bears * 1.3).min(full).max(0.2);
        let range = |key: &str, lowest: f64, highest: f64| {
            let (least, most) = tunable(key).map_or((lowest, highest), |key| key.range());
            let lowest = lowest.clamp(least, most);
            (lowest, highest.clamp(lowest, most))
        };
        let drive = up_to(riders.bear_drive_m_s2);
        let brake = up_to(riders.bear_brake_m_s2);
        let drive_jerk = riders.bear_drive_jerk_m_s3;
        let brake_jerk = riders.bear_brake_jerk_m_s3;
        // To whole thousandths, as the candidates are.
        let written = |(lowest, highest): (f64, f64)| {
            let lowest = (lowest * STEPS_PER_ONE).ceil() / STEPS_PER_ONE;
            (lowest, ((highest * STEPS_PER_ONE).floor() / STEPS_PER_ONE).max(lowest))
        };
        Self {
            ranges: [
                (drive * 0.3, drive),
                (0.12, 0.5),
                range("throttle.drive_on_m_s3", drive_jerk * 0.2, drive_jerk * 1.3),
                range("throttle.drive_off_s", 0.1, 0.3),
                range("throttle.taper_to", 0.4, 1.0),
                (brake * 0.2, brake),
                (0.12, 0.5),
                range("throttle.brake_on_m_s3", brake_jerk * 0.15, brake_jerk * 1.3),
            ]
            .map(written),
        }
    }

    /// The candidate at these shares, 0 to 1, of its ranges; anything beyond is held to them.
    #[must_use]
    pub fn candidate(&self, shares: &[f64]) -> Candidate {
        let at = |number: usize| {
            let (lowest, highest) = self.ranges.get(number).copied().unwrap_or((0.0, 0.0));
            let share = shares.get(number).copied().unwrap_or(0.0).clamp(0.0, 1.0);
            let value = lowest + share * (highest - lowest);
            ((value * STEPS_PER_ONE).round() / STEPS_PER_ONE).clamp(lowest, highest)
        };
        Candidate {
            full_drive_m_s2: at(0),
            half_drive_share: at(1),
            drive_on_m_s3: at(2),
            drive_off_s: at(3),
            taper_to: at(4),
            full_brake_m_s2: at(5),
            half_brake_share: at(6),
            brake_on_m_s3: at(7),
        }
    }
}

impl Candidate {
    /// What of a board file it changes.
    #[must_use]
    pub fn changes(&self) -> Vec<Change> {
        let number = |key: &str, value| Change::Number { key: format!("throttle.{key}"), value };
        let curve = |half, end: f64, share: f64| {
            let inner = (end * share * STEPS_PER_ONE).round() / STEPS_PER_ONE;
            Change::Handles { half, handles: vec![(INNER_THUMB, inner), (1.0, end)] }
        };
        vec![
            curve(Half::Drive, self.full_drive_m_s2, self.half_drive_share),
            curve(Half::Brake, self.full_brake_m_s2, self.half_brake_share),
            number("drive_on_m_s3", self.drive_on_m_s3),
            number("drive_off_s", self.drive_off_s),
            number("taper_to", self.taper_to),
            number("brake_on_m_s3", self.brake_on_m_s3),
        ]
    }

    /// The board file with it.
    ///
    /// # Errors
    /// What of the rest of the file it does not go with.
    pub fn applied(&self, to: &Draft) -> Result<Draft, Vec<Fault>> {
        to.after(&self.changes())
    }
}
