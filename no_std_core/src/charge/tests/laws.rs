//! What holds of the charge whatever happens.

use super::*;
use proptest::prelude::*;

proptest! {
    #[test]
    fn law_the_interval_holds_the_estimate_and_stays_in_range(
        start in 0.0_f64..1.0, seed in proptest::collection::vec((-30.0_f64..40.0, 0_u64..3000), 1..60)
    ) {
        for board in [board(), iron_board()] {
            let mut charge = Charge::new(&board, None);
            let mut now = 0;
            for &(current, tenths) in &seed {
                now += tenths;
                hear(&mut charge, at(now), &frame(&board, start, if current < 0.0 { 0.0 } else { current }), &board);
                let Estimate { soc, low, high } = charge.estimate();
                prop_assert!(Ratio::ZERO <= low && low <= soc && soc <= high && high <= Ratio::ONE);
            }
        }
    }

    #[test]
    fn law_a_step_told_in_two_counts_the_same(current in 0.0_f64..30.0, first in 1_u64..5, second in 1_u64..5) {
        let board = board();
        let told = frame(&board, 0.7, current);
        let mut one = Charge::new(&board, None);
        hear(&mut one, at(0), &told, &board);
        let mut two = one;
        hear(&mut one, at(first + second), &told, &board);
        hear(&mut two, at(first), &told, &board);
        hear(&mut two, at(first + second), &told, &board);
        let apart = (one.estimate().soc - two.estimate().soc).to_bits().abs();
        prop_assert!(apart <= 2, "{apart}");
    }

    #[test]
    fn law_lost_late_and_repeated_frames_never_harm(
        current in 1.0_f64..15.0, fates in proptest::collection::vec(0_u8..6, 100..400)
    ) {
        let board = board();
        let told = |soc| frame(&board, soc, current);
        let (mut whole, mut lossy) = (Charge::new(&board, None), Charge::new(&board, None));
        let mut soc = 0.9;
        hear(&mut whole, at(0), &told(soc), &board);
        hear(&mut lossy, at(0), &told(soc), &board);
        let mut now = 0;
        for fate in fates {
            now += 2;
            soc -= current * 0.2 / board.pack_capacity().to_f64();
            hear(&mut whole, at(now), &told(soc), &board);
            match fate {
                // Lost, alone or in a row.
                0 | 1 => {}
                // Late by a tenth of a second, in its old state.
                2 => { hear(&mut lossy, at(now + 1), &told(soc), &board); }
                // Twice at the same time.
                3 => {
                    hear(&mut lossy, at(now), &told(soc), &board);
                    let once = lossy.soc();
                    hear(&mut lossy, at(now), &told(soc), &board);
                    prop_assert_eq!(lossy.soc(), once);
                }
                _ => { hear(&mut lossy, at(now), &told(soc), &board); }
            }
            let Estimate { soc: told, low, high } = lossy.estimate();
            prop_assert!(Ratio::ZERO <= low && low <= told && told <= high && high <= Ratio::ONE);
        }
        hear(&mut whole, at(now + 2), &told(soc), &board);
        hear(&mut lossy, at(now + 2), &told(soc), &board);
        // The same charge was counted, but for rounding; windows of load are
        // read at other times, or not at all, and move both by no more than either was unsure of.
        let counted = (whole.scale.way.drawn + whole.drawn_share())
            - (lossy.scale.way.drawn + lossy.drawn_share());
        prop_assert!(counted.magnitude() < Ratio::from_fraction(1, 20_000), "{counted}");
        let Estimate { low, high, .. } = whole.estimate();
        prop_assert!(low <= lossy.soc() && lossy.soc() <= high, "{low} {} {high}", lossy.soc());
    }

    #[test]
    fn law_saving_and_restoring_keeps_the_estimate(start in 0.05_f64..0.95, seconds in 1_u64..600) {
        let board = board();
        let mut charge = Charge::new(&board, None);
        for second in 0..seconds {
            hear(&mut charge, at(second * 10), &frame(&board, start, 12.0), &board);
        }
        let restored = Charge::new(&board, charge.memory(&board));
        let apart = (restored.estimate().soc - charge.estimate().soc).to_bits().abs();
        prop_assert!(apart <= 2 && (restored.estimate().low <= charge.estimate().low));
    }

    #[test]
    fn law_a_rest_on_a_plateau_moves_the_estimate_by_no_more_than_it_was_unsure(
        truth in 0.45_f64..0.66, believed in 0.45_f64..0.66, percent in 1_i32..20
    ) {
        // 3.26 to 3.27 V: the flattest part of the published curve.
        let board = iron_board();
        let ledger = Ledger::default().blurred(Ratio::from_percent(percent));
        let soc = Ratio::from_f64(believed).unwrap();
        let memory = Memory { soc, ledger, scale: Scale::default(), relaxation: Relaxation::default(), resistance: Resistance::default() };
        let mut charge = Charge::new(&board, Some(memory));
        hear(&mut charge, at(0), &frame(&board, truth, 0.0), &board);
        let before = charge.estimate();
        for second in 1..300 {
            hear(&mut charge, at(second * 10), &frame(&board, truth, 0.0), &board);
        }
        let moved = (charge.estimate().soc - before.soc).magnitude();
        prop_assert!(moved <= (before.high - before.soc).max(before.soc - before.low));
    }
}
