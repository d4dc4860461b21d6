//! What a voltage under load says about charge.
//!
//! Under load a cell's terminals show the charge at the surface of its electrodes, less what its
//! resistance takes. The surface runs ahead of the bulk by what the mean current of the last
//! minutes moves in a stated time: where the curve is flat that costs no voltage, at a knee it costs
//! much, as in a real cell. The means of a window are read back through resistance, curve and lead. All
//! three are guesses, the same wrong ones in every window
//! of a ride, so that they are entered as one cause of the [`super::Ledger`] and never add up to
//! certainty.
//!
//! Asked by `under_load`, a step a tick.

use super::counter::{Capacity, Quanta};
use super::evidence::Reading;
use super::ledger::Evidence;
use super::relaxation;
use super::resistance::Resistance;
use crate::board::Board;
use crate::cell::{Pulse, RestingCurveAt};
use crate::math::{difference, divide, narrow, root, scale, square, sum};
use crate::time::Duration;
use crate::units::{Amperes, Celsius, Ratio, Volts};

/// The surface runs ahead by what that current moves in this time: 0.08 of a charge at 1C. With the other
/// parts of the drop free as well, the lead that leaves least on the exact rows of the reference rides is 0 to
/// 780 s, mostly 0 to 490 (`homestretch-checks drop`): one ride hardly tells it from a slow drop. The
/// accuracy tables move by 0.1 % of charge between 288 and 400 s.
const LEAD: Duration = Duration::from_secs(288);

/// One sigma of [`LEAD`].
const LEAD_DOUBT: Duration = Duration::from_secs(240);

/// The drop that follows the current at once, over what the swing of the same windows shows: 1.06 to
/// 1.53 with a median of 1.2 (1.7 for the aluminium cell, whose current hardly swings), for rides that swing
/// by 0.58 to 1.41 of the table's one-second resistance; same command. A mean drop has more of the seconds in
/// it than a swing.
const QUICK: Ratio = Ratio::from_percent(120);

/// One sigma of it, as a share.
const QUICK_DOUBT: Ratio = Ratio::from_percent(12);

/// What the mean current of the last minute adds, over what the table's resistance grows by from
/// one second to ten: 0.3 to 5.5 for most, from -6 to 10; same command.
const SLOW: Ratio = Ratio::from_whole(2);

/// One sigma of it.
const SLOW_DOUBT: Ratio = Ratio::from_whole(2);

/// One sigma of what else is wrong in one window, as a share of the drop that is taken off: what those
/// fits leave is 4 to 39 mV, mostly 7 to 20, and stays for some minutes, that is for several windows.
const WINDOW_DOUBT: Ratio = Ratio::from_percent(25);

/// And whatever the drop.
const LEAST_WINDOW_DOUBT: Volts = Volts::from_milli(12);

/// The points of the rule for a bell curve lie at so many sigma.
const ROOT_OF_THREE: Ratio = Ratio::from_fraction(1732, 1000);

/// A curve that rises by less over all that is believed says nothing.
const LEAST_RISE: Volts = Volts::from_milli(2);

const FINER_BITS: u32 = 8;

/// What the surface's charge says of the bulk's.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) struct Lead {
    /// The bulk's charge now, less the surface's in the window.
    pub(super) by: Ratio,
    /// One sigma of it, signed as the load.
    pub(super) doubt: Ratio,
}

impl Lead {
    /// Of a lagged current, and what has been drawn since the window's middle.
    pub(super) fn of(
        lagged: Amperes,
        half: Quanta,
        temperature: Celsius,
        capacity: Capacity,
    ) -> Self {
        let slowness = relaxation::slowness(temperature);
        let moved =
            |time| capacity.share(Quanta::between(lagged, lagged, time).halved()).scaled(slowness);
        Self { by: moved(LEAD) - capacity.share(half), doubt: moved(LEAD_DOUBT) }
    }
}

