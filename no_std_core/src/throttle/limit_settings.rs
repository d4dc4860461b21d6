//! Where each limit begins and ends: plain values, their usual choice, and their check.
//!
//! Read by `limits` and `hard`, which act on them. Every default says where it comes from.

use super::error::{Error, Quantity, thousandths, within};
use super::hard::{HardLimits, Latch};
use super::limits::Limits;
use super::ramp::{Acts, Band, Bounds, Ramp, Ramps, Reading};
use super::reasons::Reason;
use crate::time::Duration;
use crate::units::{Amperes, Celsius, MetresPerSecond, Ratio, Volts};

/// Pack voltages that a limit may speak of: from one weak cell to far beyond a small vehicle.
const VOLTAGES: Bounds = Bounds { lowest: 1000, highest: 1_000_000, narrowest: 100 };
/// Pack currents.
const CURRENTS: Bounds = Bounds { lowest: 500, highest: 2_000_000, narrowest: 500 };
/// Cell temperatures: wider than any cell is made for.
const TEMPERATURES: Bounds = Bounds { lowest: -60_000, highest: 120_000, narrowest: 1000 };
/// Speeds, up to 180 km/h. A band narrower than 0.2 m/s would be a switch.
const SPEEDS: Bounds = Bounds { lowest: 0, highest: 50_000, narrowest: 200 };
/// The upper bound of the charge; a band has to lie high enough to leave a brake for a ride.
const CHARGES: Bounds = Bounds { lowest: 500, highest: 1000, narrowest: 10 };
/// Ages of telemetry, up to a minute. Anything under half a second is not a limit's but the
/// shaping's business.
const AGES: Bounds = Bounds { lowest: 100, highest: 60_000, narrowest: 500 };

/// Every limit, as plain values. [`Limits::new`] checks them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LimitSettings {
    /// Pack volts between which drive falls from all to nothing.
    pub sagging: Band<Volts>,
    /// Pack amperes, discharge positive, between which drive falls from all to nothing.
    pub discharge_current: Band<Amperes>,
    /// Cell temperatures between which drive falls from all to `cold_pack_drive`; none: no limit.
    pub cold_pack: Option<Band<Celsius>>,
    /// The share of drive left to the coldest pack, 0 to 1.
    pub cold_pack_drive: Ratio,
    /// Cell temperatures between which drive falls from all to nothing; none: no limit.
    pub hot_pack: Option<Band<Celsius>>,
    /// Speeds between which drive falls from all to nothing.
    pub top_speed: Band<MetresPerSecond>,
    /// Upper bounds of the charge between which braking falls to its floor.
    pub nearly_full: Band<Ratio>,
    /// Cell temperatures, falling, between which braking falls to its floor.
    pub cold_charge: Band<Celsius>,
    /// Cell temperatures, rising, between which braking falls to its floor.
    pub hot_charge: Band<Celsius>,
    /// Speeds, falling, between which braking falls to nothing.
    pub standstill: Band<MetresPerSecond>,
    /// Ages of telemetry between which drive falls to `stale_drive` and braking to its floor.
    pub stale_soften: Band<Duration>,
    /// The share of drive left to data that has gone stale, 0 to 1.
    pub stale_drive: Ratio,
    /// Ages of telemetry between which drive falls from `stale_drive` to nothing.
    pub stale_stop: Band<Duration>,
    /// The share of the brake curve, 0 to 1, that is left whatever the pack takes.
    ///
    /// Turning work into heat in the motors alone brakes little at speed, so this is the builder's
    /// choice of the least brake worth keeping over the least charge worth sparing the pack.
    pub brake_without_charging: Ratio,
    /// Pack volts at which all drive goes (hard), and those at which it may come back.
    pub stop_voltage: Latch,
    /// Pack volts at which braking goes to its floor (hard), and those at which it may come back.
    pub over_voltage: Latch,
}

