//! The trials behind the laws, on one stand: a start, thumbs let go, a stop, and thumbs on a drum.

use homestretch::throttle::Settings;

use super::{LawId, Worst};
use crate::feel::machine::Standing;
use crate::feel::response::{Point, SLOW_ROLL_M_S, STANDS_M_S, allowed_m_s, drive_up, ride};
use crate::feel::thumb::Drum;
use crate::feel::trial::Trial;

/// A start is over when hardly anything pushes any more, or by then.
const START_LASTS_S: f64 = 9.0;
const HARDLY_M_S2: f64 = 0.15;

/// So long everything comes before a start may be over.
const START_AT_LEAST_S: f64 = 3.0;

/// A drive that is let go is looked at for so long.
const LET_GO_FOR_S: f64 = 0.6;

/// At these shares of the speed that is allowed.
const LET_GO_AT: [f64; 2] = [0.3, 0.75];

/// A stop that lasts longer is none.
const STOP_LASTS_S: f64 = 40.0;

/// A brake goes as the board comes to a stand: that of the last walk is no falling away.
const STAYS_ABOVE_M_S: f64 = 1.5;

/// Motor current that is none.
const NO_CURRENT_A: f64 = 0.05;

/// Thumbs and shares of the speed on the drum.
const THUMBS: i32 = 8;
const DRUM_AT: [f64; 2] = [0.4, 0.8];

/// The worst of each law so far.
struct Worsts([Worst; LawId::ALL.len()]);

impl Worsts {
    fn note(&mut self, law: LawId, found: f64, at_m_s: f64) {
        let place = LawId::ALL.iter().position(|known| *known == law);
        if let Some(worst) = place.and_then(|place| self.0.get_mut(place))
            && found > worst.found
        {
            *worst = Worst { found, at_m_s };
        }
    }

    fn currents(&mut self, point: &Point) {
        let (amperes, at_m_s) = (point.felt.pack_A, point.felt.speed_m_s);
        self.note(LawId::PackCurrent, amperes, at_m_s);
        self.note(LawId::ChargeCurrent, -amperes, at_m_s);
    }
}

/// The worst of every law.
pub(super) fn worst(board: &Standing, settings: &Settings) -> [Worst; LawId::ALL.len()] {
    let mut worsts = Worsts(of_trials(board, settings));
    let allowed_m_s = allowed_m_s(board, settings);
    for share in DRUM_AT {
        thumbs(board, settings, (allowed_m_s * share, &mut worsts));
    }
    worsts.0
}

/// The same without the drum, which takes longest and finds least.
pub(super) fn of_trials(board: &Standing, settings: &Settings) -> [Worst; LawId::ALL.len()] {
    let mut worsts = Worsts([Worst::default(); LawId::ALL.len()]);
    let allowed_m_s = allowed_m_s(board, settings);
    start(board, settings, &mut worsts);
    for share in LET_GO_AT {
        let_go(board, settings, (allowed_m_s * share, &mut worsts));
    }
    stop(board, settings, (allowed_m_s, &mut worsts));
    worsts.0
}

fn start(board: &Standing, settings: &Settings, worsts: &mut Worsts) {
    let mut trial = Trial::rolling(board, settings, SLOW_ROLL_M_S);
    ride(
        &mut trial,
        START_LASTS_S,
        |_| 1.0,
        |point| {
            let felt = &point.felt;
            worsts.note(LawId::DriveAcceleration, felt.acceleration_m_s2, felt.speed_m_s);
            worsts.note(LawId::DriveJerk, point.jerk_m_s3, felt.speed_m_s);
            worsts.currents(point);
            felt.time_s < START_AT_LEAST_S || felt.acceleration_m_s2 > HARDLY_M_S2
        },
    );
}

fn let_go(board: &Standing, settings: &Settings, (speed_m_s, worsts): (f64, &mut Worsts)) {
    let mut trial = Trial::rolling(board, settings, speed_m_s);
    let let_go_s = drive_up(&mut trial);
    let mut gone = false;
    ride(
        &mut trial,
        LET_GO_FOR_S,
        |_| 0.0,
        |point| {
            let felt = &point.felt;
            worsts.note(LawId::LetGoJerk, -point.jerk_m_s3, felt.speed_m_s);
            if !gone {
                // Drive was still there at the beginning of this step.
                let lasted_s = felt.time_s - let_go_s;
                gone = felt.motor_A < NO_CURRENT_A;
                let lasts_s = if gone { lasted_s - crate::plant::STEP_S } else { lasted_s };
                worsts.note(LawId::LetGoTime, lasts_s, felt.speed_m_s);
            }
            true
        },
    );
}

fn stop(board: &Standing, settings: &Settings, (speed_m_s, worsts): (f64, &mut Worsts)) {
    let mut trial = Trial::rolling(board, settings, speed_m_s);
    ride(
        &mut trial,
        STOP_LASTS_S,
        |_| -1.0,
        |point| {
            let felt = &point.felt;
            worsts.currents(point);
            let stands = felt.speed_m_s < STANDS_M_S;
            if !stands {
                worsts.note(LawId::BrakeAcceleration, -felt.acceleration_m_s2, felt.speed_m_s);
                worsts.note(LawId::BrakeJerk, -point.jerk_m_s3, felt.speed_m_s);
            }
            if felt.speed_m_s > STAYS_ABOVE_M_S {
                worsts.note(LawId::BrakeStays, point.jerk_m_s3, felt.speed_m_s);
            }
            !stands
        },
    );
    worsts.note(LawId::StoppingDistance, trial.distance_m(), speed_m_s);
}

/// Where more thumb is less push, by how much.
fn thumbs(board: &Standing, settings: &Settings, (speed_m_s, worsts): (f64, &mut Worsts)) {
    let drum = Drum::new(board, settings, speed_m_s);
    let mut most = f64::MIN;
    for at in -THUMBS..=THUMBS {
        let felt_m_s2 = drum.settled(f64::from(at) / f64::from(THUMBS)).felt_m_s2;
        worsts.note(LawId::MoreThumb, most - felt_m_s2, speed_m_s);
        most = most.max(felt_m_s2);
    }
}
