use super::*;
use crate::board::tests::described;
use crate::charge::Estimate;
use crate::units::{Amperes, Celsius};
use proptest::prelude::*;

fn board() -> Board {
    Board::new(described()).unwrap()
}

fn pack(percent: i32, degrees: i32) -> PackNow {
    let soc = Ratio::from_percent(percent);
    PackNow {
        charge: Estimate { soc, low: soc, high: soc },
        capacity_share: Ratio::ONE,
        temperature: Celsius::from_whole(degrees),
    }
}

fn usable(percent: i32, degrees: i32) -> f64 {
    let board = board();
    Usable::of(&pack(percent, degrees), Load::expected(&board), &board).energy.to_f64()
}

fn ridden(metres: u32, joules_per_metre: i32) -> Consumption {
    (0..metres).fold(Consumption::new(&board(), None), |consumption, _| {
        consumption.after(Leg {
            energy: Joules::from_whole(joules_per_metre),
            distance: Metres::from_whole(1),
        })
    })
}

#[test]
fn a_full_pack_holds_nearly_its_nominal_energy_in_the_warm() {
    // 10 · 3 cells of 5.15 Ah at about 3.75 V, less what stays below the stop voltage.
    let nominal = 30.0 * 5.153 * 3600.0 * 3.75;
    let share = usable(100, 25) / nominal;
    assert!((0.88..1.0).contains(&share), "{share}");
}

#[test]
fn a_worn_pack_holds_less_in_proportion() {
    let board = board();
    let worn = PackNow { capacity_share: Ratio::from_percent(80), ..pack(70, 20) };
    let of = |pack: &PackNow| Usable::of(pack, Load::expected(&board), &board).energy.to_f64();
    assert!((of(&worn) / of(&pack(70, 20)) - 0.8).abs() < 1e-6);
}

#[test]
fn three_kilometres_teach_what_a_metre_costs() {
    let learned = ridden(3000, 60).per_metre().to_f64();
    assert!((learned - 60.0).abs() < 3.0, "{learned}");
}

#[test]
fn a_road_that_is_always_the_same_leaves_little_doubt() {
    let before = Consumption::new(&board(), None).doubt_over(Metres::from_whole(5000));
    let after = ridden(10_000, 60).doubt_over(Metres::from_whole(5000));
    assert!(after < before, "{after} {before}");
}

#[test]
fn the_expected_load_is_that_of_the_prior() {
    // 38.3 J/m at 5.556 m/s are 213 W; over 30 cells of 3.35 V that is 2.1 A.
    let amperes = Load::expected(&board()).per_cell().to_f64();
    assert!((amperes - 2.12).abs() < 0.05, "{amperes}");
}

#[test]
fn rolling_downhill_for_ever_is_not_believed() {
    let learned = ridden(20_000, -30).per_metre();
    assert!(learned >= board().prior_consumption().scaled(Ratio::from_percent(19)));
}

proptest! {
    #[test]
    fn law_less_charge_never_lengthens_the_range(a in 0_i32..=100, b in 0_i32..=100, degrees in -20_i32..45) {
        prop_assert!(usable(a.min(b), degrees) <= usable(a.max(b), degrees));
    }

    #[test]
    fn law_a_colder_pack_never_holds_more(percent in 1_i32..=100, a in -20_i32..40, b in -20_i32..40) {
        prop_assert!(usable(percent, a.min(b)) <= usable(percent, a.max(b)) + 1.0);
    }

    #[test]
    fn law_a_heavier_load_ends_earlier(a in 100_i32..15_000, b in 100_i32..15_000) {
        let board = board();
        let end = |milliamperes| {
            let current = Amperes::from_milli(milliamperes * 3);
            let capacity = Capacity::new(board.pack_capacity());
            let load = Load::expected(&board).after(current, capacity.whole(), capacity, &board);
            Usable::of(&pack(80, 10), load, &board).end
        };
        prop_assert!(end(a.min(b)) <= end(a.max(b)));
    }

    #[test]
    fn law_nine_in_ten_is_never_above_likely(joules in 5_i32..200, metres in 1_u32..4000, low in 0_i32..50, more in 0_i32..50) {
        let board = board();
        let mut range = Range::new(&board, None);
        let soc = Ratio::from_percent(low + more);
        let seen = Estimate { soc, low: Ratio::from_percent(low), high: soc };
        let leg = Leg { energy: Joules::from_whole(joules), distance: Metres::from_whole(1) };
        for second in 0..metres {
            let now = Instant::from_millis(u64::from(second) * 200);
            let load = Load::expected(&board);
            range.first_look(now, PackNow { charge: seen, ..pack(0, 15) });
            range.ride(now, &Ridden { leg, load, pack: PackNow { charge: seen, ..pack(0, 15) } });
            while range.ponders() {
                range.ponder(&board);
            }
        }
        let Remaining { likely, nine_in_ten } = range.remaining();
        prop_assert!(nine_in_ten <= likely && nine_in_ten >= Metres::ZERO);
    }
}

use crate::charge::Capacity;
