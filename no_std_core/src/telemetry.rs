//! What the other end measured and sent, and whether it can be true.
//!
//! Filled by `link` or by a replayed log; read by `charge`, `range` and `throttle`.

use crate::board::Board;
use crate::units::{Amperes, Celsius, Coulombs, Metres, MetresPerSecond, Ratio, Volts};

/// One frame of measurements, at the time at which it is handed in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Telemetry {
    /// At the pack's terminals.
    pub pack_voltage: Volts,
    /// Of the whole pack, discharge positive.
    pub pack_current: Amperes,
    /// A counter at the other end, discharge minus charge; may restart at any time.
    pub charge_drawn: Option<Coulombs>,
    /// The lowest cell, where something measures it.
    pub cell_voltage_min: Option<Volts>,
    /// Of the cells.
    pub cell_temperature: Option<Celsius>,
    /// Of the hottest motor.
    pub motor_temperature: Option<Celsius>,
    /// Of the motor controller.
    pub controller_temperature: Option<Celsius>,
    /// Of the board, forward positive.
    pub speed: Option<MetresPerSecond>,
    /// Way since some start; may restart at any time.
    pub distance: Option<Metres>,
    /// Above some zero, uphill positive.
    pub elevation: Option<Metres>,
}

/// Why a frame is not believed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Implausible {
    /// A pack voltage that this many cells cannot have.
    PackVoltage,
    /// A current beyond three times what the pack may give: a fault of the sensor or the frame.
    PackCurrent,
}

impl Telemetry {
    /// The frame with what cannot be true taken out: a cell voltage or a temperature, a speed or
    /// a distance that no board has counts as not measured.
    ///
    /// # Errors
    /// Where pack voltage or current cannot be true, nothing of the frame is to be used.
    pub fn checked(&self, board: &Board) -> Result<Self, Implausible> {
        let possible = board.possible();
        if !possible.pack_voltage.contains(&self.pack_voltage) {
            return Err(Implausible::PackVoltage);
        }
        if self.pack_current.magnitude() > possible.pack_current {
            return Err(Implausible::PackCurrent);
        }
        let cell_voltage_min = self.cell_voltage_min.filter(|&volts| {
            let mean = board.mean_cell(self.pack_voltage);
            // The lowest cell is not above the mean one, but for what the two sensors differ.
            let sensors = mean.scaled(Ratio::from_percent(3));
            possible.cell_voltage.contains(&volts) && volts <= mean + sensors
        });
        let within = |degrees: Option<Celsius>, hottest| {
            let warmth = Celsius::from_whole(-50)..=Celsius::from_whole(hottest);
            degrees.filter(|degrees| warmth.contains(degrees))
        };
        let cell_temperature = within(self.cell_temperature, 120);
        let motor_temperature = within(self.motor_temperature, 300);
        let controller_temperature = within(self.controller_temperature, 300);
        let fastest = MetresPerSecond::from_whole(40);
        let speed = self.speed.filter(|speed| speed.magnitude() <= fastest);
        Ok(Self {
            cell_voltage_min,
            cell_temperature,
            motor_temperature,
            controller_temperature,
            speed,
            ..*self
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::board::tests::described;

    fn frame() -> Telemetry {
        Telemetry {
            pack_voltage: Volts::from_whole(38),
            pack_current: Amperes::from_whole(4),
            ..Telemetry::default()
        }
    }

    #[test]
    fn a_voltage_of_another_pack_is_not_believed() {
        let board = Board::new(described()).unwrap();
        assert!(frame().checked(&board).is_ok());
        let high = Telemetry { pack_voltage: Volts::from_whole(60), ..frame() };
        assert_eq!(high.checked(&board), Err(Implausible::PackVoltage));
        let nothing = Telemetry { pack_voltage: Volts::ZERO, ..frame() };
        assert_eq!(nothing.checked(&board), Err(Implausible::PackVoltage));
        let flood = Telemetry { pack_current: Amperes::from_whole(-300), ..frame() };
        assert_eq!(flood.checked(&board), Err(Implausible::PackCurrent));
    }

    #[test]
    fn a_temperature_that_cannot_be_is_none() {
        let board = Board::new(described()).unwrap();
        let odd = Telemetry { cell_temperature: Some(Celsius::from_whole(-60)), ..frame() };
        assert_eq!(odd.checked(&board).unwrap().cell_temperature, None);
        let winding = Some(Celsius::from_whole(140));
        let hot = Telemetry { motor_temperature: winding, ..frame() };
        assert_eq!(hot.checked(&board).unwrap().motor_temperature, winding);
        let odd = Telemetry { controller_temperature: Some(Celsius::from_whole(301)), ..frame() };
        assert_eq!(odd.checked(&board).unwrap().controller_temperature, None);
    }
}
