//! From a document to a board: each key once, each fault noted, nothing guessed.
//!
//! Used by `board_file`. Names and ranges are the library's own (`board::Quantity`), so that a
//! file and a description are refused in the same words. Thumb and throttle have a file of their
//! own, `controls`.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use homestretch::board::{Board, Cell, Description, Fault, Pack, Quantity, Sensors, Vehicle};
use homestretch::cell::published::{ALL, PublishedCell};
use homestretch::cell::{ResistanceMap, RestingCurve};
use homestretch::units::{
    Amperes, Celsius, Coulombs, Joules, Kilograms, Metres, Ohms, Ratio, Volts,
};

use super::document::{Document, dotted};
use super::fault::FileFault;
use super::{BoardFile, controls, motors, riders, tables};

/// Cell temperature to go by where neither telemetry nor the file tells: a room.
const ASSUMED_DEGC: f64 = 20.0;

/// Reads the board file `text`, which stands at `path`.
///
/// # Errors
/// Every fault found.
pub(super) fn read(text: &str, path: &Path) -> Result<BoardFile, Vec<FileFault>> {
    let document = Document::parse(text)?;
    let folder = path.parent().map(Path::to_path_buf).unwrap_or_default();
    let reader = Reader { document: &document, folder, lines: RefCell::default() };
    let name = reader.name(path);
    let board = reader.described().and_then(|described| reader.checked(described));
    let throttle = controls::read(&document, board.as_ref());
    let motors = motors::read(&document);
    let riders = riders::read(&document, board.as_ref());
    let faults = document.into_faults();
    match (board, throttle, riders) {
        (Some(board), Some(controls), Some(riders)) if faults.is_empty() => {
            let controls::Controls { tuning, settings: throttle, paces } = controls;
            let path = path.to_path_buf();
            Ok(BoardFile { name, board, tuning, throttle, paces, motors, riders, path })
        }
        _ if faults.is_empty() => Err(vec![FileFault::of_file("describes no board".to_owned())]),
        _ => Err(faults),
    }
}

struct Reader<'d, 't> {
    document: &'d Document<'t>,
    folder: PathBuf,
    /// Where each quantity stands, for faults that only the whole board shows.
    lines: RefCell<BTreeMap<Quantity, usize>>,
}

impl Reader<'_, '_> {
    fn name(&self, path: &Path) -> String {
        let stem =
            || path.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
        self.document.text("", "name").map_or_else(stem, |(name, _)| name)
    }

    /// The number of a quantity where it is given. One that is out of range is blamed and given
    /// all the same, so that the rest of the board can still be looked at.
    fn optional(&self, quantity: Quantity) -> Option<f64> {
        let (value, line) = self.document.number(quantity.section(), quantity.key())?;
        self.lines.borrow_mut().insert(quantity, line);
        if let Err(fault) = check(quantity, value) {
            self.document.blame(line, fault);
        }
        Some(value)
    }

    fn required(&self, quantity: Quantity) -> Option<f64> {
        let value = self.optional(quantity);
        let (section, key) = (quantity.section(), quantity.key());
        let given = value.is_some() || self.document.has(section, key);
        if !given {
            let bounds = quantity.bounds();
            self.document.miss(format!(
                "{quantity} is missing; a number from {} to {} is wanted",
                decimal(bounds.lowest),
                decimal(bounds.highest)
            ));
        }
        value
    }

    fn count(&self, quantity: Quantity) -> Option<u8> {
        let value = self.required(quantity)?;
        let whole = value.round().clamp(0.0, 255.0);
        if (value - value.round()).abs() > f64::EPSILON {
            let line = self.lines.borrow().get(&quantity).copied().unwrap_or(1);
            self.document.blame(line, format!("{quantity} is {value}; a whole number is wanted"));
        }
        // Held to what fits; what does not has been blamed.
        format!("{whole:.0}").parse().ok()
    }

    fn described(&self) -> Option<Description> {
        let cell = self.cell();
        let pack = self.pack();
        let vehicle = self.vehicle();
        let sensors = self.sensors();
        let degrees = self.optional(Quantity::AssumedTemperature).unwrap_or(ASSUMED_DEGC);
        Some(Description {
            cell: cell?,
            pack: pack?,
            vehicle: vehicle?,
            sensors,
            assumed_temperature: Celsius::from_f64(degrees)?,
        })
    }

