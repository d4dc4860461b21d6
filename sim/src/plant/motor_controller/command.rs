//! What the controller acts on: the last command, until silence has lasted too long.
//!
//! After a silence drive goes at a stated rate. A brake that was on is held by the timeout and
//! then eased at a gentler one, since a rider leaning into a brake falls when it vanishes. Common
//! practice, no source. A fresh command is followed at once; coming back gently is not its work.

use super::MotorController;
use crate::plant::STEP_S;

/// The share of the greatest motor current that is applied, and for how long nothing was heard.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Held {
    pub(crate) share: f64,
    silent_s: f64,
}

impl Held {
    /// The state after a step in which `command` arrived, or nothing.
    #[inline]
    pub(crate) fn after(self, command: Option<f64>, settings: &MotorController) -> Self {
        if let Some(fresh) = command
            && !fresh.is_nan()
        {
            return Self { share: fresh.clamp(-1.0, 1.0), silent_s: 0.0 };
        }
        let silent_s = self.silent_s + STEP_S;
        // Half a step, so that rounding of the sum does not decide.
        if silent_s < settings.timeout_s + 0.5 * STEP_S {
            return Self { share: self.share, silent_s };
        }
        let share = if self.share > 0.0 {
            (self.share - settings.drive_ramp_per_s * STEP_S).max(0.0)
        } else {
            (self.share + settings.brake_ease_per_s * STEP_S).min(0.0)
        };
        // No need to count further, and a sum that only grows would lose its small steps.
        Self { share, silent_s: self.silent_s }
    }
}
