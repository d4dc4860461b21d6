//! A window of load: sums over some seconds, of which means and steepness are made.
//!
//! Filled by `tally` with each frame; closed, and read, by `under_load`. Keeps sums, no samples: what
//! each frame stands above the window's first, in steps that let a product of two stay within 32 bits.

use super::counter::Quanta;
use super::gap;
use crate::math::divide;
use crate::time::Duration;
use crate::units::{Amperes, Ratio, Volts};

/// A window is closed when it is this long: some pushes and some rolling, so that the quick
/// part of the drop averages out.
const WINDOW: Duration = Duration::from_secs(16);

/// The mean current that makes the surface run ahead forgets with this time constant, a power of
/// two of microseconds (134 s).
const LAG_OVER_BITS: u32 = 27;

/// Volts are summed in steps of 4 mV, amperes of 16 mA: 128 V and 512 A are 2^15 of them.
const COARSER_VOLTS_BITS: u32 = 8;
const COARSER_AMPERES_BITS: u32 = 10;

/// The window that is being filled. What the counter counts anyway is not summed a second time: charge
/// and time are those since a mark.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) struct Window {
    swing: Swing,
    opened_at: Duration,
    /// What has been drawn up to the last settlement.
    settled: Quanta,
}

/// How voltage and current swing together in a window.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) struct Swing {
    count: i32,
    /// Whether nothing was heard for a part of it.
    broken: bool,
    /// Of its first frame.
    first_volts: Volts,
    first_amperes: Amperes,
    /// Sums over what stands above them.
    volts: i32,
    amperes: i32,
    both: i64,
    squares: i64,
}

impl Swing {
    fn see(&mut self, volts: Volts, amperes: Amperes) {
        if self.count == 0 {
            self.first_volts = volts;
            self.first_amperes = amperes;
        }
        let volts = (volts - self.first_volts).to_bits() >> COARSER_VOLTS_BITS;
        let amperes = (amperes - self.first_amperes).to_bits() >> COARSER_AMPERES_BITS;
        self.volts = self.volts.wrapping_add(volts);
        self.amperes = self.amperes.wrapping_add(amperes);
        self.both = self.both.wrapping_add(volts.wrapping_mul(amperes).into());
        self.squares = self.squares.wrapping_add(amperes.wrapping_mul(amperes).into());
        self.count = self.count.wrapping_add(1);
    }

    /// How much of the voltage a rising current takes with it over what `volts_per_ampere` would, by least
    /// squares; nothing where the current moves, in root mean square, by less than `least`.
    pub(super) fn steepness(&self, volts_per_ampere: Volts, least: Amperes) -> Option<Ratio> {
        let (count, volts) = (i64::from(self.count), i64::from(self.volts));
        let amperes = i64::from(self.amperes);
        let fall = amperes.wrapping_mul(volts).wrapping_sub(count.wrapping_mul(self.both));
        let spread = count.wrapping_mul(self.squares).wrapping_sub(amperes.wrapping_mul(amperes));
        let least = i64::from(least.to_bits() >> COARSER_AMPERES_BITS).wrapping_mul(count);
        if count < 2 || spread < least.wrapping_mul(least) {
            return None;
        }
        // Volts have as many fraction bits as amperes.
        const SHIFT: u32 =
            Ratio::FRACTION_BITS + Volts::FRACTION_BITS + COARSER_VOLTS_BITS - COARSER_AMPERES_BITS;
        let below = spread.wrapping_mul(volts_per_ampere.to_bits().into());
        Some(Ratio::from_bits(divide(fall, below, SHIFT)))
    }
}

impl Window {
    /// A window that opens now: so long after the first word, with so much drawn since the last
    /// settlement.
    pub(super) fn opened(at: Duration, drawn_since: Quanta) -> Self {
        Self { opened_at: at, settled: Quanta::ZERO - drawn_since, ..Self::default() }
    }

    /// Takes in a frame.
    pub(super) fn see(&mut self, pack_voltage: Volts, pack_current: Amperes) {
        self.swing.see(pack_voltage, pack_current);
    }

    /// Notes that nothing was heard for a while.
    pub(super) const fn break_off(&mut self) {
        self.swing.broken = true;
    }

