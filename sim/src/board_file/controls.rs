//! Thumb, throttle, brake and paces of a board file: what the thumb may do.
//!
//! Used by `reader`. All keys have a default, so that a board file without these sections rides.

use homestretch::board::Board;
use homestretch::throttle::curve::USUAL_BLEND;
use homestretch::throttle::{
    Band, BatteryLimits, BrakeSettings, Calibration, Counts, Curves, Error, Handle, LimitSettings,
    Pace, Paces, Parts, Quantity, RateSettings, Settings, Shape, Tuning, TuningError, USUAL_BRAKE,
    USUAL_DRIVE,
};
use homestretch::time::Duration;
use homestretch::units::{
    Amperes, Celsius, MetresPerSecond, MetresPerSecondCubed, MetresPerSecondSquared, Ratio, Volts,
};

use super::control_keys::{self, CONTROL_KEYS};
use super::document::{Document, dotted};
use super::fault::Refused;

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
const FULL_CURRENT: MetresPerSecondSquared = MetresPerSecondSquared::from_milli(3500);

/// 25 km/h, where the file does not say. Local law decides.
const TOP_SPEED: MetresPerSecond = MetresPerSecond::from_whole(7);

/// Speeds between which drive comes where the board is to be pushed first: from a shuffle to a walk.
/// No source.
const PUSHED: Band<MetresPerSecond> =
    Band { begin: MetresPerSecond::from_milli(300), end: MetresPerSecond::from_milli(800) };

/// What the thumb may do, and what its paces are called.
pub(super) struct Controls {
    pub(super) tuning: Tuning,
    pub(super) settings: Settings,
    pub(super) paces: Vec<String>,
}

/// What the file says about thumb and throttle; faults are noted in the document.
pub(super) fn read(document: &Document<'_>, board: Option<&Board>) -> Option<Controls> {
    // All keys are read before anything is given up, so that all faults are told at once.
    let keys = Keys { document };
    let calibration = calibration(document);
    let paces = paces(document);
    let full = keys.value("throttle", "full_current_m_s2", to_acceleration).unwrap_or(FULL_CURRENT);
    let top_speed =
        keys.value("throttle", "top_speed_m_s", MetresPerSecond::from_f64).unwrap_or(TOP_SPEED);
    let (curves, rates, changes) = (keys.curves(full), keys.rates(), keys.changes());
    let (calibration, board) = (calibration?, board?);
    let made = Settings::of_board(calibration, board, top_speed, full);
    let usual = *made.map_err(|error| keys.refuse(&error)).ok()?.parts();
    let ((names, paces), (drive, brake)) = (paces?, curves?);
    let shaped = |shape: &Shape| shape.curve().map_err(|error| keys.refuse(&error)).ok();
    let curves = Curves { drive: shaped(&drive)?, brake: shaped(&brake)? };
    let parts = changes.applied(Parts { curves, rates, paces, ..usual });
    let tuning = Tuning::of(board, &parts, drive, brake);
    let refuse = |error: TuningError| {
        if let TuningError::Refused(error) = error {
            keys.refuse(&error);
        } else {
            document.miss(format!("throttle: {error}"));
        }
    };
    let settings = tuning.settings(board).map_err(refuse).ok()?;
    Some(Controls { tuning, settings, paces: names })
}

fn to_acceleration(value: f64) -> Option<MetresPerSecondSquared> {
    MetresPerSecondSquared::from_f64(value)
}

fn to_duration(seconds: f64) -> Option<Duration> {
    let micros = (seconds * 1e6).round();
    format!("{micros:.0}").parse().ok().map(Duration::from_micros)
}

/// What is changed of the usual settings.
struct Changes {
    brake: [Option<MetresPerSecondSquared>; 4],
    charge: Option<Amperes>,
    heat: [Option<Celsius>; 4],
    reserve: [Option<Ratio>; 3],
    reserve_speed: Option<MetresPerSecond>,
    taper_to: Option<Ratio>,
    stuck_after: Option<Duration>,
    battery: [Option<Volts>; 2],
    push_start: bool,
    reverse: bool,
}

