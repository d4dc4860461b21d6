use super::*;

fn faults(text: &str) -> Faults {
    Faults::new(&Script::parse(text).unwrap(), 1)
}

fn refused(text: &str) -> String {
    Script::parse(text).unwrap_err().to_string()
}

#[test]
fn a_fault_acts_from_its_time_for_as_long_as_it_says() {
    let mut faults = faults("[[fault]]\nkind = \"thumb-wire-open\"\nfrom_s = 10\nfor_s = 2\n");
    assert_eq!(faults.thumb(9.99, 2000, 4095), 2000);
    assert_eq!(faults.thumb(10.0, 2000, 4095), 0);
    assert_eq!(faults.thumb(11.98, 2000, 4095), 0);
    assert_eq!(faults.thumb(12.0, 2000, 4095), 2000);
}

#[test]
fn a_stuck_slider_stays_where_it_was_and_a_short_is_stronger() {
    let mut faults = faults(
        "[[fault]]\nkind = \"thumb-stuck\"\nfrom_s = 1\nfor_s = 4\n\
         [[fault]]\nkind = \"thumb-wire-shorted\"\nfrom_s = 3\nfor_s = 1\n",
    );
    assert_eq!(faults.thumb(1.0, 3000, 4095), 3000);
    assert_eq!(faults.thumb(2.0, 2048, 4095), 3000);
    assert_eq!(faults.thumb(3.5, 2048, 4095), 4095);
    assert_eq!(faults.thumb(4.5, 2048, 4095), 3000);
    assert_eq!(faults.thumb(5.0, 2048, 4095), 2048);
}

#[test]
fn noise_has_the_size_it_says_and_stays_within_the_converter() {
    let mut faults = faults("[[fault]]\nkind = \"thumb-noise\"\nfrom_s = 0\ncounts = 20\n");
    let read: Vec<f64> =
        (0..4000).map(|_| f64::from(faults.thumb(1.0, 2000, 4095)) - 2000.0).collect();
    let sigma = (read.iter().map(|off| off * off).sum::<f64>() / 4000.0).sqrt();
    assert!((sigma - 20.0).abs() < 1.0, "{sigma}");
    assert!(faults.thumb(1.0, 4090, 4095) <= 4095);
}

#[test]
fn silence_and_power_are_what_they_say() {
    let mut faults = faults(
        "[[fault]]\nkind = \"telemetry-silent\"\nfrom_s = 0\nfor_s = 1\n\
         [[fault]]\nkind = \"radio-silent\"\nfrom_s = 1\nfor_s = 1\n\
         [[fault]]\nkind = \"hand-hangs\"\nfrom_s = 0\nfor_s = 2\n\
         [[fault]]\nkind = \"hand-restarts\"\nfrom_s = 1\nfor_s = 2\n\
         [[fault]]\nkind = \"hand-clock-jumps\"\nfrom_s = 1\nby_s = -3\n",
    );
    let all = Slot { command: true, telemetry: true };
    assert_eq!(faults.radio(0.5, all), Slot { command: true, telemetry: false });
    assert_eq!(faults.radio(1.5, all), Slot { command: false, telemetry: false });
    assert_eq!(faults.radio(2.5, all), all);
    assert_eq!([0.5, 1.5, 3.5].map(|at| faults.hand(at)), [Power::Hangs, Power::Off, Power::On]);
    assert_eq!(faults.board(1.5), Power::On);
    assert!((faults.hand_clock_s(500.0) + 3.0).abs() < 1e-12);
}

#[test]
fn impossible_telemetry_is_impossible_and_leaves_a_lost_frame_alone() {
    let mut faults = faults("[[fault]]\nkind = \"telemetry-impossible\"\nfrom_s = 0\n");
    for _ in 0..50 {
        let mut row = Measured::at(1.0);
        let before = row.clone();
        faults.telemetry(1.0, &mut row);
        assert_ne!(row, before);
        let mut lost = row.lost();
        let before = lost.clone();
        faults.telemetry(1.0, &mut lost);
        assert_eq!(lost, before);
    }
}

#[test]
fn a_script_that_makes_no_sense_is_refused_by_name() {
    let told = refused("[[fault]]\nkind = \"radio-loss\"\nfrom_s = 3\nshare = 2\n");
    assert_eq!(told, "fault `radio-loss`: `share` is 2; allowed is 0 to 1");
    let told = refused("[[fault]]\nkind = \"thumb-stuck\"\nfrom_s = 3\nfor = 2\n");
    assert!(told.starts_with("fault script: `for` is not known; kind, from_s, for_s"), "{told}");
    let told = refused("[[fault]]\nfrom_s = 3\nkind = \"thumb-lost\"\n");
    assert!(told.contains("line 1: ") && told.contains("thumb-wire-open"), "{told}");
    assert!(refused("[[fault]]\nkind = \"thumb-stuck\"\n").contains("from_s"));
    assert!(Script::parse("").unwrap().faults.is_empty());
}

#[test]
fn drawn_faults_are_the_same_for_the_same_seed_and_meet_every_kind() {
    assert_eq!(draw(3), draw(3));
    let names: std::collections::BTreeSet<_> =
        (0..300).flat_map(|seed| draw(seed).faults).map(|fault| fault.kind.name()).collect();
    assert_eq!(names.len(), 22, "{names:?}");
    for seed in 0..300 {
        assert!(draw(seed).faults.iter().all(|fault| fault.from_s < 1505.0));
    }
}
