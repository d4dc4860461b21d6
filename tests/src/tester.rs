//! Records of real cells as a battery tester wrote them.
//!
//! Read by the checks in `tests/`. Current is positive in discharge; times are the tester's and
//! stand still now and then, where one step ends and the next begins.
//! Source: see `data/README.md`.

use std::path::Path;

use crate::number_table::NumberTable;
use crate::reference::ReferenceError;

/// One row of a record.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TesterRow {
    /// Never falls; may repeat.
    pub time_s: f64,
    /// At the cell's terminals.
    pub cell_voltage_V: f64,
    /// Positive in discharge.
    pub current_A: f64,
    /// Of the cell.
    pub cell_temperature_degC: f64,
    /// What the tester itself counted. It restarts at some changes of step or cycle, never
    /// within a step.
    pub counted: Counted,
    /// The tester's numbering.
    pub cycle: u32,
    /// The tester's numbering; numbers come back.
    pub step: u32,
}

/// The tester's counters, of which a record has one kind or the other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Counted {
    /// One counter, which has no sign.
    Moved {
        /// In either direction.
        moved_Ah: f64,
    },
    /// Two counters.
    BothWays {
        /// Into the cell.
        charged_Ah: f64,
        /// Out of the cell.
        discharged_Ah: f64,
    },
}

impl Counted {
    /// What moved between `self` and a later row of the same step, in either direction.
    #[must_use]
    pub fn moved_until_Ah(self, later: Self) -> f64 {
        later.total_Ah() - self.total_Ah()
    }

    const fn total_Ah(self) -> f64 {
        match self {
            Self::Moved { moved_Ah } => moved_Ah,
            Self::BothWays { charged_Ah, discharged_Ah } => charged_Ah + discharged_Ah,
        }
    }
}

/// The rows of a record.
///
/// # Errors
/// Those of [`NumberTable::read`]; [`ReferenceError::NoColumn`]; [`ReferenceError::Table`] if time
/// runs backwards.
pub fn read(file: &Path) -> Result<Vec<TesterRow>, ReferenceError> {
    let table = NumberTable::read(file)?;
    let time_s = table.column("time_s")?;
    let voltage_V = table.column("cell_voltage_V")?;
    let current_A = table.column("current_A")?;
    let temperature_degC = table.column("cell_temperature_degC")?;
    let (cycle, step) = (table.column("cycle")?, table.column("step")?);
    if time_s.windows(2).any(|pair| pair[1] < pair[0]) {
        return Err(table.refused("time runs backwards"));
    }
    let counted: Box<dyn Fn(usize) -> Counted> = if let Some(moved) = table.find("step_charge_Ah") {
        Box::new(|row| Counted::Moved { moved_Ah: moved[row] })
    } else {
        let charged = table.column("tester_charged_Ah")?;
        let discharged = table.column("tester_discharged_Ah")?;
        Box::new(|row| Counted::BothWays {
            charged_Ah: charged[row],
            discharged_Ah: discharged[row],
        })
    };
    let row = |row: usize| TesterRow {
        time_s: time_s[row],
        cell_voltage_V: voltage_V[row],
        current_A: current_A[row],
        cell_temperature_degC: temperature_degC[row],
        counted: counted(row),
        cycle: whole(cycle[row]),
        step: whole(step[row]),
    };
    Ok((0..time_s.len()).map(row).collect())
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the tester numbers from 1 up to a few hundred"
)]
fn whole(number: f64) -> u32 {
    number.round() as u32
}

/// The rows of each step, in order.
pub fn steps(rows: &[TesterRow]) -> impl Iterator<Item = &[TesterRow]> {
    rows.chunk_by(|a, b| (a.cycle, a.step) == (b.cycle, b.step))
}

/// The rows without those whose time the next one repeats: of one instant the last row stays.
#[must_use]
pub fn without_repeats(rows: &[TesterRow]) -> Vec<TesterRow> {
    rows.windows(2)
        .filter(|pair| pair[0].time_s < pair[1].time_s)
        .map(|pair| pair[0])
        .chain(rows.last().copied())
        .collect()
}
