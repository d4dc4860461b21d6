use super::*;
use crate::board::tests::described;
use crate::charge::{Capacity, Estimate};
use crate::units::{Amperes, Celsius};
use proptest::prelude::*;
use std::vec::Vec;

fn board() -> Board {
    Board::new(described()).unwrap()
}

fn pack(percent: i32, degrees: i32) -> PackNow {
    let soc = Ratio::from_percent(percent);
    PackNow {
        charge: Estimate { soc, low: soc, high: soc },
        capacity_share: Ratio::ONE,
        temperature: Celsius::from_whole(degrees),
        resistance_scale: Ratio::ONE,
    }
}

fn usable(percent: i32, degrees: i32) -> f64 {
    let board = board();
    Usable::of(&pack(percent, degrees), Load::expected(&board), &board).energy().to_f64()
}

/// A block of a hundred metres that takes so much a metre.
fn block(joules_per_metre: i32) -> Leg {
    Leg {
        energy: Joules::from_whole(joules_per_metre.saturating_mul(100)),
        distance: Metres::from_whole(100),
    }
}

/// With what its block teaches.
fn taught(consumption: Consumption, board: &Board) -> Consumption {
    let (consumption, share) = consumption.next_block(board);
    consumption.learned(share)
}

/// What blocks teach, one after the other.
fn after(blocks: impl IntoIterator<Item = i32>) -> Consumption {
    let board = board();
    blocks.into_iter().fold(Consumption::new(None), |consumption, joules| {
        taught(consumption.with(block(joules)), &board)
    })
}

/// So many kilometres of a road that is always the same.
fn ridden(kilometres: usize, joules_per_metre: i32) -> Consumption {
    after(std::iter::repeat_n(joules_per_metre, kilometres * 10))
}

/// What a range with this consumption says of this pack.
fn remaining(consumption: Consumption, pack: PackNow) -> Remaining {
    let board = board();
    let mut range = Range::new(&board, None);
    range.consumption = consumption;
    range.first_look(Instant::from_millis(0), pack);
    while range.ponders() {
        range.ponder(&board);
    }
    range.remaining()
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
    let of = |pack: &PackNow| Usable::of(pack, Load::expected(&board), &board).energy().to_f64();
    assert!((of(&worn) / of(&pack(70, 20)) - 0.8).abs() < 1e-6);
}

#[test]
fn five_kilometres_of_a_smooth_road_teach_what_a_metre_costs() {
    let learned = ridden(5, 60).per_metre(&board()).to_f64();
    assert!((learned - 60.0).abs() < 3.0, "{learned}");
}

#[test]
fn what_a_metre_takes_now_is_within_a_tenth_a_kilometre_after_conditions_changed() {
    let board = board();
    // A headwind, a climb; soft wheels, a heavier rider; a tailwind.
    for changed in [90, 60, 48, 28] {
        let road = std::iter::repeat_n(40, 60).chain(std::iter::repeat_n(changed, 10));
        let now = after(road).now(&board).to_f64();
        let off = (now / f64::from(changed) - 1.0).abs();
        assert!(off < 0.1, "{changed} J/m: {now}");
    }
}

#[test]
fn a_hill_and_its_other_side_change_the_rule_little() {
    let hill = [40; 40].into_iter().chain([110; 8]).chain([-30; 8]).chain([40; 4]);
    let rule = after(hill).per_metre(&board()).to_f64();
    assert!((rule - 40.0).abs() < 4.0, "{rule}");
}

#[test]
fn a_smooth_road_is_learned_faster_than_a_hilly_one_of_the_same_mean() {
    let off = |blocks: Vec<i32>| (after(blocks).per_metre(&board()).to_f64() - 60.0).abs();
    let (smooth, hilly) = ([60; 15].to_vec(), [120, 0].repeat(7));
    assert!(off(smooth) < off(hilly));
}

#[test]
fn a_road_that_is_always_the_same_leaves_little_doubt() {
    let way = Metres::from_whole(5000);
    let before = Consumption::new(None).doubt_over(way);
    let after = ridden(10, 60).doubt_over(way);
    assert!(after.to_f64() < 0.6 * before.to_f64(), "{after} {before}");
}

#[test]
fn stands_cost_time_and_no_way() {
    let board = board();
    // Fifty seconds of 4 W at the end of each second block.
    let (mut with, mut without) = (Consumption::new(None), Consumption::new(None));
    for number in 0..200 {
        let stood = Joules::from_whole(if number % 2 == 0 { 200 } else { 0 });
        with = taught(with.with_stand(stood).with(block(40)).learned_of_stand(&board), &board);
        without = taught(without.with(block(40)), &board);
    }
    assert_eq!(with.riding_per_metre(&board), without.riding_per_metre(&board));
    let stands = (with.per_metre(&board) - without.per_metre(&board)).to_f64();
    assert!((stands - 1.0).abs() < 0.1, "{stands} J/m");
    // A coffee with everything switched on is no part of the way.
    let coffee = without.with_stand(Joules::from_whole(20_000)).with(block(40));
    let coffee = taught(coffee.learned_of_stand(&board), &board);
    let more = (coffee.per_metre(&board) - without.per_metre(&board)).to_f64();
    assert!(more < 0.3, "{more} J/m");
}