impl Changes {
    fn applied(self, usual: Parts) -> Parts {
        let limits = usual.limits;
        let [stop_with, beside_motors, without_charging, silent] = self.brake;
        let [motor_from, motor_to, controller_from, controller_to] = self.heat;
        let [reserve_from, reserve_to, reserve_drive] = self.reserve;
        let [warn_below, walk_below] = self.battery;
        Parts {
            limits: LimitSettings {
                hot_motor: band(limits.hot_motor, motor_from, motor_to),
                hot_controller: band(limits.hot_controller, controller_from, controller_to),
                reserve: band(limits.reserve, reserve_from, reserve_to),
                reserve_drive: reserve_drive.unwrap_or(limits.reserve_drive),
                reserve_speed: self.reserve_speed.unwrap_or(limits.reserve_speed),
                taper_drive: self.taper_to.unwrap_or(limits.taper_drive),
                push_start: self.push_start.then_some(PUSHED),
                brake: BrakeSettings {
                    charge_current: self.charge.unwrap_or(limits.brake.charge_current),
                    stop_with: stop_with.unwrap_or(limits.brake.stop_with),
                    beside_motors: beside_motors.unwrap_or(limits.brake.beside_motors),
                    without_charging: without_charging.unwrap_or(limits.brake.without_charging),
                    ..limits.brake
                },
                ..limits
            },
            reverse: self.reverse,
            stuck_after: self.stuck_after.unwrap_or(usual.stuck_after),
            silent_brake: silent
                .unwrap_or_else(|| usual.silent_brake.min(usual.curves.brake.greatest())),
            hand_battery: BatteryLimits {
                warn_below: warn_below.unwrap_or(usual.hand_battery.warn_below),
                walk_below: walk_below.unwrap_or(usual.hand_battery.walk_below),
            },
            ..usual
        }
    }
}

/// A band with other ends, where they are given.
fn band<T>(usual: Band<T>, begin: Option<T>, end: Option<T>) -> Band<T> {
    Band { begin: begin.unwrap_or(usual.begin), end: end.unwrap_or(usual.end) }
}

/// Numbers by their key.
struct Keys<'d, 't> {
    document: &'d Document<'t>,
}

impl Keys<'_, '_> {
    /// The quantity of a key; nothing where it is not given, or out of its range, which is noted.
    fn value<T>(
        &self,
        section: &'static str,
        name: &'static str,
        to: impl Fn(f64) -> Option<T>,
    ) -> Option<T> {
        let range = control_keys::of(section, name).map_or((f64::MIN, f64::MAX), |key| key.range);
        to(self.document.bounded(section, name, range)?)
    }

    fn rates(&self) -> RateSettings {
        let usual = RateSettings::standard();
        let jerk = |name, usual| {
            self.value("throttle", name, MetresPerSecondCubed::from_f64).unwrap_or(usual)
        };
        let time = |name, usual| self.value("throttle", name, to_duration).unwrap_or(usual);
        RateSettings {
            drive_on: jerk("drive_on_m_s3", usual.drive_on),
            drive_off_within: time("drive_off_s", usual.drive_off_within),
            brake_on: jerk("brake_on_m_s3", usual.brake_on),
            brake_off: jerk("brake_off_m_s3", usual.brake_off),
            brake_ease: jerk("brake_ease_m_s3", usual.brake_ease),
            pause: time("pause_s", usual.pause),
        }
    }

    fn changes(&self) -> Changes {
        let flag = |name| self.document.flag("throttle", name).unwrap_or(false);
        Changes {
            brake: ["stop_with_m_s2", "beside_motors_m_s2", "without_charging_m_s2", "silent_m_s2"]
                .map(|name| self.value("brake", name, to_acceleration)),
            charge: self.value("brake", "charge_A", Amperes::from_f64),
            heat: [
                "motor_from_degC",
                "motor_to_degC",
                "controller_from_degC",
                "controller_to_degC",
            ]
            .map(|name| self.value("heat", name, Celsius::from_f64)),
            reserve: ["from", "to", "drive"]
                .map(|name| self.value("reserve", name, Ratio::from_f64)),
            reserve_speed: self.value("reserve", "speed_m_s", MetresPerSecond::from_f64),
            taper_to: self.value("throttle", "taper_to", Ratio::from_f64),
            stuck_after: self.value("thumb", "stuck_after_s", to_duration),
            battery: ["warn_below_V", "walk_below_V"]
                .map(|name| self.value("handheld", name, Volts::from_f64)),
            push_start: flag("push_start"),
            reverse: flag("reverse"),
        }
    }

    /// The curves' shapes: through handles, or the usual one, with another end or softness.
    fn curves(&self, full: MetresPerSecondSquared) -> Option<(Shape, Shape)> {
        let softness = self.value("throttle", "softness", Ratio::from_f64).unwrap_or(USUAL_BLEND);
        let drive = self.curve("drive_curve", ("full_drive_m_s2", USUAL_DRIVE.min(full)), softness);
        let brake = self.curve("brake_curve", ("full_brake_m_s2", USUAL_BRAKE.min(full)), softness);
        drive.zip(brake)
    }