    fn cell(&self) -> Option<Cell> {
        let capacity = self.required(Quantity::CellCapacity);
        let lowest = self.required(Quantity::CellLowestVoltage);
        let highest = self.required(Quantity::CellHighestVoltage);
        let max_discharge = self.required(Quantity::CellMaxDischarge);
        let max_charge = self.required(Quantity::CellMaxCharge);
        let doubt = self.optional(Quantity::CellCurveDoubt).and_then(Volts::from_f64);
        let resting = self.resting();
        let resistance = self.resistance();
        Some(Cell {
            capacity: held(capacity? * 3600.0, Coulombs::from_f64, Coulombs::MAX),
            lowest: held(lowest?, Volts::from_f64, Volts::MAX),
            highest: held(highest?, Volts::from_f64, Volts::MAX),
            max_discharge: held(max_discharge?, Amperes::from_f64, Amperes::MAX),
            max_charge: held(max_charge?, Amperes::from_f64, Amperes::MAX),
            resting: resting?,
            resistance: resistance?,
            curve_doubt: doubt.unwrap_or(Cell::CURVE_DOUBT),
        })
    }

    fn resting(&self) -> Option<RestingCurve> {
        const KEY: &str = "resting_voltage";
        let Some((text, line)) = self.document.text("cell", KEY) else {
            self.miss_table(KEY);
            return None;
        };
        let curve = match PublishedCell::named(&text) {
            Some(cell) => cell.resting_curve().map_err(|fault| fault.to_string()),
            None => self.table(&text, tables::read_resting_curve),
        };
        self.blamed(line, KEY, curve)
    }

    fn resistance(&self) -> Option<ResistanceMap> {
        const KEY: &str = "resistance";
        let quantity = Quantity::CellResistance;
        match self.document.kind("cell", KEY) {
            None => {
                self.miss_table(KEY);
                None
            }
            Some(super::document::Kind::Number) => {
                let ohms = self.optional(quantity)?;
                check(quantity, ohms).ok()?;
                let map = Ohms::from_f64(ohms).map(ResistanceMap::from_one)?;
                let line = self.lines.borrow().get(&quantity).copied().unwrap_or(1);
                self.blamed(line, KEY, map.map_err(|fault| fault.to_string()))
            }
            Some(super::document::Kind::Other) => {
                let (text, line) = self.document.text("cell", KEY)?;
                let map = match PublishedCell::named(&text) {
                    Some(cell) => cell.resistance_map().map_err(|fault| fault.to_string()),
                    None => self.table(&text, tables::read_resistance),
                };
                self.blamed(line, KEY, map)
            }
        }
    }

    fn table<T>(
        &self,
        name: &str,
        read: impl Fn(&Path) -> Result<T, tables::TableError>,
    ) -> Result<T, String> {
        let path = self.folder.join(name);
        if path.is_file() {
            return read(&path).map_err(|error| error.to_string());
        }
        let cells: Vec<_> = ALL.iter().map(|cell| cell.key).collect();
        Err(format!(
            "`{name}` is neither a file beside the board file nor a cell; the cells are {}",
            cells.join(", ")
        ))
    }

    fn blamed<T>(&self, line: usize, key: &str, result: Result<T, String>) -> Option<T> {
        result
            .map_err(|fault| self.document.blame(line, format!("{}: {fault}", dotted("cell", key))))
            .ok()
    }

    fn miss_table(&self, key: &'static str) {
        if !self.document.has("cell", key) {
            self.document.miss(format!(
                "cell.{key} is missing; a table's file name or a published cell is wanted"
            ));
        }
    }

