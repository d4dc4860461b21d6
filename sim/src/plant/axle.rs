//! One mass moved along the way for a step by pushes, friction and motors, with its energy kept.
//!
//! Used by `vehicle`: once for a board that rolls; once for the board and once for its wheels
//! where they slip. Forces act on the mean of the first and last speed of a stretch, so force
//! times way is exactly the change of kinetic energy. Air, eddy currents and back-EMF are straight
//! lines in that mean speed and solved with it (second order, and never swinging however light
//! the mass). A step in which the mass comes to rest is cut there.

pub(crate) mod drive;

use crate::plant::range::greater;
pub(crate) use drive::Drive;
use drive::Line;

/// A stretch ends at rest, and the next one may go the other way; there is no third.
const STRETCHES: usize = 3;

/// What acts on the mass besides its motors.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Load {
    pub(crate) mass_kg: f64,
    /// Force along the way at no speed, forward positive: hill, wind, contact.
    pub(crate) push_N: f64,
    /// What that force loses per speed, 0 or more.
    pub(crate) push_slope_N_s_m: f64,
    /// Greatest force that only ever resists: rolling, foot brake.
    pub(crate) friction_N: f64,
}

/// What became of it. Sums over the step; signed ones count forward positive.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Travel {
    pub(crate) end_m_s: f64,
    pub(crate) distance_m: f64,
    /// Way without its sign.
    pub(crate) path_m: f64,
    /// Mean speed times way.
    pub(crate) speed_way_m2_s: f64,
    /// Force that the gear passed to the wheels, times time.
    pub(crate) wheel_N_s: f64,
    /// What the motors' magnets gave (negative: took).
    pub(crate) magnet_J: f64,
    pub(crate) gear_J: f64,
    /// Current and its square, times time; current positive where it drives.
    pub(crate) current_A_s: f64,
    pub(crate) current_A2_s: f64,
}

/// How a mass goes through a stretch, in the frame of its own direction.
struct Course {
    mean_m_s: f64,
    current_A: f64,
}

impl Load {
    /// Moves the mass from `start_m_s` for `duration_s`.
    ///
    /// Nearly every step is one stretch in one direction; the others are left to a slower way.
    #[inline(always)]
    pub(crate) fn travel(&self, drive: &Drive, start_m_s: f64, duration_s: f64) -> Travel {
        let sense = if start_m_s < 0.0 { -1.0 } else { 1.0 };
        let start_size_m_s = start_m_s * sense;
        if start_size_m_s > 0.0 {
            let course = self.course(drive, sense, (start_size_m_s, duration_s));
            let end_m_s = 2.0 * course.mean_m_s - start_size_m_s;
            if end_m_s > 0.0 {
                return Travel::along(drive, &course, (sense, end_m_s), duration_s);
            }
        }
        self.travel_by_rest(drive, start_m_s, duration_s)
    }

    /// The same for a step that begins at rest or comes to it.
    #[inline(never)]
    fn travel_by_rest(&self, drive: &Drive, start_m_s: f64, duration_s: f64) -> Travel {
        let mut travel = Travel { end_m_s: start_m_s, ..Travel::default() };
        let mut left_s = duration_s;
        for _ in 0..STRETCHES {
            let sense = if travel.end_m_s > 0.0 {
                1.0
            } else if travel.end_m_s < 0.0 {
                -1.0
            } else if let Some(sense) = self.start(drive) {
                sense
            } else {
                travel.add(&self.rest(drive, left_s));
                break;
            };
            let (took_s, stretch) = self.stretch(drive, sense, (travel.end_m_s, left_s));
            travel.add(&stretch);
            left_s -= took_s;
            if left_s <= 0.0 {
                break;
            }
        }
        travel
    }

    /// The direction in which a resting mass sets off, if any.
    fn start(&self, drive: &Drive) -> Option<f64> {
        let beyond = |sense: f64| {
            sense * self.push_N - self.friction_N + drive.wheel_N(drive.still_A(sense))
        };
        if beyond(1.0) > 0.0 {
            Some(1.0)
        } else if beyond(-1.0) > 0.0 {
            Some(-1.0)
        } else {
            None
        }
    }

    /// Motors and wheels of a mass that stays where it is.
    fn rest(&self, drive: &Drive, left_s: f64) -> Travel {
        let (force_N, current_A) = drive.hold(self.push_N, self.friction_N);
        Travel {
            wheel_N_s: force_N * left_s,
            current_A_s: current_A * left_s,
            current_A2_s: current_A * current_A * left_s,
            ..Travel::default()
        }
    }

    /// Moves on in one direction, at most to rest; returns the time that took, too.
    fn stretch(&self, drive: &Drive, sense: f64, (start, left_s): (f64, f64)) -> (f64, Travel) {
        let start_m_s = start * sense;
        let mut course = self.course(drive, sense, (start_m_s, left_s));
        let end_m_s = 2.0 * course.mean_m_s - start_m_s;
        if end_m_s > 0.0 {
            return (left_s, Travel::along(drive, &course, (sense, end_m_s), left_s));
        }
        if start_m_s <= 0.0 {
            // The power limit left too little to set off.
            return (left_s, self.rest(drive, left_s));
        }
        course.mean_m_s = 0.5 * start_m_s;
        let shaft_N = drive.shaft_N(Line::level(course.current_A), course.mean_m_s);
        let force_N =
            sense * self.push_N - self.friction_N - self.push_slope_N_s_m * course.mean_m_s
                + drive.through_gear(shaft_N) * shaft_N;
        let stop_s = -self.mass_kg * start_m_s / force_N;
        let took_s = if stop_s > 0.0 && stop_s < left_s { stop_s } else { left_s };
        (took_s, Travel::along(drive, &course, (sense, 0.0), took_s))
    }

