//! Where each limit begins and ends: plain values, their usual choice, and their check.
//!
//! Read by `limits` and `hard`, which act on them. Every default says where it comes from.

use super::direction::BACKWARD_FROM;
use super::error::{Error, Quantity, thousandths, within};
use super::hard::{HardLimits, Latch};
use super::limits::Limits;
use super::pace::WALK;
use super::ramp::{Acts, Band, Bounds, Ramp, Ramps, Reading};
use super::reasons::Reason;
use super::stopping::{BrakeSettings, ONE_OF_TWO_BRAKES, Stopping};
use crate::math::divide;
use crate::time::Duration;
use crate::units::{
    Amperes, Celsius, Kilograms, MetresPerSecond, MetresPerSecondSquared, Ratio, Volts,
};

/// Pack voltages that a limit may speak of: from one weak cell to far beyond a small vehicle.
const VOLTAGES: Bounds = Bounds { lowest: 1000, highest: 1_000_000, narrowest: 100 };
/// Pack currents.
const CURRENTS: Bounds = Bounds { lowest: 500, highest: 2_000_000, narrowest: 500 };
/// Cell temperatures: wider than any cell is made for.
const TEMPERATURES: Bounds = Bounds { lowest: -60_000, highest: 120_000, narrowest: 1000 };
/// Temperatures of motors and their controller.
const PART_TEMPERATURES: Bounds = Bounds { lowest: 30_000, highest: 250_000, narrowest: 2000 };
/// Speeds, up to 180 km/h. A band narrower than 0.2 m/s would be a switch.
const SPEEDS: Bounds = Bounds { lowest: 0, highest: 50_000, narrowest: 200 };
/// The upper bound of the charge; a band has to lie high enough to leave a brake for a ride.
const CHARGES: Bounds = Bounds { lowest: 500, highest: 1000, narrowest: 10 };
/// Charges at which a reserve may begin and end: less than half of a pack.
const RESERVES: Bounds = Bounds { lowest: 0, highest: 500, narrowest: 10 };
/// 10 km/h: half the air resistance of 14 km/h, and still twice as fast as a walk. No source.
const RESERVE_SPEED: MetresPerSecond = MetresPerSecond::from_milli(2778);
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
    /// Temperatures of the hottest motor between which drive falls from all to nothing.
    pub hot_motor: Band<Celsius>,
    /// Temperatures of the motor controller between which drive falls from all to nothing.
    pub hot_controller: Band<Celsius>,
    /// Likely charges, falling, of the reserve: in its first half drive falls to `reserve_drive`, in
    /// its second half the speed to `reserve_speed`. What is left goes further that way.
    pub reserve: Band<Ratio>,
    /// The share of drive left from the middle of the reserve on, 0 to 1.
    pub reserve_drive: Ratio,
    /// The top speed that is left to the last of the reserve, no slower than [`WALK`].
    pub reserve_speed: MetresPerSecond,
    /// Speeds between which drive falls from all to nothing. A pace's top speed has a band of the same
    /// width.
    pub top_speed: Band<MetresPerSecond>,
    /// Speeds between which the drive curve tapers from all to `taper_drive`: no limit, but its shape.
    pub taper: Band<MetresPerSecond>,
    /// The share of the drive curve at the end of the taper, 0 to 1.
    pub taper_drive: Ratio,
    /// Speeds, rising, between which drive comes; none: it comes at standstill too.
    pub push_start: Option<Band<MetresPerSecond>>,
    /// How the board brakes, and how well it has to.
    pub brake: BrakeSettings,
    /// Upper bounds of the charge between which charging falls to nothing.
    pub nearly_full: Band<Ratio>,
    /// Pack volts, rising, between which charging falls to nothing.
    pub near_full_voltage: Band<Volts>,
    /// Cell temperatures, falling, between which charging falls to nothing.
    pub cold_charge: Band<Celsius>,
    /// Cell temperatures, rising, between which charging falls to nothing.
    pub hot_charge: Band<Celsius>,
    /// Speeds, falling, between which braking falls to nothing.
    pub standstill: Band<MetresPerSecond>,
    /// Ages of telemetry between which drive falls to `stale_drive` and braking to `stale_brake`.
    pub stale_soften: Band<Duration>,
    /// The share of drive left to data that has gone stale, 0 to 1.
    pub stale_drive: Ratio,
    /// Ages of telemetry between which drive falls from `stale_drive` to nothing.
    pub stale_stop: Band<Duration>,
    /// The share of the brake curve, 0 to 1, that is left to data that has gone stale: a rider who
    /// needs to stop comes before a pack that may be full.
    pub stale_brake: Ratio,
    /// Pack volts at which all drive goes (hard), and those at which it may come back.
    pub stop_voltage: Latch,
    /// Pack volts at which all charging goes (hard), and those at which it may come back.
    pub over_voltage: Latch,
}

