//! What recent load left behind in a cell, and how much of it a voltage at rest still hides.
//!
//! Two ways to know what a resting voltage will come to, each where it is the better one:
//!
//! - **Strain.** The mean current of the last minute, times the cell's ten-second resistance,
//!   times a share that belongs to the cell. It needs no waiting; its share is learned from how
//!   far voltages creep at rest, over all rests, so that the steps of a coarse voltmeter average
//!   out. Good for stops of up to a minute.
//! - **Creep.** From one window to the next the voltage creeps by so much; what is still to come
//!   is that rate times a time constant that grows with the time at rest (the shape is that of
//!   Pei, Wang, Lu, Zhu, J. Power Sources 253, 2014, 412-418). It needs no past, but a long wait
//!   or a fine voltmeter.
//!
//! Fed by `rest` with the means of two windows, gives `evidence` a [`Reading`].

use super::evidence::Reading;
use super::rest::Mean;
use crate::board::Board;
use crate::math::{difference, divide, root, scale, scale_wide, square, sum};
use crate::time::Duration;
use crate::units::{Celsius, Ratio, Volts};

/// The share of strain that is left behind before a cell has shown its own, at 25 °C. Over the
/// rests of the reference rides it is 0.4 (cobalt, iron phosphate on its plateau) to 1.2, 0.7 to
/// 1.0 for most.
const SHARE: Ratio = Ratio::from_percent(80);

/// One sigma of [`SHARE`], same source.
const SHARE_DOUBT: Ratio = Ratio::from_percent(40);

/// How much more is left behind for each kelvin under 25 °C than the resistance grows: diffusion
/// slows down more than the ten-second resistance tells. In the table of the reference traces (one
/// minute at 2C, then a minute of rest) it is 1.2, 1.4, 1.4 and 1.9 times as much at 10 °C as at
/// 25 °C for the four cells whose diffusion moves with temperature: 1.5 in the mean. Warmer than that,
/// no less is taken to be left: of a ride at 36 °C the voltage tells worse with it than without.
const SLOWER_PER_KELVIN: Ratio = Ratio::from_percent(3);

/// The creep of one rest tells the share to within this part of it, one sigma: no cell relaxes with
/// one time constant. Same source.
const CREEP_TELLS_SHARE: Ratio = Ratio::from_percent(30);

/// And however many rests there were, what is left behind may be off by this part of itself: the
/// creep of a cold cell tells half of its share, that of a quick one twice. Same source.
const LEAST_DOUBT: Ratio = Ratio::from_percent(35);

/// The time constant of the creep when the rest begins; half of the time at rest is added to it.
/// What was still to come over the rate of creep was 35 to 80 s after 16 s of rest and 35 to
/// 100 s after a minute for nickel, cobalt and aluminium at 15 to 40 °C, 120 s for a nickel-rich
/// cell at 5 °C (reference rides).
const TIME_CONSTANT_AT_ONCE: Duration = Duration::from_secs(45);

/// One sigma of what creep promises, as a share of it; same source.
const CREEP_IS_WORTH: Ratio = Ratio::from_percent(45);

/// Up to windows that end here strain is asked, from there on creep.
const STRAIN_UNTIL: Duration = Duration::from_secs(64);

/// How well the mean of a window is known, as a share of the voltmeter's step: a slow creep and
/// little noise leave it anywhere within a step (0.29 of it, evenly spread) for part of a window.
const MEAN_IS_WORTH: Ratio = Ratio::from_percent(20);

/// How a cell relaxes, as far as it has shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Relaxation {
    /// The share of strain that is left behind, as creep tells it.
    pub share: Ratio,
    /// One sigma of it.
    pub doubt: Ratio,
}

impl Default for Relaxation {
    fn default() -> Self {
        Self { share: SHARE, doubt: SHARE_DOUBT }
    }
}

/// How much more of the strain is left behind at `temperature` than at 25 °C.
#[must_use]
pub(crate) fn slowness(temperature: Celsius) -> Ratio {
    let colder = Celsius::from_whole(25) - temperature;
    // Kelvins have 16 fraction bits, a ratio 24.
    let kelvins = Ratio::from_bits(colder.to_bits().clamp(0, 50 << 16) << 8);
    Ratio::ONE + kelvins.scaled(SLOWER_PER_KELVIN)
}

/// One sigma of a window's mean, of a cell.
fn mean_doubt(board: &Board) -> Volts {
    board.mean_cell(board.sensors().voltage_step).scaled(MEAN_IS_WORTH)
}

