use super::*;
use crate::board::tests::described;
use crate::range::Leg;
use proptest::prelude::*;
use std::vec::Vec;

fn board() -> Board {
    Board::new(described()).unwrap()
}

fn look(home: &mut Home, consumption: &Consumption) {
    let lent = home.lent_part(consumption);
    home.look_at_need(consumption, lent, &board());
    home.look_at_doubt(consumption);
}

/// A ride of blocks of a hundred metres, each with what a metre took and how high it ended.
#[derive(Clone, Copy)]
struct Ride {
    home: Home,
    consumption: Consumption,
}

impl Ride {
    fn new() -> Self {
        Self { home: Home::here(None), consumption: Consumption::new(None) }
    }

    fn block(self, joules_per_metre: i32, climb_joules: i32) -> Self {
        let (board, mut home) = (board(), self.home);
        let leg = Leg {
            energy: Joules::from_whole(joules_per_metre.saturating_mul(100)),
            distance: Metres::from_whole(100),
        };
        let (consumption, share) = self.consumption.with(leg).next_block(&board);
        let consumption = consumption.learned(share);
        home.ridden(leg.energy, leg.distance, climb_joules);
        look(&mut home, &consumption);
        Self { home, consumption }
    }

    fn ridden(self, blocks: usize, joules_per_metre: i32) -> Self {
        (0..blocks).fold(self, |ride, _| ride.block(joules_per_metre, 0))
    }

    fn turned(mut self) -> Self {
        self.home.turn();
        self
    }

    fn need(&self) -> f64 {
        f64::from(self.home.need_joules)
    }

    /// The word after so many looks at so much that is left.
    fn word(&mut self, joules: i32, looks: usize) -> Word {
        let left =
            Left { energy: Joules::from_whole(joules), doubt: Joules::from_whole(joules / 20) };
        let per_metre = self.consumption.per_metre(&board());
        (0..looks).for_each(|_| self.home.look_at_word(left, per_metre));
        self.home.word
    }
}

#[test]
fn a_level_way_takes_back_what_it_took_out() {
    let ride = Ride::new().ridden(50, 42);
    assert!((ride.need() - 5000.0 * 42.0).abs() < 0.05 * 210_000.0, "{}", ride.need());
}

#[test]
fn a_tailwind_out_is_a_headwind_home() {
    // By the rule of earlier rides 42 J/m; 30 on the way out.
    let rule = crate::range::RuleMemory { share: Ratio::ONE, doubt: Ratio::from_percent(3) };
    let home = Home::here(Some(Ratio::ONE));
    let ride = Ride { consumption: Consumption::new(Some(rule)), home };
    let home = ride.ridden(40, 30).need();
    assert!(home > 1.3 * 4000.0 * 30.0, "{home}");
}

#[test]
fn a_climb_that_is_measured_comes_back_in_part_and_a_descent_in_whole() {
    let way = |rise_m: i32| {
        // Blocks come without their climb.
        (0..40).fold(Ride::new(), |ride, _| {
            // 90 kg · 9.81 m/s² / 0.75 for each metre.
            ride.block(42, rise_m * 1177 / 40)
        })
    };
    let (up, level, down) = (way(60).need(), way(0).need(), way(-60).need());
    assert!(up < level && level < down, "{up} {level} {down}");
    // 90 kg · 9.81 · 60 m / 0.75 are 71 kJ to climb home.
    assert!(down - level > 40_000.0, "{down} {level}");
}

#[test]
fn at_home_the_need_is_zero_and_plenty_is_left() {
    let mut ride = Ride::new().ridden(30, 45).turned().ridden(31, 45);
    assert_eq!(ride.home.need_joules, 0);
    assert_eq!(ride.word(1000, 40), Word::Plenty);
    let mut fresh = Ride::new();
    assert_eq!((fresh.home.need_joules, fresh.word(0, 9)), (0, Word::Plenty));
}

#[test]
fn every_word_has_its_time() {
    let energy = [2_000_000, 500_000, 330_000, 200_000];
    let words = energy.map(|joules| Ride::new().ridden(60, 42).word(joules, 3));
    assert_eq!(words, [Word::Plenty, Word::TurnSoon, Word::TurnNow, Word::WillNotReach]);
}