impl LimitSettings {
    /// The usual limits of `series` lithium-ion cells (nickel-rich oxides on graphite, 4.2 V when
    /// full) that may give `greatest_discharge`.
    ///
    /// - Sag 3.3 to 3.0 V a cell, stop at 2.8, back at 3.2: above the usual cut-off of 2.5 to
    ///   3.0 V (from memory), because a mean voltage hides the weakest cell. Iron phosphate wants
    ///   values of its own.
    /// - Over-voltage at 4.25 V a cell, the upper limit of IEC 62133-2 annex A (from memory).
    /// - Current: the last fifth of what the pack may give. Common practice, no source.
    /// - Charging temperatures: none at or below 0 °C nor above 60 °C, reduced from 0 to 10 °C and
    ///   from 45 to 60 °C (JEITA guideline of 20 April 2007, as cited in the data sheets of Texas
    ///   Instruments BQ25611D, BQ25606 and BQ25121).
    /// - Drive temperatures: full above 0 °C, 40 % at -20 °C; from 50 °C on less, none at 60 °C,
    ///   which are the usual ends for discharging (from memory).
    /// - Charge: from 0.95 of its upper bound. No source: room for one long descent.
    /// - Top speed 20 km/h, the highest of the German eKFV (2019), folding back over the last
    ///   0.8 m/s.
    /// - The brake fades below 1 m/s, a slow walk: a rider steps off there.
    /// - Telemetry: a burst of loss up to 1 s means nothing. After 3 s drive is 40 %, which sags no
    ///   more than 40 % as much as full drive did; it ends after 10 s, in which 20 A move 0.06 Ah,
    ///   less than a hundredth of a small pack: no cell is emptied unseen. No source.
    /// - A brake floor of 0.3: 0.9 m/s² of 3. An assumption, to be measured on the board.
    #[must_use]
    pub fn standard(series: u8, greatest_discharge: Amperes) -> Self {
        let cells = |milli| Volts::from_milli(milli).times(series);
        let degrees =
            |begin, end| Band { begin: Celsius::from_whole(begin), end: Celsius::from_whole(end) };
        let speeds = |begin, end| Band {
            begin: MetresPerSecond::from_milli(begin),
            end: MetresPerSecond::from_milli(end),
        };
        let ages = |begin, end| Band {
            begin: Duration::from_millis(begin),
            end: Duration::from_millis(end),
        };
        Self {
            sagging: Band { begin: cells(3300), end: cells(3000) },
            discharge_current: Band {
                begin: greatest_discharge.scaled(Ratio::from_percent(80)),
                end: greatest_discharge,
            },
            cold_pack: Some(degrees(0, -20)),
            cold_pack_drive: Ratio::from_percent(40),
            hot_pack: Some(degrees(50, 60)),
            top_speed: speeds(4755, 5555),
            nearly_full: Band { begin: Ratio::from_percent(95), end: Ratio::ONE },
            cold_charge: degrees(10, 0),
            hot_charge: degrees(45, 60),
            standstill: speeds(1000, 0),
            stale_soften: ages(1000, 3000),
            stale_drive: Ratio::from_percent(40),
            stale_stop: ages(3000, 10_000),
            brake_without_charging: Ratio::from_percent(30),
            stop_voltage: Latch { trip: cells(2800), release: cells(3200) },
            over_voltage: Latch { trip: cells(4250), release: cells(4150) },
        }
    }
}