impl Relaxation {
    /// What this cell has shown, after the voltage has crept from the mean `before` to `now`.
    ///
    /// A scalar Kalman step for the share: strain went down by so much, voltage up by so much.
    /// Voltages from long rests, where strain has gone, teach nothing about it.
    #[must_use]
    pub(crate) fn after(self, before: Mean, now: Mean, board: &Board) -> Self {
        let (eased, crept) = (before.strain - now.strain, now.volts - before.volts);
        if now.ends_after > STRAIN_UNTIL || eased == Volts::ZERO {
            return self;
        }
        // Noise of two means, and a creep that no single time constant describes.
        let noise = mean_doubt(board).scaled(Ratio::from_fraction(1414, 1000));
        let shape = eased.scaled(self.share).scaled(CREEP_TELLS_SHARE);
        let variance = sum(square(noise.to_bits()), square(shape.to_bits()));
        // One division: what a bit of voltage tells of the share, kept a little finer than that.
        const FINER_BITS: u32 = 6;
        let doubted = i64::from(eased.scaled(self.doubt).to_bits());
        let total = sum(square(eased.scaled(self.doubt).to_bits()), variance).max(1);
        let per_bit =
            divide(doubted.wrapping_mul(i64::from(self.doubt.to_bits())), total, FINER_BITS);
        let told = |volts: Volts| Ratio::from_bits(scale::<FINER_BITS>(volts.to_bits(), per_bit));
        let missed = crept - eased.scaled(self.share);
        let share = self.share + told(missed);
        // The square of the doubt shrinks by the gain.
        let gain = told(eased).held_within(Ratio::ZERO, Ratio::ONE);
        let kept = (Ratio::ONE - gain).to_bits();
        let left = scale_wide::<{ Ratio::FRACTION_BITS }>(square(self.doubt.to_bits()), kept);
        let doubt = root(left);
        Self {
            share: share.held_within(Ratio::ZERO, Ratio::from_whole(3)),
            doubt: Ratio::from_bits(doubt),
        }
    }

    /// What the cell will come to rest at, after windows of which only some of the past before
    /// them is known (`past_is_known`: the strain is that of all the load there was).
    #[must_use]
    pub(crate) fn reading(
        self,
        before: Mean,
        now: Mean,
        past_is_known: bool,
        board: &Board,
    ) -> Reading {
        if past_is_known && now.ends_after <= STRAIN_UNTIL {
            self.by_strain(now, board)
        } else {
            by_creep(before, now, board)
        }
    }

    fn by_strain(self, now: Mean, board: &Board) -> Reading {
        // What creep tells of this cell and what is known of all cells are worth the same.
        let share = Ratio::from_bits(self.share.to_bits().midpoint(SHARE.to_bits()));
        let hidden = now.strain.scaled(share);
        let by_share = now.strain.scaled(Ratio::from_bits(self.doubt.to_bits() >> 1));
        let by_shape = hidden.scaled(LEAST_DOUBT);
        let doubt = root(sum(square(by_share.to_bits()), square(by_shape.to_bits())));
        let signed = if hidden < Volts::ZERO { doubt.saturating_neg() } else { doubt };
        Reading {
            resting: now.volts + hidden,
            relaxation_doubt: Volts::from_bits(signed),
            noise: mean_doubt(board),
        }
    }
}

fn by_creep(before: Mean, now: Mean, board: &Board) -> Reading {
    let gain = still_to_come_per_creep(before, now);
    let to_come = (now.volts - before.volts).scaled(gain);
    let of_mean = mean_doubt(board);
    let of_creep = of_mean.scaled(gain).scaled(Ratio::from_fraction(1414, 1000));
    Reading {
        resting: now.volts + to_come,
        relaxation_doubt: to_come.scaled(CREEP_IS_WORTH),
        noise: of_mean.max(of_creep),
    }
}