    fn pack(&self) -> Option<Pack> {
        let series = self.count(Quantity::PackSeries);
        let parallel = self.count(Quantity::PackParallel);
        let soften_below = self.required(Quantity::PackSoften);
        let stop_below = self.required(Quantity::PackStop);
        let spread = self.optional(Quantity::PackSpread).and_then(Ratio::from_f64);
        let through = self.document.flag("pack", "discharge_through_protection");
        Some(Pack {
            series: series?,
            parallel: parallel?,
            soften_below: held(soften_below?, Volts::from_f64, Volts::MAX),
            stop_below: held(stop_below?, Volts::from_f64, Volts::MAX),
            discharge_through_protection: through.unwrap_or(false),
            spread: spread.unwrap_or(Pack::SPREAD),
        })
    }

    fn vehicle(&self) -> Option<Vehicle> {
        let mass = self.required(Quantity::VehicleMass);
        let wheel = self.required(Quantity::VehicleWheel);
        let share = |quantity, usual: Ratio| {
            self.optional(quantity).map_or(usual, |value| held(value, Ratio::from_f64, Ratio::MAX))
        };
        let rolling_resistance = share(Quantity::VehicleRolling, Vehicle::ROLLING_RESISTANCE);
        let drag_area_m2 = share(Quantity::VehicleDragArea, Vehicle::DRAG_AREA_M2);
        let drivetrain_efficiency =
            share(Quantity::VehicleEfficiency, Vehicle::DRIVETRAIN_EFFICIENCY);
        let consumption = self.optional(Quantity::VehicleConsumption);
        Some(Vehicle {
            mass: held(mass?, Kilograms::from_f64, Kilograms::MAX),
            wheel_diameter: held(wheel?, Metres::from_f64, Metres::MAX),
            rolling_resistance,
            drag_area_m2,
            drivetrain_efficiency,
            // One watt-hour per kilometre is 3.6 joules per metre.
            consumption_per_metre: consumption
                .map(|value| held(value * 3.6, Joules::from_f64, Joules::MAX)),
        })
    }

    fn sensors(&self) -> Sensors {
        let usual = Sensors::TYPICAL;
        let share = |quantity, usual: Ratio| {
            self.optional(quantity).and_then(Ratio::from_f64).unwrap_or(usual)
        };
        Sensors {
            current_gain_error: share(Quantity::SensorCurrentGain, usual.current_gain_error),
            current_offset: self
                .optional(Quantity::SensorCurrentOffset)
                .and_then(Amperes::from_f64)
                .unwrap_or(usual.current_offset),
            voltage_gain_error: share(Quantity::SensorVoltageGain, usual.voltage_gain_error),
            voltage_step: self
                .optional(Quantity::SensorVoltageStep)
                .and_then(Volts::from_f64)
                .unwrap_or(usual.voltage_step),
        }
    }

    /// The checked board; a fault of a quantity that was blamed by its own number is not told twice.
    fn checked(&self, described: Description) -> Option<Board> {
        let faults = match Board::new(described) {
            Ok(board) => return Some(board),
            Err(faults) => faults,
        };
        for fault in faults.iter().filter(|fault| !matches!(fault, Fault::OutOfRange { .. })) {
            let line = self.lines.borrow().get(&fault.quantity()).copied();
            match line {
                Some(line) => self.document.blame(line, fault.to_string()),
                None => self.document.miss(fault.to_string()),
            }
        }
        None
    }
}

/// The value as the library's quantity; what does not fit becomes the largest, which is out of
/// range as well.
fn held<Q>(value: f64, to: impl Fn(f64) -> Option<Q>, largest: Q) -> Q {
    to(value).unwrap_or(largest)
}

/// The fault of a value that is not finite or not within its quantity's range.
fn check(quantity: Quantity, value: f64) -> Result<(), String> {
    let bounds = quantity.bounds();
    let allowed =
        || format!("{} to {} is allowed", decimal(bounds.lowest), decimal(bounds.highest));
    let (lowest, highest) = (millionths(bounds.lowest), millionths(bounds.highest));
    if value.is_finite() && (lowest..=highest).contains(&value) {
        return Ok(());
    }
    Err(format!("{quantity} is {value}; {}", allowed()))
}

/// Bounds are far below 2^53 millionths.
#[allow(clippy::cast_precision_loss, reason = "bounds lie far below 2^53")]
fn millionths(micro: i64) -> f64 {
    micro as f64 / 1e6
}

fn decimal(micro: i64) -> String {
    millionths(micro).to_string()
}
