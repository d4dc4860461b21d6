//! What a controller may take from the pack and give to it in the coming step.
//!
//! Asked by `vehicle` with the pack's source. Each fold-back is a line in the terminal voltage,
//! which itself falls with the current: both lines are met in closed form, so nothing swings.

use super::MotorController;
use crate::plant::range::greater;
use crate::plant::source::Source;

/// Below this voltage the electronics are off. Common practice, no source.
const DEAD_BELOW_V: f64 = 1.0;

/// Power that may pass between pack and motors, W, all 0 or more.
#[derive(Clone, Copy, Debug)]
pub(crate) struct PowerLimits {
    /// From the pack to the motors, standby already taken off.
    pub(crate) out_W: f64,
    /// From the motors to the pack, standby already added.
    pub(crate) in_W: f64,
    /// What the electronics themselves take.
    pub(crate) idle_W: f64,
}

impl MotorController {
    /// The limits with a pack that was already bounded.
    #[inline]
    pub(crate) fn power_limits(&self, source: Source) -> PowerLimits {
        let Source { emf_V, resistance_ohm } = source;
        if emf_V < DEAD_BELOW_V {
            return PowerLimits { out_W: 0.0, in_W: 0.0, idle_W: 0.0 };
        }
        let idle_W = if resistance_ohm * self.idle_W * 4.0 < emf_V * emf_V {
            self.idle_W
        } else {
            // A worn-out pack: the electronics brown out.
            0.25 * emf_V * emf_V / resistance_ohm
        };
        let out_A = self.out_A(source);
        let in_A = self.in_A(source);
        PowerLimits {
            out_W: greater((emf_V - resistance_ohm * out_A) * out_A - idle_W, 0.0),
            in_W: (emf_V + resistance_ohm * in_A) * in_A + idle_W,
            idle_W,
        }
    }

    #[inline]
    fn out_A(&self, Source { emf_V, resistance_ohm }: Source) -> f64 {
        // I = max (V - none) / (full - none) with V = emf - R I.
        let above_V = emf_V - self.undervoltage.none;
        let line_V =
            self.undervoltage.full - self.undervoltage.none + self.max_battery_A * resistance_ohm;
        // Most steps are far from the fold-back and need no division.
        let folded_A = if above_V >= line_V {
            self.max_battery_A
        } else {
            self.max_battery_A * above_V.max(0.0) / line_V
        };
        if 2.0 * resistance_ohm * folded_A > emf_V {
            // Beyond this current a source gives less, not more.
            return 0.5 * emf_V / resistance_ohm;
        }
        folded_A
    }

    #[inline]
    fn in_A(&self, Source { emf_V, resistance_ohm }: Source) -> f64 {
        let below_V = self.overvoltage.none - emf_V;
        let line_V =
            self.overvoltage.none - self.overvoltage.full + self.max_regen_A * resistance_ohm;
        if below_V >= line_V {
            return self.max_regen_A;
        }
        self.max_regen_A * below_V.max(0.0) / line_V
    }
}