/// What the usual limits have to know of a vehicle.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Usual {
    /// Cells in series.
    pub series: u8,
    /// The greatest current out of the pack.
    pub greatest_discharge: Amperes,
    /// The greatest current into the pack.
    pub greatest_charge: Amperes,
    /// With its rider.
    pub mass: Kilograms,
}

impl LimitSettings {
    /// The usual limits of lithium-ion cells (nickel-rich oxides on graphite, 4.2 V when full).
    ///
    /// - Sag 3.3 to 3.0 V a cell, stop at 2.8, back at 3.2: above the usual cut-off of 2.5 to
    ///   3.0 V (from memory), because a mean voltage hides the weakest cell. Iron phosphate wants
    ///   values of its own.
    /// - Over-voltage at 4.25 V a cell, the upper limit of IEC 62133-2 annex A (from memory);
    ///   charging falls to nothing from 4.15 V to there.
    /// - Current: the last fifth of what the pack may give. Common practice, no source.
    /// - Charging temperatures: none at or below 0 °C nor above 60 °C, reduced from 0 to 10 °C and
    ///   from 45 to 60 °C (JEITA guideline of 20 April 2007, as cited in the data sheets of Texas
    ///   Instruments BQ25611D, BQ25606 and BQ25121).
    /// - Drive temperatures: full above 0 °C, 40 % at -20 °C; from 50 °C on less, none at 60 °C,
    ///   which are the usual ends for discharging (from memory).
    /// - Motors from 90 to 110 °C, where magnets and enamel begin to suffer, the motor controller from
    ///   75 to 90 °C, measured at its switches. Common practice, no source: the parts' sheets decide.
    /// - Reserve: from 10 % of the charge on less drive, half of it at 6 %; from there on less speed,
    ///   10 km/h at 2 %. No source; what it is worth in metres is measured (docs/range.md).
    /// - Charge: from 0.95 of its upper bound. No source: room for one long descent.
    /// - Brake: [`ONE_OF_TWO_BRAKES`] to stop with; wheels that roll (0.018 of the weight) beside the
    ///   motors; nothing without charging.
    /// - Top speed 20 km/h, the highest of the German eKFV (2019), folding back over the last
    ///   0.8 m/s; from half of it on the drive curve tapers to 70 %, since a standing rider at speed
    ///   has less to spare for balance (no source).
    /// - The brake fades below 1 m/s, a slow walk: a rider steps off there.
    /// - Telemetry: a burst of loss up to 1 s means nothing. After 3 s drive is 40 %, which sags no
    ///   more than 40 % as much as full drive did; it ends after 10 s, in which 20 A move 0.06 Ah,
    ///   less than a hundredth of a small pack: no cell is emptied unseen. Of the brake 0.3 is left,
    ///   0.9 m/s² of 3. No source.
    #[must_use]
    pub fn standard(usual: &Usual) -> Self {
        let cells = |milli| Volts::from_milli(milli).times(usual.series);
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
        let percent = Ratio::from_percent;
        Self {
            sagging: Band { begin: cells(3300), end: cells(3000) },
            discharge_current: Band {
                begin: usual.greatest_discharge.scaled(percent(80)),
                end: usual.greatest_discharge,
            },
            cold_pack: Some(degrees(0, -20)),
            cold_pack_drive: percent(40),
            hot_pack: Some(degrees(50, 60)),
            hot_motor: degrees(90, 110),
            hot_controller: degrees(75, 90),
            reserve: Band { begin: percent(10), end: percent(2) },
            reserve_drive: percent(50),
            reserve_speed: RESERVE_SPEED,
            top_speed: speeds(4755, 5555),
            taper: speeds(2778, 5555),
            taper_drive: percent(70),
            push_start: None,
            brake: BrakeSettings {
                charge_current: usual.greatest_charge,
                mass: usual.mass,
                stop_with: ONE_OF_TWO_BRAKES,
                beside_motors: MetresPerSecondSquared::from_milli(177),
                without_charging: MetresPerSecondSquared::ZERO,
            },
            nearly_full: Band { begin: percent(95), end: Ratio::ONE },
            near_full_voltage: Band { begin: cells(4150), end: cells(4250) },
            cold_charge: degrees(10, 0),
            hot_charge: degrees(45, 60),
            standstill: speeds(1000, 0),
            stale_soften: ages(1000, 3000),
            stale_drive: percent(40),
            stale_stop: ages(3000, 10_000),
            stale_brake: percent(30),
            stop_voltage: Latch { trip: cells(2800), release: cells(3200) },
            over_voltage: Latch { trip: cells(4250), release: cells(4150) },
        }
    }
}