#[test]
fn a_start_on_the_way_goes_on_with_it() {
    let ride = Ride::new().ridden(30, 45).turned().ridden(10, 45);
    let mut next = Home::remembered(ride.home.memory(), Ratio::from_percent(50));
    look(&mut next, &ride.consumption);
    assert_eq!(next.distance_m(), 2000);
    assert_eq!(next.need_joules, ride.home.need_joules);
}

#[test]
fn past_home_and_the_next_day_the_way_is_a_new_one() {
    let ride = Ride::new().ridden(30, 45).turned().ridden(36, 45);
    assert_eq!((ride.home.way.heading, ride.home.distance_m()), (Heading::Away, 600));
    assert!((ride.need() - 600.0 * 45.0).abs() < 0.2 * 27_000.0, "{}", ride.need());
    let home = Ride::new().ridden(30, 45).turned().ridden(30, 45).home.memory();
    let next_day = Home::remembered(home, Ratio::from_percent(40));
    assert_eq!(next_day.memory(), Memory::default());
    // A turn before anything is ridden is none.
    assert_eq!(Ride::new().turned().home.way.heading, Heading::Away);
}

#[test]
fn a_charger_is_taken_for_home() {
    let away = Ride::new().ridden(30, 45).home.memory();
    let next = Home::remembered(away, Ratio::from_percent(40));
    assert!(next.was_charged(Ratio::from_percent(60)));
    assert!(!next.was_charged(Ratio::from_percent(45)));
    assert!(!Home::here(None).was_charged(Ratio::ONE));
}

proptest! {
    #[test]
    fn law_the_way_home_never_takes_more_as_it_is_ridden(
        out in 1_usize..80, joules in 10_i32..120, back in 0_usize..80,
    ) {
        let mut ride = Ride::new().ridden(out, joules).turned();
        for _ in 0..back {
            let before = ride.home.need_joules;
            // The rule learns on the way; here it stays as it is.
            ride.home.ridden(Joules::ZERO, Metres::from_whole(100), 0);
            look(&mut ride.home, &ride.consumption);
            if ride.home.way.heading == Heading::Away {
                // Past home: a new way out.
                break;
            }
            prop_assert!(ride.home.need_joules <= before && ride.home.need_joules >= 0);
        }
    }

    #[test]
    fn law_no_word_flickers(
        looks in proptest::collection::vec(0_i32..400_000, 1..400),
    ) {
        let mut ride = Ride::new().ridden(60, 42);
        let mut said: Vec<(usize, Word)> = Vec::new();
        for (look, joules) in looks.into_iter().enumerate() {
            let before = ride.home.word;
            let word = ride.word(joules, 1);
            if word != before {
                said.push((look, word));
            }
        }
        for pair in said.windows(2) {
            // A word that is taken back for a better one has stood for a minute: looks are five
            // seconds apart.
            if pair[1].1 < pair[0].1 {
                prop_assert!(pair[1].0 - pair[0].0 > 12, "{said:?}");
            }
        }
    }

    #[test]
    fn law_less_that_is_left_is_never_a_better_word(a in 0_i32..3_000_000, b in 0_i32..3_000_000) {
        let word = |joules| Ride::new().ridden(60, 42).word(joules, 3);
        prop_assert!(word(a.min(b)) >= word(a.max(b)));
    }

    #[test]
    fn law_any_ride_keeps_its_numbers_in_their_bounds(
        blocks in proptest::collection::vec((-300_i32..3000, -5000_i32..5000), 0..100),
        turn in 0_usize..100, left in 0_i32..i32::MAX,
    ) {
        let mut ride = Ride::new();
        for (number, (joules, decimetres)) in blocks.into_iter().enumerate() {
            if number == turn {
                ride.home.turn();
            }
            ride = ride.block(joules, decimetres * 100);
            ride.word(left, 1);
        }
        let shown = ride.home.shown(Joules::from_whole(left), ride.consumption.per_metre(&board()));
        prop_assert!(shown.need >= Joules::ZERO && shown.need <= shown.need_nine_in_ten);
        prop_assert!(shown.distance >= Metres::ZERO);
        prop_assert!(shown.margin_share.magnitude() <= Ratio::ONE);
    }
}