impl Limits {
    /// The limits, checked and prepared.
    ///
    /// # Errors
    /// [`Error::OutOfRange`]: `BandBegin` or `BandEnd` of a reason (outside what can be, too
    /// narrow, or the wrong way round), `ShareLeft` of one or `BrakeWithoutCharging` (not within
    /// 0 and 1), `Trip` or `Release` of a hard one (the stop voltage has to lie below where sag
    /// has taken all drive, and a release on the safe side of its trip).
    pub fn new(settings: &LimitSettings) -> Result<Self, Error> {
        let s = settings;
        let floor = s.brake_without_charging;
        within(Quantity::BrakeWithoutCharging, thousandths(floor.to_micro()), 0, 1000)?;
        let none = Ratio::ZERO;
        let (falling, rising) = (Acts::Falling, Acts::Rising);
        let mut ramps = Ramps::default();
        let aged = |ramps: &mut Ramps, band, least| {
            ramps.ramp(Reason::StaleTelemetry, band, (rising, least), AGES)
        };
        let soften_end = s.stale_soften.end.milli();
        let stop_begin = s.stale_stop.begin.milli();
        let quantity = Quantity::BandBegin(Reason::StaleTelemetry);
        let stale_soften = aged(&mut ramps, s.stale_soften, s.stale_drive);
        ramps.check(within(quantity, stop_begin, soften_end, AGES.highest));
        // Checked as any band; then drawn from the share that the first piece leaves.
        aged(&mut ramps, s.stale_stop, none);
        let stale = s.stale_drive.held_within(none, Ratio::ONE);
        let stale_stop =
            Ramp::between((s.stale_stop.begin.bits(), stale), (s.stale_stop.end.bits(), none));

        let (cold, hot) = (s.cold_charge.begin, s.hot_charge.begin);
        let coldest_free = s.cold_pack.map_or(cold, |band| cold.max(band.begin));
        let hottest_free = s.hot_pack.map_or(hot, |band| hot.min(band.begin));

        let mut by = |reason, band, acts, least| ramps.ramp(reason, band, (acts, least), VOLTAGES);
        let sagging = by(Reason::Sagging, s.sagging, falling, none);
        let mut by = |reason, band, acts, least| ramps.ramp(reason, band, (acts, least), CURRENTS);
        let discharge_current = by(Reason::DischargeCurrent, s.discharge_current, rising, none);
        let mut by =
            |reason, band, acts, least| ramps.ramp(reason, band, (acts, least), TEMPERATURES);
        let cold_pack =
            s.cold_pack.map(|band| by(Reason::ColdPack, band, falling, s.cold_pack_drive));
        let hot_pack = s.hot_pack.map(|band| by(Reason::HotPack, band, rising, none));
        let cold_charge = by(Reason::ColdCharge, s.cold_charge, falling, floor);
        let hot_charge = by(Reason::HotCharge, s.hot_charge, rising, floor);
        let mut by = |reason, band, acts, least| ramps.ramp(reason, band, (acts, least), SPEEDS);
        let top_speed = by(Reason::TopSpeed, s.top_speed, rising, none);
        let standstill = by(Reason::Standstill, s.standstill, falling, none);
        let nearly_full = ramps.ramp(Reason::NearlyFull, s.nearly_full, (rising, floor), CHARGES);
        let stale_brake = aged(&mut ramps, s.stale_soften, floor);
        ramps.first_fault()?;
        Ok(Self {
            sagging,
            discharge_current,
            cold_pack,
            hot_pack,
            top_speed,
            nearly_full,
            cold_charge,
            hot_charge,
            coldest_free,
            hottest_free,
            standstill,
            stale_soften,
            stale_stop,
            stale_brake,
            stale_drive: stale,
            floor,
            hard: hard(s)?,
            fresh_until: s.stale_soften.begin,
        })
    }
}

/// The hard limits, each on its own side of the slow ones.
fn hard(s: &LimitSettings) -> Result<HardLimits, Error> {
    let Bounds { lowest, highest, narrowest } = VOLTAGES;
    let (stop, over) = (s.stop_voltage, s.over_voltage);
    let (trip, release) = (thousandths(stop.trip.to_micro()), thousandths(stop.release.to_micro()));
    within(
        Quantity::Trip(Reason::StopVoltage),
        trip,
        lowest,
        thousandths(s.sagging.end.to_micro()),
    )?;
    let above = trip.saturating_add(narrowest);
    within(Quantity::Release(Reason::StopVoltage), release, above, highest)?;
    let (trip, release) = (thousandths(over.trip.to_micro()), thousandths(over.release.to_micro()));
    let begin = thousandths(s.sagging.begin.to_micro()).saturating_add(narrowest);
    within(Quantity::Trip(Reason::OverVoltage), trip, begin, highest)?;
    let below = trip.saturating_sub(narrowest);
    within(Quantity::Release(Reason::OverVoltage), release, lowest, below)?;
    Ok(HardLimits { stop, over, floor: s.brake_without_charging })
}

#[cfg(test)]
mod tests;
