//! The motors as the mass feels them for one step: force per ampere, drag, and the limits.
//!
//! Filled by `vehicle`, used by `axle`. Currents count all motors together. They are positive
//! where they push in the direction of motion, which is not the same as forward.

/// A current that falls with speed: `at_rest_A` less `slope_A_s_m` per m/s.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Line {
    pub(crate) at_rest_A: f64,
    pub(crate) slope_A_s_m: f64,
}

impl Line {
    #[inline]
    pub(crate) fn level(current_A: f64) -> Self {
        Self { at_rest_A: current_A, slope_A_s_m: 0.0 }
    }

    #[inline]
    pub(crate) fn at(self, speed_m_s: f64) -> f64 {
        self.at_rest_A - self.slope_A_s_m * speed_m_s
    }
}

/// All motors and their gear, at the contact between wheel and road.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Drive {
    /// Force per ampere, which is also back-EMF per speed.
    pub(crate) force_N_A: f64,
    /// Resistance that all motors and controllers in parallel have.
    pub(crate) resistance_ohm: f64,
    /// Iron drag at any speed.
    pub(crate) hysteresis_N: f64,
    /// Iron drag per speed.
    pub(crate) eddy_N_s_m: f64,
    pub(crate) gear_efficiency: f64,
    /// Its reciprocal, so that no step divides.
    pub(crate) gear_increase: f64,
    /// Voltage of the pack without current.
    pub(crate) emf_V: f64,
    /// `resistance_ohm` and the pack's: at full voltage the pack's current is the motors'.
    pub(crate) loop_ohm: f64,
    /// What is asked for: current that pushes forward, or current that opposes motion.
    pub(crate) forward_A: f64,
    pub(crate) brake_A: f64,
    /// Power that the motors may take and give.
    pub(crate) out_W: f64,
    pub(crate) in_W: f64,
}

impl Drive {
    /// No motor at all: the body of a board whose wheels slip.
    pub(crate) const NONE: Self = Self {
        force_N_A: 0.0,
        resistance_ohm: 1.0,
        hysteresis_N: 0.0,
        eddy_N_s_m: 0.0,
        gear_efficiency: 1.0,
        gear_increase: 1.0,
        emf_V: 1.0,
        loop_ohm: 1.0,
        forward_A: 0.0,
        brake_A: 0.0,
        out_W: 0.0,
        in_W: 0.0,
    };

    /// Force of the shaft where the current is `line` and the speed is `speed_m_s`.
    #[inline]
    pub(crate) fn shaft_N(&self, line: Line, speed_m_s: f64) -> f64 {
        self.force_N_A * line.at_rest_A
            - self.hysteresis_N
            - self.shaft_slope_N_s_m(line) * speed_m_s
    }

    /// What that force loses per speed.
    #[inline]
    pub(crate) fn shaft_slope_N_s_m(&self, line: Line) -> f64 {
        self.force_N_A * line.slope_A_s_m + self.eddy_N_s_m
    }

    /// Wheel force per shaft force: less where the motor drives, more where it holds back.
    #[inline]
    pub(crate) fn through_gear(&self, shaft_N: f64) -> f64 {
        if shaft_N > 0.0 { self.gear_efficiency } else { self.gear_increase }
    }

    /// Wheel force of a motor that is just about to turn.
    pub(crate) fn wheel_N(&self, current_A: f64) -> f64 {
        let shaft_N = self.force_N_A * current_A - self.hysteresis_N;
        self.through_gear(shaft_N) * shaft_N
    }

    /// The current to aim at when moving at `speed_m_s` in the direction `sense`; the limits of
    /// a driving current are kept by [`Self::short_of_voltage`] and
    /// [`Self::short_of_power`].
    #[inline]
    pub(crate) fn target_A(&self, sense: f64, speed_m_s: f64) -> f64 {
        let asked_A = sense * self.forward_A - self.brake_A;
        if asked_A >= 0.0 {
            return asked_A;
        }
        let size_A = self.still_size_A(-asked_A);
        let back_V = self.force_N_A * speed_m_s;
        if (back_V - self.resistance_ohm * size_A) * size_A <= self.in_W {
            return -size_A;
        }
        // The lesser of the two currents at which just the allowed power is given back.
        let under = back_V * back_V - 4.0 * self.resistance_ohm * self.in_W;
        -(2.0 * self.in_W / (back_V + under.max(0.0).sqrt()))
    }