    /// Notes that what was drawn since the last settlement is being settled.
    pub(super) fn settle(&mut self, drawn_since: Quanta) {
        self.settled = self.settled + drawn_since;
    }

    /// Whether it is long enough to be looked at.
    pub(super) fn is_full(&self, now: Duration) -> bool {
        now - self.opened_at >= WINDOW
    }

    /// The sums.
    pub(super) fn closed(&self, now: Duration, drawn_since: Quanta) -> Sums {
        let (drawn, time) = (self.settled + drawn_since, now - self.opened_at);
        Sums { drawn, time, swing: self.swing }
    }
}

/// Sums over a window that has been closed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) struct Sums {
    drawn: Quanta,
    time: Duration,
    pub(super) swing: Swing,
}

impl Sums {
    /// Whether the mean voltage belongs to the mean current.
    pub(super) const fn belong_together(&self) -> bool {
        self.swing.count > 0 && !self.swing.broken
    }

    /// The lagged current after it.
    pub(super) fn lagged(&self, before: Amperes) -> Amperes {
        gap::mean_after_charge::<LAG_OVER_BITS>(before, self.drawn, self.time)
    }

    /// The means; two divisions.
    pub(super) fn means(&self) -> Means {
        let Swing { count, first_volts, volts, .. } = self.swing;
        let above = divide(volts.into(), count.into(), COARSER_VOLTS_BITS);
        let micros = self.time.to_micros().cast_signed();
        let current = divide(self.drawn.halved().count(), micros, 0);
        Means {
            pack_voltage: first_volts + Volts::from_bits(above),
            pack_current: Amperes::from_bits(current),
            half: self.drawn.halved(),
        }
    }
}

/// Means of a window.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) struct Means {
    pub(super) pack_voltage: Volts,
    pub(super) pack_current: Amperes,
    /// What has been drawn since its middle.
    pub(super) half: Quanta,
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_window_is_closed_after_its_time_and_not_before() {
        let mut window = Window::opened(Duration::from_secs(100), Quanta::from_count(7));
        for _ in 0..4 {
            window.see(Volts::from_whole(40), Amperes::ZERO);
        }
        window.settle(Quanta::from_count(20));
        let now = Duration::from_secs(116);
        assert!(!window.is_full(Duration::from_secs(115)) && window.is_full(now));
        let sums = window.closed(now, Quanta::from_count(5));
        assert_eq!(sums.drawn, Quanta::from_count(18));
        assert_eq!(sums.means().pack_voltage, Volts::from_whole(40));
        window.break_off();
        let broken = window.closed(now, Quanta::ZERO);
        assert!(sums.belong_together() && !broken.belong_together());
    }

    #[test]
    fn a_steady_current_shows_no_steepness() {
        let mut swing = Swing::default();
        for _ in 0..80 {
            swing.see(Volts::from_whole(40), Amperes::from_whole(9));
        }
        assert_eq!(swing.steepness(Volts::from_milli(100), Amperes::from_milli(500)), None);
    }

    proptest! {
        #[test]
        fn law_least_squares_find_the_slope_of_a_line(
            milliohms in 20_i32..400, share in 0.3_f64..3.0,
            currents in proptest::collection::vec(-30.0_f64..80.0, 40..160)
        ) {
            let mut swing = Swing::default();
            for amperes in currents {
                let volts = 40.0 - amperes * f64::from(milliohms) / 1000.0 * share;
                swing.see(Volts::from_f64(volts).unwrap(), Amperes::from_f64(amperes).unwrap());
            }
            let told = swing.steepness(Volts::from_milli(milliohms), Amperes::from_whole(1));
            // A step of 4 mV in drops of half a volt and more.
            let told = told.unwrap().to_f64();
            prop_assert!((told / share - 1.0).abs() < 0.01, "{told} {share}");
        }

        #[test]
        fn law_no_frames_can_hurt(frames in proptest::collection::vec((any::<i32>(), any::<i32>()), 0..200)) {
            let mut swing = Swing::default();
            for (volts, amperes) in frames {
                swing.see(Volts::from_bits(volts), Amperes::from_bits(amperes));
            }
            let _ = swing.steepness(Volts::from_milli(100), Amperes::from_milli(500));
        }
    }
}
