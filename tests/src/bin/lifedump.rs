use std::path::Path;
use homestretch_checks::spoiled::{rows, Spoiling};
use homestretch_sim::replay::Replay;
fn main() {
    let a: Vec<String> = std::env::args().collect();
    let reference = homestretch_checks::reference::Reference::read(Path::new("/work/shared/reference"), &a[1]).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let path = homestretch_checks::board_file::write(&reference, folder.path()).unwrap();
    let board = homestretch_sim::board_file::BoardFile::open(path).unwrap();
    let every: f64 = a[3].parse().unwrap();
    for seed in a[2].split(',') {
        let rows = rows(&reference, Spoiling { seed: Some(seed.parse().unwrap()), with_temperature: true }).unwrap();
        let mut life = None;
        for ride in reference.facts.segments.iter().filter(|s| s.kind == "ride") {
            let mut replay = Replay::new(&board.board, &board.throttle, life.as_ref());
            let mut next = ride.start_s;
            for row in rows.iter().filter(|r| r.measured.time_s >= ride.start_s && r.measured.time_s <= ride.end_s + 60.0) {
                let o = replay.live(&row.measured); let e = replay.estimate(&row.measured, &o);
                if row.measured.time_s >= next { next += every;
                    println!("{seed} {:.0} V {:.3} I {:.1} true {:.3} est {:.3} [{:.3} {:.3}] cap {:.3}", row.measured.time_s - ride.start_s, row.measured.pack_voltage_V.unwrap_or(f64::NAN) / reference.build.series, row.measured.pack_current_A.unwrap_or(f64::NAN), row.true_soc.unwrap(), e.soc, e.soc_low, e.soc_high, e.capacity_Ah); }
            }
            println!();
            life = replay.life().or(life);
        }
    }
}
