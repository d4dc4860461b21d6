use std::path::Path;
fn main() {
    let a: Vec<String> = std::env::args().collect();
    let reference = homestretch_checks::reference::Reference::read(Path::new("/work/shared/reference"), &a[1]).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let path = homestretch_checks::board_file::write(&reference, folder.path()).unwrap();
    let board = homestretch_sim::board_file::BoardFile::open(path).unwrap();
    for seed in a[2].split(',') {
    let rows = homestretch_checks::spoiled::rows(&reference, homestretch_checks::spoiled::Spoiling { seed: Some(seed.parse().unwrap()), with_temperature: true }).unwrap();
    let mut ours = homestretch_sim::replay::Replay::new(&board.board, &board.throttle, None);
    let n = rows.len() / 24;
    print!("{seed} err%(half width): ");
    for (i, r) in rows.iter().enumerate() {
        let o = ours.live(&r.measured); let e = ours.estimate(&r.measured, &o);
        if i % n == n - 1 || i == 40 {
            
            print!("{:.1}({:.1};{:.2}) ", 100.0 * (e.soc - r.true_soc.unwrap()), 50.0 * (e.soc_high - e.soc_low), e.capacity_Ah);
        }
    }
    println!();
    }
}