/// Time constant over the time between the middles of the two windows.
fn still_to_come_per_creep(before: Mean, now: Mean) -> Ratio {
    let micros = |length: Duration| i64::try_from(length.to_micros()).unwrap_or(i64::MAX);
    // The middle of a window is at three quarters of its end.
    let apart = difference(micros(now.ends_after), micros(before.ends_after));
    let apart = difference(apart, apart >> 2);
    let constant = sum(micros(TIME_CONSTANT_AT_ONCE), micros(now.ends_after) >> 1);
    Ratio::from_bits(divide(constant, apart.max(1), Ratio::FRACTION_BITS))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::board::tests::described;
    use proptest::prelude::*;

    fn board() -> Board {
        Board::new(described()).unwrap()
    }

    fn mean(millivolts: f64, strain_millivolts: f64, seconds: u64) -> Mean {
        let volts = |milli: f64| Volts::from_f64(milli / 1000.0).unwrap();
        Mean {
            volts: volts(millivolts),
            strain: volts(strain_millivolts),
            ends_after: Duration::from_secs(seconds),
        }
    }

    #[test]
    fn a_cell_that_creeps_more_than_expected_is_learned() {
        let (board, mut cell) = (board(), Relaxation::default());
        for _ in 0..30 {
            // Strain eases by 20 mV, the voltage rises by 26: a share of 1.3.
            cell = cell.after(mean(3700.0, 80.0, 16), mean(3726.0, 60.0, 32), &board);
        }
        assert!((cell.share.to_f64() - 1.3).abs() < 0.1, "{cell:?}");
        assert!(cell.doubt < SHARE_DOUBT);
    }

    #[test]
    fn the_cold_leaves_more_behind() {
        let at = |degrees| slowness(Celsius::from_whole(degrees)).to_f64();
        assert!((at(25) - 1.0).abs() < 1e-6 && (at(10) - 1.45).abs() < 1e-4);
        assert!((at(40) - 1.0).abs() < 1e-6 && at(-200) <= 2.5 + 1e-6);
    }

    #[test]
    fn a_coarse_voltmeter_teaches_slowly() {
        let mut coarse = described();
        coarse.sensors.voltage_step = Volts::from_whole(1);
        let coarse = Board::new(coarse).unwrap();
        let step = |board: &Board| {
            Relaxation::default().after(mean(3700.0, 30.0, 16), mean(3720.0, 20.0, 32), board)
        };
        let taught = |cell: Relaxation| (cell.share - SHARE).magnitude();
        assert!(taught(step(&coarse)) < taught(step(&board())));
    }

    #[test]
    fn a_short_stop_is_read_by_strain_and_a_long_one_by_creep() {
        let (board, cell) = (board(), Relaxation::default());
        let short = cell.reading(mean(3700.0, 60.0, 16), mean(3702.0, 50.0, 32), true, &board);
        assert!((short.resting.to_f64() - 3.742).abs() < 0.0005, "{short:?}");
        let long = cell.reading(mean(3730.0, 0.0, 1024), mean(3732.0, 0.0, 2048), true, &board);
        // (45 + 1024) / 768 of 2 mV.
        assert!((long.resting.to_f64() - 3.7348).abs() < 0.0005, "{long:?}");
    }

    #[test]
    fn an_unknown_past_is_read_by_creep_at_once() {
        let (board, cell) = (board(), Relaxation::default());
        let reading = cell.reading(mean(3700.0, 0.0, 8), mean(3710.0, 0.0, 16), false, &board);
        assert!(reading.resting > Volts::from_milli(3760), "{reading:?}");
    }

    #[test]
    fn source_creep_leads_to_where_a_measured_cell_comes_to_rest() {
        // Source: an NMC532/graphite pouch of about 22 mAh, rests after 1C steps, cell volts 660,
        // 1260, 1860 and 3600 s after the step (test data of the Python package
        // battery-data-toolkit 0.4.6, p492-13, cycles 4 and 5; Apache License 2.0).
        const RESTS: [[f64; 4]; 4] = [
            [3437.781, 3443.427, 3446.174, 3449.683],
            [3989.242, 3990.158, 3990.616, 3991.226],
            [3897.993, 3898.756, 3899.367, 3901.045],
            [4094.987, 4093.614, 4092.851, 4091.478],
        ];
        let mut fine = described();
        fine.sensors.voltage_step = Volts::ZERO;
        let fine = Board::new(fine).unwrap();
        for [first, second, third, rested] in RESTS {
            let now = mean(f64::midpoint(second, third), 0.0, 2048);
            let reading = Relaxation::default().reading(mean(first, 0.0, 1024), now, true, &fine);
            let error = reading.resting.to_f64() - rested / 1000.0;
            // After an hour these rests still creep by up to a millivolt in ten minutes.
            let allowed = 2.0 * reading.relaxation_doubt.magnitude().to_f64() + 0.001;
            assert!(error.abs() < allowed, "{rested}: {error} {allowed}");
        }
    }

    proptest! {
        #[test]
        fn law_the_share_stays_possible_and_its_doubt_never_grows(
            steps in proptest::collection::vec((-300.0_f64..300.0, -200.0_f64..200.0, -200.0_f64..200.0), 1..50)
        ) {
            let (board, mut cell) = (board(), Relaxation::default());
            for (crept, before, now) in steps {
                let next = cell.after(mean(3700.0, before, 16), mean(3700.0 + crept, now, 32), &board);
                prop_assert!(next.doubt <= cell.doubt);
                prop_assert!(next.share >= Ratio::ZERO && next.share <= Ratio::from_whole(3));
                cell = next;
            }
        }
    }
}
