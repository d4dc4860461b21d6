//! Plain counting: what most gauges without a chip do, and the least that ours has to beat.
//!
//! The first voltage is taken for a resting one, whatever the current; from then on current is
//! counted against the capacity in the board file. Between two frames that arrived it is the
//! mean of both; while frames are lost, the last one is held until the next corrects it.
//! It makes no claim about its error. Source: common practice, no source.

use std::sync::Arc;

use homestretch_sim::ride::Measured;

use crate::build::Build;
use crate::estimator::{Estimate, Estimator};

/// What is shown before anything arrived.
const UNKNOWN: f64 = 0.5;

/// The counter.
#[derive(Debug)]
pub struct Counting {
    build: Arc<Build>,
    soc: Option<f64>,
    last: Option<Frame>,
}

#[derive(Clone, Copy, Debug)]
struct Frame {
    time_s: f64,
    current_A: f64,
}

impl Counting {
    /// A counter that has seen nothing yet.
    #[must_use]
    pub const fn new(build: Arc<Build>) -> Self {
        Self { build, soc: None, last: None }
    }

    fn begin(&mut self, measured: &Measured) {
        if let (None, Some(pack_V)) = (self.soc, measured.pack_voltage_V) {
            let temperature_degC =
                measured.cell_temperature_degC.unwrap_or(self.build.assumed_temperature_degC);
            let cell_V = self.build.cell_voltage_V(pack_V);
            self.soc = Some(self.build.resting.soc(cell_V, temperature_degC));
        }
    }

    fn count(&mut self, measured: &Measured) {
        let Some(pack_A) = measured.pack_current_A else {
            return;
        };
        let frame = Frame { time_s: measured.time_s, current_A: self.build.cell_current_A(pack_A) };
        if let (Some(soc), Some(last)) = (&mut self.soc, self.last) {
            let mean_A = f64::midpoint(last.current_A, frame.current_A);
            *soc -= self.build.share_drawn(mean_A, frame.time_s - last.time_s);
        }
        self.last = Some(frame);
    }
}

impl Estimator for Counting {
    fn step(&mut self, measured: &Measured) -> Estimate {
        self.begin(measured);
        self.count(measured);
        let held = self.last.map_or(0.0, |last| {
            self.build.share_drawn(last.current_A, measured.time_s - last.time_s)
        });
        // The count goes on beyond both ends, the gauge does not show it.
        let shown = self.soc.map_or(UNKNOWN, |soc| soc - held);
        Estimate::bare(shown.clamp(0.0, 1.0))
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::reference::Reference;

    fn build() -> Arc<Build> {
        let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("data");
        Reference::read(&data, "brim-downhill").unwrap().build
    }

    fn frame(time_s: f64, pack_voltage_V: f64, pack_current_A: f64) -> Measured {
        let mut frame = Measured::at(time_s);
        frame.pack_voltage_V = Some(pack_voltage_V);
        frame.pack_current_A = Some(pack_current_A);
        frame
    }

    #[test]
    fn it_begins_at_the_charge_that_rests_at_the_first_voltage() {
        let build = build();
        let voltage_V = build.series * build.resting.voltage_V(0.6, 20.0);
        let mut counting = Counting::new(build);
        let begun = counting.step(&frame(0.0, voltage_V, 0.0));
        assert!((begun.soc - 0.6).abs() < 1e-6 && begun.interval.is_none());
    }

    #[test]
    fn a_current_of_one_capacity_empties_it_by_half_in_half_an_hour() {
        let build = build();
        let one_C_A = build.cell_capacity_Ah * build.parallel;
        let mut counting = Counting::new(build);
        let begun = counting.step(&frame(0.0, 41.0, one_C_A));
        let mut ended = begun;
        for second in 1..=1800 {
            ended = counting.step(&frame(f64::from(second), 30.0, one_C_A));
        }
        assert!((begun.soc - ended.soc - 0.5).abs() < 1e-9);
    }

    #[test]
    fn over_lost_frames_it_holds_the_current_and_then_takes_the_mean() {
        let build = build();
        let one_C_A = build.cell_capacity_Ah * build.parallel;
        let mut counting = Counting::new(build);
        let begun = counting.step(&frame(0.0, 40.0, one_C_A)).soc;
        let held = counting.step(&Measured::at(36.0).lost()).soc;
        assert!((begun - held - 0.01).abs() < 1e-9);
        let known = counting.step(&frame(36.0, 40.0, 3.0 * one_C_A)).soc;
        assert!((begun - known - 0.02).abs() < 1e-9);
    }

    #[test]
    fn before_the_first_frame_it_shows_the_middle() {
        let mut counting = Counting::new(build());
        let shown = counting.step(&Measured::at(0.0).lost());
        assert!((shown.soc - UNKNOWN).abs() < 1e-12);
    }
}