#[test]
fn another_day_is_trusted_less_than_the_ride_before_it() {
    let ridden = ridden(20, 60);
    let next = Consumption::new(Some(ridden.memory()));
    assert_eq!(next.per_metre(&board()), ridden.per_metre(&board()));
    let way = Metres::from_whole(20_000);
    assert!(next.doubt_over(way) > ridden.doubt_over(way));
    assert!(next.doubt_over(way) < Consumption::new(None).doubt_over(way));
}

#[test]
fn the_expected_load_is_that_of_the_prior() {
    // 42.2 J/m at 5.556 m/s are 234 W; over 30 cells of 3.35 V that is 2.3 A.
    let amperes = Load::expected(&board()).per_cell().to_f64();
    assert!((amperes - 2.33).abs() < 0.05, "{amperes}");
}

#[test]
fn rolling_downhill_for_ever_is_not_believed() {
    let learned = ridden(20, -30).per_metre(&board());
    assert!(learned >= board().prior_consumption().scaled(Ratio::from_percent(19)));
}

#[test]
fn a_resistance_that_was_learned_ends_the_charge_earlier() {
    let board = board();
    let load = Load::expected(&board);
    let worn = PackNow { resistance_scale: Ratio::from_whole(2), ..pack(80, 0) };
    let end = |pack: &PackNow| Usable::of(pack, load, &board).end;
    assert!(end(&worn) > end(&pack(80, 0)));
}

proptest! {
    #[test]
    fn law_less_charge_never_lengthens_the_range(
        a in 0_i32..=100, b in 0_i32..=100, degrees in -20_i32..45,
        blocks in proptest::collection::vec(-50_i32..200, 0..60),
    ) {
        let consumption = after(blocks);
        let at = |percent| remaining(consumption, pack(percent, degrees));
        let (less, more) = (at(a.min(b)), at(a.max(b)));
        prop_assert!(less.likely <= more.likely, "{} {}", less.likely, more.likely);
        prop_assert!(less.nine_in_ten <= more.nine_in_ten + Metres::from_whole(1));
    }

    #[test]
    fn law_a_colder_pack_never_lengthens_the_range(
        percent in 1_i32..=100, a in -20_i32..40, b in -20_i32..40, joules in 10_i32..150,
    ) {
        let at = |degrees| remaining(ridden(2, joules), pack(percent, degrees)).likely;
        prop_assert!(at(a.min(b)) <= at(a.max(b)) + Metres::from_whole(1));
    }

    #[test]
    fn law_a_steeper_or_windier_way_never_lengthens_the_range(
        a in -20_i32..200, b in -20_i32..200, before in 20_i32..80, kilometres in 0_usize..12,
    ) {
        let way = |joules| {
            let road = std::iter::repeat_n(before, 20).chain(std::iter::repeat_n(joules, kilometres * 10));
            remaining(after(road), pack(70, 20)).likely
        };
        prop_assert!(way(a.max(b)) <= way(a.min(b)) + Metres::from_whole(1));
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
    fn law_nine_in_ten_is_never_above_likely(
        legs in proptest::collection::vec((-3000_i32..20_000, 0_i32..300), 0..200),
        low in 0_i32..50, more in 0_i32..50,
    ) {
        let board = board();
        let mut range = Range::new(&board, None);
        let soc = Ratio::from_percent(low + more);
        let seen = Estimate { soc, low: Ratio::from_percent(low), high: soc };
        let (load, pack) = (Load::expected(&board), PackNow { charge: seen, ..pack(0, 15) });
        range.first_look(Instant::from_millis(0), pack);
        for (number, (joules, decimetres)) in (1..).zip(legs) {
            // Legs without a way are part of it: a board that stands divides by nothing.
            let leg = Leg {
                energy: Joules::from_whole(joules),
                distance: Metres::from_fraction(decimetres, 10),
            };
            range.ride(Instant::from_millis(number * 500), &Ridden { leg, stood: Joules::ZERO, load, pack, height: Height::UNKNOWN });
            while range.ponders() {
                range.ponder(&board);
            }
            let Remaining { likely, nine_in_ten } = range.remaining();
            prop_assert!(nine_in_ten <= likely && nine_in_ten >= Metres::ZERO);
        }
    }
}