    /// Mean speed and current that fit each other and every limit.
    #[inline(always)]
    fn course(&self, drive: &Drive, sense: f64, (start_m_s, left_s): (f64, f64)) -> Course {
        let inertia = 2.0 / left_s * self.mass_kg;
        let gait = Gait {
            start_m_s,
            steady_N: inertia * start_m_s + sense * self.push_N - self.friction_N,
            slope_N_s_m: inertia + self.push_slope_N_s_m,
        };
        let target_A = drive.target_A(sense, start_m_s);
        let mean_m_s = gait.follow(drive, Line::level(target_A));
        // A mass that stops has gone half its first speed in the mean.
        let at_m_s = greater(mean_m_s, 0.5 * start_m_s);
        if drive.short_of_voltage(target_A, mean_m_s) || drive.short_of_power(target_A, at_m_s) {
            let (mean_m_s, current_A) = gait.limited(drive, target_A, mean_m_s);
            return Course { mean_m_s, current_A };
        }
        Course { mean_m_s, current_A: target_A }
    }
}

impl Travel {
    /// One stretch in the direction `sense`, which ends at the speed `end_m_s` in its own frame.
    #[inline(always)]
    fn along(drive: &Drive, course: &Course, (sense, end_m_s): (f64, f64), took_s: f64) -> Self {
        let Course { mean_m_s, current_A } = *course;
        let shaft_N = drive.shaft_N(Line::level(current_A), mean_m_s);
        let wheel_N = drive.through_gear(shaft_N) * shaft_N;
        let way_m = mean_m_s * took_s;
        Self {
            end_m_s: end_m_s * sense,
            distance_m: way_m * sense,
            path_m: way_m,
            speed_way_m2_s: mean_m_s * way_m,
            wheel_N_s: wheel_N * sense * took_s,
            magnet_J: drive.force_N_A * current_A * way_m,
            gear_J: (shaft_N - wheel_N) * way_m,
            current_A_s: current_A * took_s,
            current_A2_s: current_A * current_A * took_s,
        }
    }

    /// Goes on with a later part of the step.
    fn add(&mut self, later: &Self) {
        self.end_m_s = later.end_m_s;
        self.distance_m += later.distance_m;
        self.path_m += later.path_m;
        self.speed_way_m2_s += later.speed_way_m2_s;
        self.wheel_N_s += later.wheel_N_s;
        self.magnet_J += later.magnet_J;
        self.gear_J += later.gear_J;
        self.current_A_s += later.current_A_s;
        self.current_A2_s += later.current_A2_s;
    }
}

/// A stretch's equation of motion, in the frame of its own direction: the mean speed is the sum
/// of all forces that do not depend on it over the slope of those that do.
struct Gait {
    start_m_s: f64,
    steady_N: f64,
    slope_N_s_m: f64,
}

impl Gait {
    /// The mean speed with a given line of current.
    #[inline(always)]
    fn follow(&self, drive: &Drive, line: Line) -> f64 {
        let fixed_N = drive.shaft_N(line, 0.0);
        let slope_N_s_m = drive.shaft_slope_N_s_m(line);
        let mean =
            |gear: f64| (self.steady_N + gear * fixed_N) / (self.slope_N_s_m + gear * slope_N_s_m);
        let guess = drive.through_gear(fixed_N - slope_N_s_m * self.start_m_s);
        let mean_m_s = mean(guess);
        let fitting = drive.through_gear(fixed_N - slope_N_s_m * mean_m_s);
        // The force is a falling line with one kink, so just one of the two gears fits.
        if (fitting > 1.0) == (guess > 1.0) { mean_m_s } else { mean(fitting) }
    }

    /// Mean speed and current where voltage or power do not suffice for `target_A`.
    ///
    /// A pair, since it comes back in registers: a structure in memory costs the usual way a stall.
    #[inline(never)]
    fn limited(&self, drive: &Drive, target_A: f64, mut mean_m_s: f64) -> (f64, f64) {
        let mut line = Line::level(target_A);
        if drive.short_of_voltage(target_A, mean_m_s) {
            line = drive.headroom();
            mean_m_s = self.follow(drive, line);
        }
        let half_m_s = 0.5 * self.start_m_s;
        if mean_m_s >= half_m_s {
            let current_A = line.at(mean_m_s);
            if drive.short_of_power(current_A, mean_m_s) {
                return self.at_full_power(drive);
            }
            return (mean_m_s, current_A);
        }
        // It stops; all is as at half the first speed.
        let mut current_A = line.at(half_m_s);
        if drive.short_of_power(current_A, half_m_s) {
            current_A = drive.capped_A(half_m_s, 0.0);
        }
        (self.follow(drive, Line::level(current_A)), current_A)
    }

    /// Mean speed and current with which the motors take just the allowed power.
    fn at_full_power(&self, drive: &Drive) -> (f64, f64) {
        // Mean speed is a line in the current, so their product with the back-EMF is a parabola.
        let with = |gear: f64| {
            let per_slope = 1.0 / (self.slope_N_s_m + gear * drive.eddy_N_s_m);
            let idle_m_s = (self.steady_N - gear * drive.hysteresis_N) * per_slope;
            let per_A = gear * drive.force_N_A * per_slope;
            let current_A = drive.capped_A(idle_m_s, per_A);
            (idle_m_s + per_A * current_A, current_A)
        };
        let (mean_m_s, current_A) = with(drive.gear_efficiency);
        if drive.shaft_N(Line::level(current_A), mean_m_s) > 0.0 {
            return (mean_m_s, current_A);
        }
        with(drive.gear_increase)
    }
}