/// What the surface would rest at: the cell's mean voltage with the drop of its mean `current` and of
/// its current `of_late` taken off.
pub(super) fn surface(
    volts: Volts,
    current: Amperes,
    of_late: Amperes,
    (soc, temperature): (Ratio, Celsius),
    (resistance, board): (Resistance, &Board),
) -> Reading {
    let map = &board.cell().resistance;
    let at_once = map.ohms(soc, temperature, Pulse::OneSecond);
    let grown = map.ohms(soc, temperature, Pulse::TenSeconds) - at_once;
    let at_once = current * at_once;
    let grown = (of_late * grown).scaled(relaxation::slowness(temperature));
    let (quick, slow) = (at_once.scaled(resistance.scale.scaled(QUICK)), grown.scaled(SLOW));
    let of_quick = both(quick.scaled(QUICK_DOUBT), at_once.scaled(resistance.doubt));
    let doubt = both(of_quick, grown.scaled(SLOW_DOUBT));
    let drop = quick + slow;
    let of_drop = (quick.magnitude() + slow.magnitude()).scaled(WINDOW_DOUBT);
    Reading {
        resting: volts + drop,
        relaxation_doubt: if drop < Volts::ZERO { -doubt } else { doubt },
        noise: both(of_drop, LEAST_WINDOW_DOUBT),
    }
}

/// About the root of the sum of two squares: the larger one and three eighths of the smaller, from
/// 3 % too little to 7 % too much. A doubt is not known better. From memory.
#[inline(never)]
fn both(one: Volts, other: Volts) -> Volts {
    let (one, other) = (one.magnitude(), other.magnitude());
    let (larger, smaller) = (one.max(other), one.min(other));
    let eighth = smaller.to_bits() >> 3;
    larger + Volts::from_bits(eighth.wrapping_mul(3))
}

/// What a surface's reading says of the bulk's charge, the bulk being believed at `soc` to within a
/// `sigma`; nothing on a stretch that is flat all over.
///
/// The curve is taken for the line that fits it best over what is believed (three points, the middle
/// one four times: Gauss and Hermite's rule), and what it bends away from that line counts as noise: a
/// plateau says little, a step within reach says something, and neither promises what lies beyond.
pub(super) fn evidence(
    reading: &Reading,
    lead: Lead,
    (soc, sigma): (Ratio, Ratio),
    curve: &RestingCurveAt<'_>,
    board: &Board,
) -> Option<Evidence> {
    let around = soc - lead.by;
    let reach = sigma.scaled(ROOT_OF_THREE);
    let (low, high) = ((around - reach).max(Ratio::ZERO), (around + reach).min(Ratio::ONE));
    let middle = around.held_within(Ratio::ZERO, Ratio::ONE);
    let [below, here, above] = [low, middle, high].map(|soc| curve.voltage(soc).to_bits());
    let (rise, run) = (above.saturating_sub(below), (high - low).to_bits());
    if rise < LEAST_RISE.to_bits() || run <= 0 {
        return None;
    }
    // A ratio's bits for one of the volts', and eight bits finer.
    let per_volt = divide(i64::from(run), i64::from(rise), FINER_BITS);
    let in_charge = |volts: Volts| Ratio::from_bits(scale::<FINER_BITS>(volts.to_bits(), per_volt));
    let mean = sixth(below.saturating_add(here.saturating_mul(4)).saturating_add(above).into());
    let off = |volts: i32, times: i64| {
        let off = i64::from(volts).wrapping_sub(mean);
        off.wrapping_mul(off).wrapping_mul(times)
    };
    let spread = sixth(sum(sum(off(below, 1), off(here, 4)), off(above, 1)));
    // A straight line over as much: a twelfth of its rise squared.
    let straight = sixth(square(rise)) >> 1;
    let bend = difference(spread, straight).max(0);
    let noise = Volts::from_bits(root(sum(square(reading.noise.to_bits()), bend)));
    let voltmeter = reading.resting.scaled(board.sensors().voltage_gain_error);
    let missed = reading.resting - Volts::from_bits(narrow(mean));
    let most = Ratio::ONE;
    Some(Evidence {
        soc: soc + in_charge(missed).held_within(-most, most),
        voltage: in_charge(both(voltmeter, board.cell().curve_doubt)),
        relaxation: in_charge(reading.relaxation_doubt) + lead.doubt,
        noise: in_charge(noise),
    })
}

/// A sixth, rounded down.
const fn sixth(of: i64) -> i64 {
    // Of less than 2^43, with 18 bits: off by less than 2^-17 of it.
    of.wrapping_mul(43_691) >> 18
}

#[cfg(test)]
mod tests {
    use super::super::ledger::Ledger;
    use super::*;
    use crate::board::tests::described;
    use crate::cell::published::PRADA_2013;
    use proptest::prelude::*;

    const ROOM: Celsius = Celsius::from_whole(25);