impl Limits {
    /// The limits, checked and prepared, for a full thumb that brakes with `greatest_brake`.
    ///
    /// # Errors
    /// [`Error::OutOfRange`]: `BandBegin` or `BandEnd` of a reason (outside what can be, too
    /// narrow, or the wrong way round), `ShareLeft` of one, `Trip` or `Release` of a hard one (the
    /// stop voltage has to lie below where sag has taken all drive, and a release on the safe side of
    /// its trip); what [`BrakeSettings`] says of its own.
    pub fn new(
        settings: &LimitSettings,
        greatest_brake: MetresPerSecondSquared,
    ) -> Result<Self, Error> {
        let s = settings;
        let none = Ratio::ZERO;
        let (falling, rising) = (Acts::Falling, Acts::Rising);
        let mut ramps = Ramps::default();
        let (stale_soften, stale_stop, stale_brake) = by_age(s, &mut ramps);
        let (cold, hot) = (s.cold_charge.begin, s.hot_charge.begin);
        let coldest_free = s.cold_pack.map_or(cold, |band| cold.max(band.begin));
        let hottest_free = s.hot_pack.map_or(hot, |band| hot.min(band.begin));

        let mut by = |reason, band, acts, least| ramps.ramp(reason, band, (acts, least), VOLTAGES);
        let sagging = by(Reason::Sagging, s.sagging, falling, none);
        let near_full_voltage = by(Reason::NearlyFull, s.near_full_voltage, rising, none);
        let mut by = |reason, band, acts, least| ramps.ramp(reason, band, (acts, least), CURRENTS);
        let discharge_current = by(Reason::DischargeCurrent, s.discharge_current, rising, none);
        let mut by =
            |reason, band, acts, least| ramps.ramp(reason, band, (acts, least), TEMPERATURES);
        let cold_pack =
            s.cold_pack.map(|band| by(Reason::ColdPack, band, falling, s.cold_pack_drive));
        let hot_pack = s.hot_pack.map(|band| by(Reason::HotPack, band, rising, none));
        let cold_charge = by(Reason::ColdCharge, s.cold_charge, falling, none);
        let hot_charge = by(Reason::HotCharge, s.hot_charge, rising, none);
        let mut by =
            |reason, band, acts, least| ramps.ramp(reason, band, (acts, least), PART_TEMPERATURES);
        let hot_motor = by(Reason::HotMotor, s.hot_motor, rising, none);
        let hot_controller = by(Reason::HotController, s.hot_controller, rising, none);
        let mut by = |reason, band, acts, least| ramps.ramp(reason, band, (acts, least), SPEEDS);
        let top_speed = s.top_speed.end;
        by(Reason::TopSpeed, s.top_speed, rising, none);
        let taper = by(Reason::TopSpeed, s.taper, rising, s.taper_drive);
        let standstill = by(Reason::Standstill, s.standstill, falling, none);
        let backward = by(Reason::TopSpeed, Band { begin: BACKWARD_FROM, end: WALK }, rising, none);
        let push_start = s.push_start.map(|band| {
            let turned = Band { begin: band.end, end: band.begin };
            by(Reason::PushStart, turned, falling, none)
        });
        let nearly_full = ramps.ramp(Reason::NearlyFull, s.nearly_full, (rising, none), CHARGES);
        let (reserve, reserve_speed) = reserve(s, &mut ramps);
        ramps.first_fault()?;
        let band = i64::from(top_speed.bits().saturating_sub(s.top_speed.begin.bits())).max(1);
        let stopping = Stopping::new(&s.brake, top_speed, greatest_brake, s.sagging.end)?;
        Ok(Self {
            sagging,
            discharge_current,
            cold_pack,
            hot_pack,
            hot_motor,
            hot_controller,
            reserve,
            reserve_speed,
            taper,
            push_start,
            nearly_full,
            near_full_voltage,
            cold_charge,
            hot_charge,
            coldest_free,
            hottest_free,
            standstill,
            backward,
            stale_soften,
            stale_stop,
            stale_brake,
            stale_drive: s.stale_drive,
            stale_brake_left: s.stale_brake,
            hard: hard(s, stopping.floor)?,
            stopping,
            top_speed,
            per_speed_band: divide(1, band, 32),
            fresh_until: s.stale_soften.begin,
        })
    }
}

