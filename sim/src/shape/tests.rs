use std::sync::Arc;

use proptest::prelude::*;

use super::*;
use crate::feel::{Conditioned, Machine, verdict_over};
use crate::route::Surface;
use crate::tuning::Draft;

const LANTERN: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/boards/lantern.toml");

fn lantern() -> Draft {
    Draft::new(LANTERN, std::fs::read_to_string(LANTERN).unwrap()).unwrap()
}

fn order(seed: u64) -> Order {
    Order { seed, to_speed_m_s: None, generations: 4, stop: Arc::new(|| false) }
}

fn shaped(seed: u64, threads: usize) -> Shaped {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
    pool.install(|| search(&lantern(), &order(seed), &|| {})).unwrap()
}

#[test]
fn trade_offs_keep_all_laws_on_a_finer_grid_and_none_dominates_another() {
    let shaped = shaped(3, 2);
    assert!((3..=7).contains(&shaped.trade_offs.len()), "{shaped}");
    let machine = Machine::new(lantern().file()).unwrap();
    for one in &shaped.trade_offs {
        assert!(one.verdict.passes);
        for other in &shaped.trade_offs {
            assert!(!dominates(&one.worth, &other.worth), "{shaped}");
        }
        // Riders and a charge that neither the search nor its last look had.
        let mut cases = Conditioned::all(lantern().file(), &[Surface::Concrete]);
        for case in &mut cases {
            case.stand.mass_kg = 0.97 * case.stand.mass_kg + 0.03 * 90.0;
            case.stand.charge = 0.5 * case.stand.charge + 0.15;
        }
        let verdict = verdict_over(&machine, one.draft.file(), &cases).unwrap();
        assert!(verdict.passes, "{:#?}", verdict.laws);
    }
    let balanced = shaped.balanced().unwrap();
    assert_eq!(balanced.name, "balanced");
    // What was there is there still, and is read back.
    let again = Draft::new(LANTERN, balanced.draft.text()).unwrap();
    assert_eq!(again.file().paces, lantern().file().paces);
    assert!(balanced.draft.text().contains("# local law decides"));
    assert_eq!(again.values(), balanced.draft.values());
}

#[test]
fn the_same_seed_is_the_same_whatever_the_number_of_threads() {
    let one = shaped(5, 1);
    let other = shaped(5, 2);
    assert_eq!(one.to_string(), other.to_string());
    assert_eq!(one.json(), other.json());
    assert_ne!(shaped(6, 2).to_string(), one.to_string());
}

#[test]
fn a_board_whose_riders_bear_next_to_nothing_is_told_what_breaks_least_and_where() {
    let draft = lantern().with_number("riders.bear_drive_jerk_m_s3", 0.1).unwrap();
    let error = search(&draft, &order(1), &|| {}).unwrap_err();
    let told = error.to_string();
    assert!(told.starts_with("no settings keep all laws; the nearest breaks: drive "), "{told}");
    assert!(told.contains(" m/s³ where 0.1 is allowed: light rider, "), "{told}");
}

#[test]
fn a_speed_that_the_board_does_not_reach_is_refused() {
    let order = Order { to_speed_m_s: Some(8.4), ..order(1) };
    let told = search(&lantern(), &order, &|| {}).unwrap_err().to_string();
    assert_eq!(told, "the speed is 8.4 m/s; 1 to 7.65 is allowed on this board");
}

#[test]
fn a_search_that_is_stopped_at_once_has_judged_one_generation() {
    let order = Order { stop: Arc::new(|| true), ..order(3) };
    let judged = std::sync::atomic::AtomicU32::new(0);
    let count = || {
        judged.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
    };
    let _ = search(&lantern(), &order, &count);
    assert_eq!(judged.into_inner(), 40);
}

fn worth(numbers: [f64; 4]) -> Worth {
    let [to_speed_s, strain, stop_m, fineness_s2_m] = numbers;
    Worth { to_speed_s, strain, stop_m, fineness_s2_m }
}

#[test]
fn better_in_something_and_worse_in_nothing_dominates() {
    let usual = worth([3.0, 0.8, 15.0, 1.0]);
    assert!(!dominates(&usual, &usual));
    assert!(dominates(&worth([3.0, 0.7, 15.0, 1.0]), &usual));
    assert!(dominates(&worth([3.0, 0.8, 15.0, 1.1]), &usual));
    assert!(!dominates(&worth([2.0, 0.9, 15.0, 1.0]), &usual));
}

proptest! {
    #[test]
    fn law_a_front_has_no_member_that_another_dominates_and_misses_none(
        places in prop::collection::vec(prop::array::uniform4(0_u8..6), 1..40),
    ) {
        let space = Space::of(lantern().file());
        let members: Vec<Member> = places
            .iter()
            .map(|place| Member {
                candidate: space.candidate(&[0.5; 8]),
                judged: Judged {
                    worth: worth(place.map(f64::from)),
                    worst: Vec::new(),
                    broken: Vec::new(),
                },
            })
            .collect();
        let front = front::undominated(members.clone());
        for one in &members {
            let is_there = front.iter().any(|kept| kept.judged.worth == one.judged.worth);
            let beaten = members.iter().any(|other| dominates(&other.judged.worth, &one.judged.worth));
            prop_assert_eq!(is_there, !beaten);
        }
        let shown = front::ordered(&front);
        prop_assert_eq!(shown.len(), front.len());
        prop_assert_eq!(shown.first().map(|one| one.0), Some("balanced"));
    }

    #[test]
    fn law_any_shares_make_a_legal_file_with_whole_thousandths(
        shares in prop::array::uniform8(-0.2..1.2_f64),
    ) {
        let candidate = Space::of(lantern().file()).candidate(&shares);
        let draft = candidate.applied(&lantern()).unwrap();
        let values = draft.values().values;
        prop_assert!((values["throttle.drive_on_m_s3"] - candidate.drive_on_m_s3).abs() < 1e-4);
        prop_assert!((values["throttle.full_brake_m_s2"] - candidate.full_brake_m_s2).abs() < 1e-4);
        for (_, number) in candidate.numbers() {
            prop_assert!(number.to_string().len() <= 6, "{}", number);
        }
    }
}
