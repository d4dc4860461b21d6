use super::*;
use std::sync::atomic::AtomicU64;

fn board() -> BoardFile {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/boards");
    BoardFile::open(format!("{folder}/heron.toml")).unwrap()
}

/// Rows and sums of a campaign on so many threads.
fn ridden(plan: &Plan, threads: usize) -> (String, Tally) {
    let board = board();
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
    let mut record = RecordWriter::new(Vec::new()).unwrap();
    let mut tally = Tally::default();
    pool.install(|| {
        run(&board, plan, &AtomicBool::new(false), &|| (), |ride| {
            tally.add(&ride);
            record.write(&ride).map_err(CampaignError::Record)
        })
    })
    .unwrap();
    (String::from_utf8(record.into_inner().unwrap()).unwrap(), tally)
}

fn plan(seed: u64) -> Plan {
    Plan {
        rides: 6,
        seed,
        range_every: 3,
        rides_before: 0,
        home_every: 0,
        faults_every: 2,
        seal: true,
        pattern: None,
    }
}

#[test]
fn a_campaign_is_the_same_on_one_thread_and_on_many() {
    let one = ridden(&plan(5), 1);
    assert_eq!(one, ridden(&plan(5), 3));
    assert_ne!(one.0, ridden(&plan(6), 3).0);
    assert_eq!(one.0.lines().count(), 7);
}

#[test]
fn the_sums_are_those_of_the_rows() {
    let (rows, tally) = ridden(&plan(5), 2);
    let all = tally.all();
    assert_eq!(all.rides, 6);
    let mut reader = csv::Reader::from_reader(rows.as_bytes());
    let header = reader.headers().unwrap().clone();
    let at = |name: &str| header.iter().position(|column| column == name).unwrap();
    let (mut km, mut claims) = (0.0, 0);
    for row in reader.records() {
        let row = row.unwrap();
        km += row[at("distance_km")].parse::<f64>().unwrap();
        claims += row[at("range_claims")].parse::<u64>().unwrap_or(0);
    }
    // Rows have a tenth of a metre.
    assert!((km - all.distance_km).abs() < 0.001, "{km} for {}", all.distance_km);
    assert_eq!(claims, all.range.claims());
    assert!(claims > 0);
    for (group, sums) in tally.iter() {
        assert!(sums.rides <= 6, "{}", group.name());
    }
}

#[test]
fn a_campaign_that_is_told_to_stop_tells_what_is_finished() {
    let (board, stop, lived) = (board(), AtomicBool::new(false), AtomicU64::new(0));
    let plan = Plan { rides: 1000, range_every: 0, faults_every: 0, ..plan(1) };
    let mut finished = 0;
    run(
        &board,
        &plan,
        &stop,
        &|| {
            if lived.fetch_add(1, Ordering::Relaxed) >= 3 {
                stop.store(true, Ordering::Relaxed);
            }
        },
        |_| {
            finished += 1;
            Ok(())
        },
    )
    .unwrap();
    assert!((3..64).contains(&finished), "{finished}");
}

#[test]
fn riders_who_turn_when_told_come_home_with_something_left() {
    let board = board();
    let turning = Plan { rides: 4, rides_before: 1, home_every: 1, faults_every: 0, ..plan(3) };
    let mut tally = Tally::default();
    let (stop, lived) = (AtomicBool::new(false), || {});
    run(&board, &turning, &stop, &lived, |ride| {
        let home = ride.home.unwrap();
        assert!(ride.range.is_none());
        assert!(home.stuck || home.turned_at_m.is_some_and(|at_m| at_m > 1000.0), "{home:?}");
        tally.add(&ride);
        Ok(())
    })
    .unwrap();
    let home = tally.all().home;
    assert!(home.rides >= 2 && home.stranded <= 1, "{home:?}");
    let left = home.median_left().unwrap();
    assert!((0.02..0.6).contains(&left), "{left}");
    assert!(home.median_beyond_reserve().unwrap() <= left);
}