    fn curve(
        &self,
        list: &'static str,
        (end, usual): (&'static str, MetresPerSecondSquared),
        blend: Ratio,
    ) -> Option<Shape> {
        let greatest = self.value("throttle", end, to_acceleration);
        if !self.document.has("throttle", list) {
            return Some(Shape::Blended { blend, greatest: greatest.unwrap_or(usual) });
        }
        let (handles, line) = self.document.pairs("throttle", list)?;
        if greatest.is_some() {
            let what = format!("throttle.{end} has no meaning beside throttle.{list}");
            self.document.blame(line, what);
        }
        through(&handles).map_err(|error| self.refuse_handles((list, line), &error)).ok()
    }

    /// Says which handle of a list the library refuses, and what would do.
    fn refuse_handles(&self, (list, line): (&str, usize), error: &Error) {
        let key = format!("throttle.{list}");
        let Error::OutOfRange { quantity, given, lowest, highest } = error else {
            self.document.blame(line, format!("{key}: {error}"));
            return;
        };
        let (name, unit, scale) = if let Quantity::HandleThumb(number) = quantity {
            (format!("the thumb of handle {}", u32::from(*number) + 1), "", 1000.0)
        } else if let Quantity::HandleAcceleration(number) = quantity {
            (format!("handle {}", u32::from(*number) + 1), " m/s2", 1000.0)
        } else {
            // How many there are is all that is left to refuse.
            ("the number of handles".to_owned(), "", 1.0)
        };
        let [given, lowest, highest] =
            [given, lowest, highest].map(|bits| f64::from(*bits) / scale);
        let what = format!("{key}: {name} is {given}{unit}; {lowest} to {highest} is allowed");
        let allowed = Some((lowest, highest));
        self.document.refuse(Some(line), what, Refused { key, given: Some(given), allowed });
    }

    /// Names what the library refuses by its key and its line, where a key sets it.
    fn refuse(&self, error: &Error) {
        if let Error::OutOfRange { quantity: Quantity::GreatestAcceleration, given, .. } = error {
            self.document.miss(format!(
                "throttle: a curve ends at {} m/s2, which is not within 0.1 and full_current_m_s2",
                f64::from(*given) / 1000.0
            ));
            return;
        }
        let found = match error {
            Error::OutOfRange { quantity, given, lowest, highest } => CONTROL_KEYS
                .iter()
                .find(|key| key.quantity == *quantity)
                .map(|key| (key, given, lowest, highest)),
            _ => None,
        };
        let Some((key, given, lowest, highest)) = found else {
            self.document.miss(format!("throttle: {error}"));
            return;
        };
        let [given, lowest, highest] =
            [given, lowest, highest].map(|value| f64::from(*value) / 1000.0);
        let line = self.document.find(key.section, key.key).map(|found| found.line);
        let key = dotted(key.section, key.key);
        let what = format!(
            "{key} is {given}; beside the rest of the file {lowest} to {highest} is allowed"
        );
        let allowed = Some((lowest, highest));
        self.document.refuse(line, what, Refused { key, given: Some(given), allowed });
    }
}

fn through(handles: &[(f64, f64)]) -> Result<Shape, Error> {
    let handles: Vec<_> = handles
        .iter()
        .map(|&(thumb, acceleration)| Handle {
            thumb: Ratio::from_f64(thumb).unwrap_or(Ratio::MAX),
            acceleration: to_acceleration(acceleration).unwrap_or(MetresPerSecondSquared::MAX),
        })
        .collect();
    Shape::through(&handles)
}

/// The paces and their names, where the file has any; ours otherwise.
fn paces(document: &Document<'_>) -> Option<(Vec<String>, Paces)> {
    let Some(given) = document.tables("pace", &["name", "drive", "top_speed_m_s"]) else {
        let names = ["all of it", "amble", "walk home"].map(str::to_owned).to_vec();
        return Some((names, Paces::default()));
    };
    let (mut names, mut paces, mut fine) = (Vec::new(), Vec::new(), true);
    for (number, table) in given.iter().enumerate() {
        let text = table.text("name").unwrap_or_else(|| format!("pace {}", number + 1));
        let mut number = |key: &str, usual: f64, (lowest, highest): (f64, f64)| {
            let value = table.number(key).unwrap_or(usual);
            if !(lowest..=highest).contains(&value) {
                let what = format!("pace.{key} is {value}; {lowest} to {highest} is allowed");
                document.blame(table.line, what);
                fine = false;
            }
            value
        };
        let drive = number("drive", 1.0, (0.1, 1.0));
        let top_speed = number("top_speed_m_s", 40.0, (1.7, 40.0));
        paces.push(Pace {
            drive: Ratio::from_f64(drive).unwrap_or(Ratio::ONE),
            top_speed: MetresPerSecond::from_f64(top_speed).unwrap_or(TOP_SPEED),
        });
        names.push(text);
    }
    if !fine {
        return None;
    }
    let line = given.first().map_or(1, |table| table.line);
    let made = Paces::new(&paces);
    made.map_err(|error| document.blame(line, format!("pace: {error}")))
        .ok()
        .map(|paces| (names, paces))
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