    fn board() -> Board {
        Board::new(described()).unwrap()
    }

    fn reading(volts: Volts) -> Reading {
        Reading {
            resting: volts,
            relaxation_doubt: Volts::from_milli(20),
            noise: Volts::from_milli(15),
        }
    }

    fn percent(percent: i32) -> Ratio {
        Ratio::from_percent(percent)
    }

    #[test]
    fn a_flat_curve_says_nothing_and_a_steep_one_much() {
        let board = board();
        let flat = PRADA_2013.resting_curve().unwrap();
        let lead = Lead { by: Ratio::ZERO, doubt: Ratio::ZERO };
        let said = |curve: &crate::cell::RestingCurve, around| {
            let curve = curve.at(ROOM);
            evidence(&reading(curve.voltage(percent(58))), lead, around, &curve, &board)
        };
        let sigma = |said: Evidence| Ledger::of(&said).sigma();
        assert_eq!(said(&flat, (percent(58), percent(2))), None);
        let steep = &board.cell().resting;
        let some = said(steep, (percent(58), percent(2))).unwrap();
        assert!(sigma(some) < percent(5), "{}", sigma(some));
        assert!((some.soc - percent(58)).magnitude() < Ratio::from_milli(3), "{}", some.soc);
        // A belief that reaches a step hopes for more than one that sees nothing but plateau.
        assert!(sigma(said(&flat, (percent(58), percent(20))).unwrap()) > percent(10));
    }

    #[test]
    fn the_drop_of_a_charging_current_is_put_on() {
        let board = board();
        let at = |amperes| {
            let current = Amperes::from_whole(amperes);
            surface(
                Volts::from_milli(3700),
                current,
                current,
                (percent(50), ROOM),
                (Resistance::default(), &board),
            )
        };
        let (drawing, charging) = (at(3), at(-3));
        assert!(
            drawing.resting > Volts::from_milli(3700) && drawing.relaxation_doubt > Volts::ZERO
        );
        assert!(
            charging.resting < Volts::from_milli(3700) && charging.relaxation_doubt < Volts::ZERO
        );
        assert_eq!(at(0).resting, Volts::from_milli(3700));
        assert_eq!(at(0).relaxation_doubt, Volts::ZERO);
    }

    proptest! {
        #[test]
        fn law_two_doubts_are_together_what_their_squares_say(one in -4000_i32..4000, other in -4000_i32..4000) {
            let exact = f64::from(one).hypot(f64::from(other));
            let told = both(Volts::from_milli(one), Volts::from_milli(other)).to_f64() * 1000.0;
            prop_assert!(told >= 0.97 * exact - 1.0 && told <= 1.07 * exact + 1.0, "{told} {exact}");
        }

        #[test]
        fn law_doubts_are_never_negative_and_charge_moves_by_no_more_than_all_of_it(
            volts in 1000_i32..5000, soc in 0_i32..=100, sigma in 0_i32..=30,
            by in -30_i32..=30, doubt in 0_i32..20, iron: bool
        ) {
            let board = board();
            let iron_curve = PRADA_2013.resting_curve().unwrap();
            let curve = if iron { iron_curve.at(ROOM) } else { board.cell().resting.at(ROOM) };
            let lead = Lead { by: percent(by), doubt: percent(doubt) };
            let around = (percent(soc), percent(sigma));
            let reading = reading(Volts::from_milli(volts));
            if let Some(said) = evidence(&reading, lead, around, &curve, &board) {
                prop_assert!(said.voltage >= Ratio::ZERO && said.noise >= Ratio::ZERO);
                prop_assert!(said.relaxation >= lead.doubt);
                prop_assert!((said.soc - around.0).magnitude() <= Ratio::ONE);
            }
        }

        #[test]
        fn law_a_higher_voltage_never_says_less_charge(
            less in 2000_i32..4300, more in 0_i32..500, soc in 0_i32..=100, sigma in 1_i32..=30
        ) {
            let board = board();
            let curve = board.cell().resting.at(ROOM);
            let lead = Lead { by: Ratio::ZERO, doubt: Ratio::ZERO };
            let said = |volts| {
                let reading = reading(Volts::from_milli(volts));
                evidence(&reading, lead, (percent(soc), percent(sigma)), &curve, &board)
            };
            if let (Some(less), Some(more)) = (said(less), said(less + more)) {
                prop_assert!(less.soc <= more.soc);
            }
        }
    }
}