/// What the reserve takes: of drive in its first half, of the top speed in its second.
fn reserve(s: &LimitSettings, ramps: &mut Ramps) -> (Ramp, Ramp) {
    // Checked as one band, then drawn as two.
    ramps.ramp(Reason::Reserve, s.reserve, (Acts::Falling, s.reserve_drive), RESERVES);
    let slowest = thousandths(s.reserve_speed.to_micro());
    let walk = thousandths(WALK.to_micro());
    ramps.check(within(Quantity::ReserveSpeed, slowest, walk, SPEEDS.highest));
    let (begin, end) = (s.reserve.begin.bits(), s.reserve.end.bits());
    let middle = begin.midpoint(end);
    let least = s.reserve_drive.held_within(Ratio::ZERO, Ratio::ONE);
    let (slowest, top) = (i64::from(s.reserve_speed.bits()), i64::from(s.top_speed.end.bits()));
    let share = Ratio::from_bits(divide(slowest, top.max(1), Ratio::FRACTION_BITS));
    let share = share.held_within(Ratio::ZERO, Ratio::ONE);
    let drive = Ramp::between((middle, least), (begin, Ratio::ONE));
    (drive, Ramp::between((end, share), (middle, Ratio::ONE)))
}

/// What age takes of drive, in two pieces, and of the brake.
fn by_age(s: &LimitSettings, ramps: &mut Ramps) -> (Ramp, Ramp, Ramp) {
    let aged = |ramps: &mut Ramps, band, least| {
        ramps.ramp(Reason::StaleTelemetry, band, (Acts::Rising, least), AGES)
    };
    let soften = aged(ramps, s.stale_soften, s.stale_drive);
    let quantity = Quantity::BandBegin(Reason::StaleTelemetry);
    let (from, until) = (s.stale_stop.begin.milli(), s.stale_soften.end.milli());
    ramps.check(within(quantity, from, until, AGES.highest));
    // Checked as any band; then drawn from the share that the first piece leaves.
    aged(ramps, s.stale_stop, Ratio::ZERO);
    let stale = s.stale_drive.held_within(Ratio::ZERO, Ratio::ONE);
    let ends = (s.stale_stop.begin.bits(), s.stale_stop.end.bits());
    let stop = Ramp::between((ends.0, stale), (ends.1, Ratio::ZERO));
    (soften, stop, aged(ramps, s.stale_soften, s.stale_brake))
}

/// The hard limits, each on its own side of the slow ones.
fn hard(s: &LimitSettings, floor: Ratio) -> Result<HardLimits, Error> {
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
    Ok(HardLimits { stop, over, floor })
}

#[cfg(test)]
mod tests;
