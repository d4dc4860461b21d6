//! Which limits are taken, which are refused, and where the usual ones come from.

use super::*;
use crate::throttle::USUAL_BRAKE;
use crate::throttle::limits::tests::usual_vehicle;

fn refused(change: impl Fn(&mut LimitSettings)) -> Option<Quantity> {
    let mut settings = LimitSettings::standard(&usual_vehicle());
    change(&mut settings);
    match Limits::new(&settings, USUAL_BRAKE) {
        Err(Error::OutOfRange { quantity, .. }) => Some(quantity),
        Ok(_) => None,
    }
}

#[test]
fn the_usual_limits_are_taken_for_any_usual_pack() {
    for series in 3..=24 {
        for amperes in [5, 20, 40, 200] {
            let greatest_discharge = Amperes::from_whole(amperes);
            let usual = Usual { series, greatest_discharge, ..usual_vehicle() };
            let settings = LimitSettings::standard(&usual);
            assert!(Limits::new(&settings, USUAL_BRAKE).is_ok(), "{series} cells, {amperes} A");
        }
    }
}

#[test]
fn limits_that_make_no_sense_are_refused_by_name() {
    assert_eq!(refused(|_| {}), None);
    assert_eq!(
        refused(|s| core::mem::swap(&mut s.sagging.begin, &mut s.sagging.end)),
        Some(Quantity::BandEnd(Reason::Sagging))
    );
    assert_eq!(
        refused(|s| s.stop_voltage.trip = s.sagging.begin),
        Some(Quantity::Trip(Reason::StopVoltage))
    );
    assert_eq!(
        refused(|s| s.stop_voltage.release = s.stop_voltage.trip),
        Some(Quantity::Release(Reason::StopVoltage))
    );
    assert_eq!(
        refused(|s| s.over_voltage.trip = s.sagging.begin),
        Some(Quantity::Trip(Reason::OverVoltage))
    );
    assert_eq!(
        refused(|s| s.over_voltage.release = s.over_voltage.trip),
        Some(Quantity::Release(Reason::OverVoltage))
    );
    assert_eq!(
        refused(|s| s.brake.stop_with = MetresPerSecondSquared::ZERO),
        Some(Quantity::StopWith)
    );
    assert_eq!(
        refused(|s| s.stale_brake = Ratio::from_milli(1001)),
        Some(Quantity::ShareLeft(Reason::StaleTelemetry))
    );
    assert_eq!(
        refused(|s| s.hot_motor.end = s.hot_motor.begin),
        Some(Quantity::BandEnd(Reason::HotMotor))
    );
    assert_eq!(
        refused(|s| s.reserve.begin = Ratio::from_percent(51)),
        Some(Quantity::BandBegin(Reason::Reserve))
    );
    assert_eq!(
        refused(|s| s.stale_drive = Ratio::from_milli(-1)),
        Some(Quantity::ShareLeft(Reason::StaleTelemetry))
    );
    assert_eq!(
        refused(|s| s.stale_stop.begin = Duration::from_millis(2999)),
        Some(Quantity::BandBegin(Reason::StaleTelemetry))
    );
}

#[test]
fn source_charging_temperatures_are_those_of_the_jeita_guideline() {
    // JEITA, 20 April 2007, as cited in the data sheets of TI BQ25611D, BQ25606, BQ25121.
    let s = LimitSettings::standard(&usual_vehicle());
    assert_eq!(s.cold_charge.end, Celsius::from_whole(0));
    assert_eq!(s.cold_charge.begin, Celsius::from_whole(10));
    assert_eq!(s.hot_charge.begin, Celsius::from_whole(45));
    assert_eq!(s.hot_charge.end, Celsius::from_whole(60));
}
