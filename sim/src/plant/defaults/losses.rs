//! Sharing out what a builder's efficiency leaves to iron and gear.
//!
//! Used by `defaults`. Steady driving on the level at one speed; all at the contact between wheel
//! and road.

/// Iron loss at no-load speed as a motor current over the greatest one: common practice for
/// motors of this kind, no source.
const NO_LOAD_SHARE: f64 = 0.02;

/// Share of it that is hysteresis at no-load speed, the rest being eddy currents: no source, an
/// even split.
const HYSTERESIS_SHARE: f64 = 0.5;

/// Iron takes at most this share of all losses at the cruise, so that an efficient board gets
/// better iron rather than a gear that gives energy. A choice.
const IRON_OF_LOSSES: f64 = 0.4;

/// Gears that exist: worn belts and chains at the low end, a hub motor's bearings at the high one.
/// Common practice, no source.
const GEAR_EFFICIENCY: (f64, f64) = (0.75, 0.99);

/// Steady driving.
pub(super) struct Cruise {
    pub(super) speed_m_s: f64,
    pub(super) load_N: f64,
    pub(super) force_N_A: f64,
    pub(super) resistance_ohm: f64,
    pub(super) idle_W: f64,
}

/// Iron drag at the contact.
pub(super) struct Iron {
    pub(super) hysteresis_N: f64,
    pub(super) eddy_N_s_m: f64,
}

impl Iron {
    fn drag_N(&self, speed_m_s: f64) -> f64 {
        self.hysteresis_N + self.eddy_N_s_m * speed_m_s
    }
}

impl Cruise {
    /// The usual iron of motors with this greatest current (together), or less where the
    /// efficiency leaves less.
    pub(super) fn iron(&self, efficiency: f64, no_load_m_s: f64, peak_A: f64) -> Iron {
        let usual_N = NO_LOAD_SHARE * peak_A * self.force_N_A;
        let usual = Iron {
            hysteresis_N: HYSTERESIS_SHARE * usual_N,
            eddy_N_s_m: (1.0 - HYSTERESIS_SHARE) * usual_N / no_load_m_s,
        };
        let losses_N = self.load_N * (1.0 / efficiency - 1.0);
        let share = (IRON_OF_LOSSES * losses_N / usual.drag_N(self.speed_m_s)).min(1.0);
        Iron { hysteresis_N: share * usual.hysteresis_N, eddy_N_s_m: share * usual.eddy_N_s_m }
    }

    /// Road power over battery power with that iron and gear.
    pub(super) fn efficiency(&self, iron: &Iron, gear_efficiency: f64) -> f64 {
        let magnet_N = self.load_N / gear_efficiency + iron.drag_N(self.speed_m_s);
        let current_A = magnet_N / self.force_N_A;
        let battery_W =
            magnet_N * self.speed_m_s + self.resistance_ohm * current_A * current_A + self.idle_W;
        self.load_N * self.speed_m_s / battery_W
    }
}

/// The gear efficiency with which the whole meets `asked`, or the nearest that a gear can have.
pub(super) fn gear_efficiency(cruise: &Cruise, iron: &Iron, asked: f64) -> f64 {
    let (least, most) = GEAR_EFFICIENCY;
    let motor_W = cruise.load_N * cruise.speed_m_s / asked - cruise.idle_W;
    if motor_W <= 0.0 {
        return most;
    }
    // R I^2 + k v I = P, by the form of the root that stays exact for a small R.
    let back_V = cruise.force_N_A * cruise.speed_m_s;
    let root_V = (back_V * back_V + 4.0 * cruise.resistance_ohm * motor_W).sqrt();
    let current_A = 2.0 * motor_W / (back_V + root_V);
    let shaft_N = cruise.force_N_A * current_A - iron.drag_N(cruise.speed_m_s);
    if shaft_N <= 0.0 {
        return most;
    }
    (cruise.load_N / shaft_N).clamp(least, most)
}