    /// The current of motors that do not turn, about to turn in the direction `sense`.
    pub(crate) fn still_A(&self, sense: f64) -> f64 {
        let asked_A = sense * self.forward_A - self.brake_A;
        let size_A = self.still_size_A(asked_A.abs());
        if asked_A < 0.0 { -size_A } else { size_A }
    }

    /// The part of a current that voltage and power allow at standstill.
    #[inline]
    fn still_size_A(&self, asked_A: f64) -> f64 {
        let mut size_A = asked_A;
        if size_A * self.loop_ohm > self.emf_V {
            size_A = self.emf_V / self.loop_ohm;
        }
        if self.resistance_ohm * size_A * size_A <= self.out_W {
            return size_A;
        }
        (self.out_W / self.resistance_ohm).sqrt()
    }

    /// Whether the pack's voltage cannot drive `current_A` against the back-EMF.
    #[inline]
    pub(crate) fn short_of_voltage(&self, current_A: f64, speed_m_s: f64) -> bool {
        self.force_N_A * speed_m_s + self.loop_ohm * current_A > self.emf_V
    }

    /// The greatest current that the pack's voltage drives against the back-EMF. Below zero the
    /// switches' diodes conduct by themselves: no controller stops that.
    pub(crate) fn headroom(&self) -> Line {
        let per_ohm = 1.0 / self.loop_ohm;
        Line { at_rest_A: self.emf_V * per_ohm, slope_A_s_m: self.force_N_A * per_ohm }
    }

    /// Whether a driving current takes more power than allowed.
    #[inline]
    pub(crate) fn short_of_power(&self, current_A: f64, speed_m_s: f64) -> bool {
        let voltage_V = self.force_N_A * speed_m_s + self.resistance_ohm * current_A;
        current_A > 0.0 && voltage_V * current_A > self.out_W
    }

    /// The current at which just the allowed power is taken, where the speed is `idle_m_s` and
    /// grows by `per_A` with each ampere.
    pub(crate) fn capped_A(&self, idle_m_s: f64, per_A: f64) -> f64 {
        let back_V = self.force_N_A * idle_m_s;
        let ohm = self.resistance_ohm + self.force_N_A * per_A;
        let divisor = back_V + (back_V * back_V + 4.0 * ohm * self.out_W).sqrt();
        if divisor > 0.0 { 2.0 * self.out_W / divisor } else { 0.0 }
    }

    /// Wheel force (forward positive) and current (driving positive) of motors that do not turn
    /// under a push which they and `friction_N` can withstand.
    ///
    /// A brake takes as much current as it needs: the gear's own friction and the iron help it.
    /// A drive too weak to start takes all that was asked for.
    pub(crate) fn hold(&self, push_N: f64, friction_N: f64) -> (f64, f64) {
        if self.forward_A > 0.0 {
            let current_A = self.still_A(1.0);
            let magnet_N = self.force_N_A * current_A;
            let least_N = self.wheel_N(current_A);
            let most_N = (magnet_N + self.hysteresis_N) * self.gear_increase;
            return ((-push_N).max(least_N).min(most_N), current_A);
        }
        let need_N = (push_N.abs() - friction_N).max(0.0);
        let force_N = if push_N > 0.0 { -need_N } else { need_N };
        let shaft_N = (need_N * self.gear_efficiency - self.hysteresis_N).max(0.0);
        let most_A = self.still_size_A(self.brake_A);
        let current_A = if self.force_N_A > 0.0 { shaft_N / self.force_N_A } else { 0.0 };
        (force_N, -current_A.min(most_A))
    }
}
