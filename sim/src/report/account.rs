//! What a synthetic ride cost and came to in truth: energy by where it went, range, violations.
//!
//! Fed by `cli` with each telemetry frame; reads the plant, never the handheld.

use std::fmt;

use serde_json::{Map, Value, json};

use crate::world::{Ending, Refusals, World};

/// A ride has begun when the board has come so far.
const SET_OUT_M: f64 = 1.0;

/// Joules in a watt-hour.
const J_PER_WH: f64 = 3600.0;

/// The account of one ride.
#[derive(Clone, Debug)]
pub struct Account {
    soc_before: f64,
    soc_after: f64,
    ending: Option<Ending>,
    interrupted: bool,
    simulated_s: f64,
    distance_m: f64,
    top_speed_m_s: f64,
    hottest_cell_degC: f64,
    hottest_motor_degC: f64,
    /// By where it went, in watt-hours, in the order of the way from the cells to the road.
    energy_Wh: Vec<(&'static str, f64)>,
    terminal_Wh: f64,
    violations: Vec<(&'static str, u32, f64)>,
    lockouts: u32,
    /// By the hand and by the board.
    refused: [Refusals; 2],
    /// The speed that the handheld allowed before the ride, where that was less than the pace's, and
    /// the pace's.
    before_m_s: Option<(f64, f64)>,
    set_out: bool,
}

impl Account {
    /// Before the ride.
    #[must_use]
    pub fn new(world: &World<'_>) -> Self {
        Self {
            soc_before: world.true_soc(),
            soc_after: world.true_soc(),
            ending: None,
            interrupted: false,
            simulated_s: 0.0,
            distance_m: 0.0,
            top_speed_m_s: 0.0,
            hottest_cell_degC: world.pack().hottest_degC(),
            hottest_motor_degC: world.vehicle().winding_degC(),
            energy_Wh: Vec::new(),
            terminal_Wh: 0.0,
            violations: Vec::new(),
            lockouts: 0,
            refused: Default::default(),
            before_m_s: None,
            set_out: false,
        }
    }

    /// Now and then during the ride, each telemetry frame for instance.
    pub fn note(&mut self, world: &World<'_>) {
        if !self.set_out {
            self.set_out = world.vehicle().distance_m() > SET_OUT_M;
            let (allowed, top) = world.speed_limits_m_s();
            self.before_m_s = Some((allowed, top))
                .filter(|(allowed, top)| *allowed > 0.0 && allowed + 0.05 < *top);
        }
        self.top_speed_m_s = self.top_speed_m_s.max(world.vehicle().speed_m_s());
        self.hottest_cell_degC = self.hottest_cell_degC.max(world.pack().hottest_degC());
        self.hottest_motor_degC = self.hottest_motor_degC.max(world.vehicle().winding_degC());
    }

    /// After the ride.
    pub fn finish(&mut self, world: &World<'_>, interrupted: bool) {
        self.soc_after = world.true_soc();
        self.ending = world.ending();
        self.interrupted = interrupted;
        self.simulated_s = world.now_s();
        self.distance_m = world.vehicle().distance_m();
        let (pack, vehicle) = (world.pack().energy(), world.vehicle().ledger());
        self.terminal_Wh = pack.terminal_J / J_PER_WH;
        let in_pack_J = pack.chemical_J - pack.terminal_J - pack.stored_J;
        self.energy_Wh = [
            ("cells and wiring", in_pack_J),
            ("motor controller", vehicle.controller_J),
            ("copper of the motors", vehicle.copper_J),
            ("iron of the motors", vehicle.iron_J),
            ("gear", vehicle.gear_J),
            ("rolling", vehicle.rolling_J),
            ("air", vehicle.air_J),
            ("slip of the wheels", vehicle.slip_J),
            ("foot brake", vehicle.foot_brake_J),
            ("height gained", vehicle.potential_J),
            ("speed gained", vehicle.kinetic_J),
        ]
        .into_iter()
        .map(|(name, joules)| (name, joules / J_PER_WH))
        .collect();
        self.lockouts = world.lockouts();
        self.refused = world.refused();
        let violations = world.violations();
        self.violations = violations
            .iter()
            .zip(violations.seconds())
            .map(|((kind, count), (_, seconds))| (kind.name(), count, seconds))
            .collect();
    }

    fn how_it_ended(&self) -> &'static str {
        match (self.ending, self.interrupted) {
            (Some(ending), _) => ending.name(),
            (None, true) => "interrupted",
            (None, false) => "under_way",
        }
    }

    fn consumption_Wh_km(&self) -> Option<f64> {
        (self.distance_m > 1.0).then(|| self.terminal_Wh / (self.distance_m / 1000.0))
    }

    /// As a JSON object; `wall_s` is how long it took.
    #[must_use]
    pub fn json(&self, seed: u64, wall_s: f64) -> Value {
        let energy: Map<_, _> = self
            .energy_Wh
            .iter()
            .map(|(name, wh)| (name.replace(", ", "_").replace(' ', "_"), json!(wh)))
            .collect();
        let by_name = |value: fn(u32, f64) -> Value| -> Map<_, _> {
            let named = self.violations.iter();
            named.map(|(name, count, s)| ((*name).to_owned(), value(*count, *s))).collect()
        };
        let violations = by_name(|count, _| json!(count));
        let lasted = by_name(|_, seconds| json!(seconds));
        let [by_hand, by_board] = self.refused.map(|refused| -> Map<_, _> {
            refused.named().map(|(name, count)| (name.to_owned(), json!(count))).collect()
        });
        json!({
            "seed": seed,
            "ending": self.how_it_ended(),
            "simulated_s": self.simulated_s,
            "wall_s": wall_s,
            "realtime_factor": self.simulated_s / wall_s.max(1e-9),
            "true_distance_km": self.distance_m / 1000.0,
            "true_soc_at_start": self.soc_before,
            "true_soc_at_end": self.soc_after,
            "true_consumption_Wh_km": self.consumption_Wh_km(),
            "top_speed_m_s": self.top_speed_m_s,
            "hottest_cell_degC": self.hottest_cell_degC,
            "hottest_motor_degC": self.hottest_motor_degC,
            "energy_from_pack_Wh": self.terminal_Wh,
            "energy_Wh": energy,
            "lockouts": self.lockouts,
            "frames_refused": { "by_hand": by_hand, "by_board": by_board },
            "speed_limit_before_riding_m_s": self.before_m_s.map(|(allowed, _)| allowed),
            "violations": violations,
            "violations_s": lasted,
        })
    }
}

impl fmt::Display for Account {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let how = match (self.ending, self.interrupted) {
            (Some(Ending::Arrived), _) => "arrived",
            (Some(Ending::NoDriveLeft), _) => "no drive left in the pack",
            (Some(Ending::Stuck), _) => {
                "stuck, the pack not empty (too steep, too heavy, or motors too weak),"
            }
            (None, true) => "interrupted",
            (None, false) => "still under way",
        };
        writeln!(
            f,
            "  in truth: {how} after {:.2} km, charge {:.1} % to {:.1} %, fastest {:.1} km/h, cells up to {:.0} degC, motors {:.0} degC",
            self.distance_m / 1000.0,
            self.soc_before * 100.0,
            self.soc_after * 100.0,
            self.top_speed_m_s * 3.6,
            self.hottest_cell_degC,
            self.hottest_motor_degC
        )?;
        if let Some(per_km) = self.consumption_Wh_km() {
            writeln!(
                f,
                "  {:.1} Wh out of the pack, {per_km:.1} Wh/km; {:.1} Wh out of the cells, of which, in Wh:",
                self.terminal_Wh,
                self.energy_Wh.iter().map(|(_, wh)| wh).sum::<f64>()
            )?;
            for (name, wh) in self.energy_Wh.iter().filter(|(_, wh)| wh.abs() >= 0.05) {
                writeln!(f, "    {wh:7.1}  {name}")?;
            }
        }
        if let Some((allowed_m_s, top_m_s)) = self.before_m_s {
            writeln!(
                f,
                "  told before riding: the brake that this pack allows stops the board as stated from {:.1} km/h, so that\n    it goes no faster than that until the pack takes more (the pace: {:.1})",
                allowed_m_s * 3.6,
                top_m_s * 3.6
            )?;
        }
        for (end, refused) in ["hand", "board"].into_iter().zip(&self.refused) {
            let named = refused.named().filter(|(_, count)| *count > 0);
            let named: Vec<_> =
                named.map(|(name, count)| format!("{count} {}", name.replace('_', " "))).collect();
            if !named.is_empty() {
                writeln!(f, "  frames that the {end} refused: {}", named.join(", "))?;
            }
        }
        if self.lockouts > 0 {
            writeln!(f, "  drive waited for a neutral thumb after a silence {}x", self.lockouts)?;
        }
        for (name, count, seconds) in self.violations.iter().filter(|(_, count, _)| *count > 0) {
            let name = name.replace('_', " ");
            writeln!(f, "  should not have happened: {name} ({count}x, {seconds:.1} s)")?;
        }
        Ok(())
    }
}
