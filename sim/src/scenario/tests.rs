use super::*;
use crate::campaign::town;
use crate::plant::radio::RadioSettings;

fn opened(text: &str) -> Result<Scenario, String> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("day.toml");
    std::fs::write(&path, text).unwrap();
    Scenario::open(&path).map_err(|error| {
        let told = format!("{:#}", anyhow::Error::from(error));
        told.replace(&path.display().to_string(), "day.toml")
    })
}

fn board() -> BoardFile {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/boards");
    BoardFile::open(format!("{folder}/lantern.toml")).unwrap()
}

#[test]
fn an_empty_file_is_a_usual_day() {
    assert_eq!(opened("").unwrap(), Scenario::default());
}

#[test]
fn a_file_sets_what_it_names_and_leaves_the_rest() {
    let day = opened(
        "[pack]\ncharge = 0.5\n[sensors]\ncurrent_step_A = 0.5\n[radio]\nkind = \"perfect\"\n\
         [rider]\nhaste = 1.1\n[weld]\nat_s = 10\ngroup = 2\ncells = 1\n",
    )
    .unwrap();
    let usual = Scenario::default();
    let expected = Scenario {
        pack: PackOfDay { charge: 0.5, ..usual.pack },
        sensors: SensorSettings { current_step_A: 0.5, ..silent_sensors() },
        radio: RadioSettings::Perfect {},
        rider: RiderSettings { haste: 1.1, ..usual.rider },
        weld: Some(WeldOfDay { at_s: 10.0, group: 2, cells: 1 }),
        ..usual
    };
    assert_eq!(day, expected);
}

#[test]
fn a_fault_is_told_with_its_place_its_value_and_what_is_allowed() {
    let told = |text| opened(text).unwrap_err();
    assert_eq!(
        told("[pack]\ncharge = 1.5\n"),
        "in `day.toml`: scenario: `pack.charge` is 1.5; allowed is 0.02 to 1"
    );
    assert!(told("[air]\ntemperature = 3\n").starts_with(
        "scenario `day.toml`, line 2: unknown field `temperature`, expected one of `temperature_degC`"
    ));
    assert!(
        told("[sensors]\nsingle_loss = { lowest = 0, highest = 1 }\n")
            .contains("frames are lost by the [radio]")
    );
    assert_eq!(
        told("[rider]\nhaste = 9\n"),
        "in `day.toml`: no such rider: rider's `haste` is 9; allowed is 0.5 to 1.5"
    );
    assert!(told("[pack]\ncharge = nan\n").contains("`pack.charge` is NaN"));
}

#[test]
fn the_bundled_scenarios_are_days() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/scenarios");
    let mut days = 0;
    for file in std::fs::read_dir(folder).unwrap() {
        Scenario::open(file.unwrap().path()).unwrap();
        days += 1;
    }
    assert!(days >= 3);
}

#[test]
fn what_is_true_changes_the_plant_and_not_the_board() {
    let board = board();
    let pattern = || Pattern::Route(Arc::new(town(1, 7.0).unwrap()));
    let mut day = Scenario::default();
    day.vehicle.mass_kg = Some(70.0);
    day.vehicle.wheel_share = Some(0.9);
    day.pack.capacity_share = 0.85;
    let setup = day.setup(&board, pattern(), 1).unwrap();
    assert!((setup.vehicle.body.mass_kg() - 70.0).abs() < 1e-9);
    assert!((setup.vehicle.body.shown_per_true() - 1.0 / 0.9).abs() < 1e-4);
    let usual = Scenario::default().setup(&board, pattern(), 1).unwrap();
    assert!((usual.vehicle.body.mass_kg() - 88.0).abs() < 1e-4);
    // The motors are those that the builder's figures make, whoever rides.
    let same = (setup.vehicle.motor.kv_rpm_V, setup.vehicle.controller.max_motor_A);
    assert_eq!(same, (usual.vehicle.motor.kv_rpm_V, usual.vehicle.controller.max_motor_A));
    assert!(setup.pack.age.capacity_share < usual.pack.age.capacity_share);
}
