//! One moment of a ride: what was measured, and beside it the truth.
//!
//! Filled by `reader`, `import` and the plant; changed by `sensors`. Whatever feeds the library
//! takes a [`Measured`] by reference, and so cannot see the truth even by mistake.

use super::column::Column;

/// What a handheld may know of one moment. A quantity that did not arrive is `None`.
///
/// Units and signs as in the column of the same name; see [`Column`].
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// Seconds, increasing over the ride.
    pub time_s: f64,
    /// At the pack's terminals.
    pub pack_voltage_V: Option<f64>,
    /// Positive when the pack discharges.
    pub pack_current_A: Option<f64>,
    /// A counter at the far end, discharge less charge; may restart at any time.
    pub charge_drawn_Ah: Option<f64>,
    /// The lowest cell.
    pub cell_voltage_min_V: Option<f64>,
    /// Of the cells.
    pub cell_temperature_degC: Option<f64>,
    /// Of the hottest motor.
    pub motor_temperature_degC: Option<f64>,
    /// Of the motor controller.
    pub controller_temperature_degC: Option<f64>,
    /// Forward positive.
    pub speed_m_s: Option<f64>,
    /// Of the board.
    pub distance_m: Option<f64>,
    /// Uphill positive.
    pub elevation_m: Option<f64>,
    /// -1 (full brake) to 1 (full drive). Read in the hand, so it needs no radio.
    pub thumb: Option<f64>,
    /// Whether a telemetry frame arrived. Where none did, all that comes by radio is `None`.
    pub link_ok: bool,
}

impl Measured {
    /// A moment of which nothing is known but that the link is up.
    #[must_use]
    pub const fn at(time_s: f64) -> Self {
        Self {
            time_s,
            pack_voltage_V: None,
            pack_current_A: None,
            charge_drawn_Ah: None,
            cell_voltage_min_V: None,
            cell_temperature_degC: None,
            motor_temperature_degC: None,
            controller_temperature_degC: None,
            speed_m_s: None,
            distance_m: None,
            elevation_m: None,
            thumb: None,
            link_ok: true,
        }
    }

    /// The same moment as it is lived when its telemetry frame is lost: time and thumb stay.
    #[must_use]
    pub const fn lost(&self) -> Self {
        let mut left = Self::at(self.time_s);
        left.thumb = self.thumb;
        left.link_ok = false;
        left
    }
}

/// One row of a ride.
#[derive(Clone, Debug, PartialEq)]
pub struct RideRow {
    /// What the handheld may see.
    pub measured: Measured,
    /// The true state of charge, 0 to 1: for pictures and scores, after the fact.
    pub true_soc: Option<f64>,
}

impl RideRow {
    /// A row of which nothing is known but its time.
    #[must_use]
    pub const fn at(time_s: f64) -> Self {
        Self { measured: Measured::at(time_s), true_soc: None }
    }

    /// The value of one column, the link as 0 or 1; `None` where there is none.
    #[must_use]
    pub fn value(&self, column: Column) -> Option<f64> {
        let measured = &self.measured;
        match column {
            Column::Time => Some(measured.time_s),
            Column::PackVoltage => measured.pack_voltage_V,
            Column::PackCurrent => measured.pack_current_A,
            Column::ChargeDrawn => measured.charge_drawn_Ah,
            Column::CellVoltageMin => measured.cell_voltage_min_V,
            Column::CellTemperature => measured.cell_temperature_degC,
            Column::MotorTemperature => measured.motor_temperature_degC,
            Column::ControllerTemperature => measured.controller_temperature_degC,
            Column::Speed => measured.speed_m_s,
            Column::Distance => measured.distance_m,
            Column::Elevation => measured.elevation_m,
            Column::Thumb => measured.thumb,
            Column::LinkOk => Some(if measured.link_ok { 1.0 } else { 0.0 }),
            Column::TrueSoc => self.true_soc,
        }
    }

    /// The same row with its numbers as a log would hold them: written and read again, it stays
    /// what it is.
    #[must_use]
    pub fn as_written(mut self) -> Self {
        for column in Column::ALL {
            if column == Column::LinkOk {
                continue;
            }
            if let Some(value) = self.value(column) {
                let scale = column.per_unit();
                self.put(column, (value * scale).round() / scale);
            }
        }
        self
    }

    /// Puts `value` in its column; of the link, anything but 0 means that it is up.
    pub fn put(&mut self, column: Column, value: f64) {
        let measured = &mut self.measured;
        match column {
            Column::Time => measured.time_s = value,
            Column::PackVoltage => measured.pack_voltage_V = Some(value),
            Column::PackCurrent => measured.pack_current_A = Some(value),
            Column::ChargeDrawn => measured.charge_drawn_Ah = Some(value),
            Column::CellVoltageMin => measured.cell_voltage_min_V = Some(value),
            Column::CellTemperature => measured.cell_temperature_degC = Some(value),
            Column::MotorTemperature => measured.motor_temperature_degC = Some(value),
            Column::ControllerTemperature => {
                measured.controller_temperature_degC = Some(value);
            }
            Column::Speed => measured.speed_m_s = Some(value),
            Column::Distance => measured.distance_m = Some(value),
            Column::Elevation => measured.elevation_m = Some(value),
            Column::Thumb => measured.thumb = Some(value),
            Column::LinkOk => measured.link_ok = value != 0.0,
            Column::TrueSoc => self.true_soc = Some(value),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_put_in_a_column_comes_out_of_it() {
        for column in Column::ALL {
            let mut row = RideRow::at(0.0);
            row.put(column, 1.0);
            assert_eq!(row.value(column), Some(1.0), "{column}");
        }
    }

    #[test]
    fn a_lost_row_keeps_time_and_thumb_only() {
        let mut row = RideRow::at(3.0);
        for column in Column::ALL {
            row.put(column, 1.0);
        }
        let lost = RideRow { measured: row.measured.lost(), true_soc: row.true_soc };
        for column in Column::ALL {
            let left = lost.value(column);
            let expected = if column == Column::LinkOk {
                Some(0.0)
            } else if column.comes_by_link() {
                None
            } else {
                Some(1.0)
            };
            assert_eq!(left, expected, "{column}");
        }
    }
}
