use super::*;
use proptest::prelude::*;

fn line() -> RestingCurve {
    RestingCurve::new(
        &[Ratio::ZERO, Ratio::ONE],
        &[
            (Celsius::from_whole(0), &[Volts::from_milli(3000), Volts::from_milli(4000)]),
            (Celsius::from_whole(20), &[Volts::from_milli(3100), Volts::from_milli(4100)]),
        ],
    )
    .unwrap()
}

/// Any curve that the rules allow, with flat stretches among the steep ones.
pub(crate) fn any_curve() -> impl Strategy<Value = RestingCurve> {
    proptest::collection::vec((1_u32..1000, 0_i32..130), 2..40).prop_map(|steps| {
        let total: u32 = steps.iter().map(|s| s.0).sum();
        let (mut soc, mut volts) = (std::vec![Ratio::ZERO], std::vec![Volts::from_milli(2500)]);
        let (mut sum, mut high) = (0, 2500);
        for (width, rise) in steps {
            sum += width;
            high += rise;
            soc.push(Ratio::from_fraction(sum.cast_signed(), total));
            volts.push(Volts::from_milli(high));
        }
        RestingCurve::new(&soc, &[(Celsius::from_whole(25), &volts)]).unwrap()
    })
}

#[test]
fn a_voltage_between_points_and_temperatures_lies_on_the_line() {
    let curve = line();
    let at = curve.at(Celsius::from_whole(10));
    assert_eq!(at.voltage(Ratio::from_fraction(1, 2)).to_milli(), 3549);
    assert_eq!(curve.at(Celsius::from_whole(-40)).voltage(Ratio::ZERO).to_milli(), 3000);
    assert!((at.slope(Ratio::from_fraction(1, 2)).to_f64() - 1.0).abs() < 0.001);
}

#[test]
fn the_energy_of_a_straight_line_is_its_mean_voltage() {
    let energy = line().energy_below(Ratio::ONE).to_f64();
    assert!((energy - 3.6).abs() < 0.001, "{energy}");
    assert_eq!(line().energy_below(Ratio::ZERO), Volts::ZERO);
}

#[test]
fn a_trimmed_curve_runs_between_the_narrower_voltages() {
    let mut trimmed = line();
    trimmed.trim(Ratio::from_percent(25), Ratio::from_percent(75));
    let at = trimmed.at(Celsius::from_whole(0));
    assert!((at.voltage(Ratio::ZERO).to_f64() - 3.25).abs() < 0.001);
    assert!((at.voltage(Ratio::ONE).to_f64() - 3.75).abs() < 0.001);
    assert!((at.voltage(Ratio::from_percent(50)).to_f64() - 3.5).abs() < 0.001);
}

#[test]
fn a_falling_curve_is_refused_with_both_voltages() {
    let (high, low) = (Volts::from_milli(3700), Volts::from_milli(3600));
    let fault =
        RestingCurve::new(&[Ratio::ZERO, Ratio::ONE], &[(Celsius::from_whole(25), &[high, low])]);
    assert_eq!(fault.unwrap_err(), CurveFault::VoltageFalls { point: 1, before: high, given: low });
}

#[test]
fn a_curve_without_its_ends_is_refused() {
    let soc = [Ratio::from_percent(10), Ratio::ONE];
    let volts = [Volts::from_milli(3000), Volts::from_milli(4000)];
    let fault = RestingCurve::new(&soc, &[(Celsius::from_whole(25), &volts)]).unwrap_err();
    assert_eq!(fault, CurveFault::EndMissing { first: soc[0], last: soc[1] });
}

#[test]
fn a_voltage_that_no_cell_has_is_refused() {
    let volts = [Volts::from_milli(3000), Volts::from_whole(8)];
    let fault = RestingCurve::new(&[Ratio::ZERO, Ratio::ONE], &[(Celsius::from_whole(25), &volts)]);
    assert_eq!(
        fault.unwrap_err(),
        CurveFault::VoltageOutOfRange { point: 1, given: Volts::from_whole(8) }
    );
}

proptest! {
    #[test]
    fn law_voltage_never_falls_as_charge_rises(curve in any_curve(), a in 0_i32..=1 << 24, b in 0_i32..=1 << 24) {
        let at = curve.at(Celsius::from_whole(25));
        let (low, high) = (Ratio::from_bits(a.min(b)), Ratio::from_bits(a.max(b)));
        prop_assert!(at.voltage(low) <= at.voltage(high));
        prop_assert!(curve.energy_below(low) <= curve.energy_below(high));
    }

    #[test]
    fn law_charge_of_a_voltage_gives_that_voltage_back(curve in any_curve(), a in 0_i32..=1 << 24) {
        let at = curve.at(Celsius::from_whole(25));
        let voltage = at.voltage(Ratio::from_bits(a));
        let again = at.voltage(at.soc(voltage));
        // One part in 2^16 of a grid step of at most 8 V, and the bits of a volt.
        prop_assert!((again - voltage).magnitude() <= Volts::from_milli(1), "{voltage} {again}");
    }

    #[test]
    fn law_charge_never_falls_as_voltage_rises(curve in any_curve(), a in 2000_i32..5000, b in 2000_i32..5000) {
        let at = curve.at(Celsius::from_whole(25));
        let (low, high) = (Volts::from_milli(a.min(b)), Volts::from_milli(a.max(b)));
        prop_assert!(at.soc(low) <= at.soc(high));
        prop_assert!(at.soc(low) >= Ratio::ZERO && at.soc(high) <= Ratio::ONE);
    }
}
