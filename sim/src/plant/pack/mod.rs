//! A pack as it really is: unequal groups in series, stepped at 100 Hz in constant time.
//!
//! Built from a `cell` and [`PackSettings`]. Every 0.2 s the groups are looked at one by one (`refresh`);
//! in between, sums over them stand for all (`sums`, `interval`), which is exact while each stays on its
//! straight piece: the same current flows through all, so their lagged states are common. `ledger` accounts for
//! every joule, `heat` warms the cells.

mod change;
mod draw;
mod group;
mod heat;
mod interval;
mod ledger;
mod readers;
mod refresh;
mod settings;
mod stepping;
mod sums;

pub use ledger::Energy;
pub use settings::{Age, PackFault, PackSettings, Spread, Thermal, Wiring};

use std::sync::Arc;

use crate::plant::STEP_S;

use super::cell::{Cell, Kinetics, ResistanceAt};
use group::Group;
use heat::Heat;
use interval::{Interval, Voltages};
use stepping::{Accounts, States};
use sums::{Lasting, Resisting, Sums};

/// Steps between two looks at every group: 0.2 s, in which 5C moves the charge by 0.03 %.
const REFRESH_STEPS: u32 = 20;
/// The resistances are looked up anew once the temperature has moved by this (K).
const TABLE_STEP_K: f64 = 0.1;

/// A lithium pack. Clone it to fork the world.
#[derive(Clone, Debug)]
pub struct Pack {
    cell: Arc<Cell>,
    groups: Vec<Group>,
    lasting: Lasting,
    resisting: Resisting,
    refreshes_left: u32,
    wiring: Wiring,
    parallel: f64,
    states: States,
    interval: Interval,
    accounts: Accounts,
    voltages: Voltages,
    sums: Sums,
    resistance: Arc<ResistanceAt>,
    resistance_degC: f64,
    kinetics: Kinetics,
    kinetics_ohm: f64,
    heat: Heat,
    energy: Energy,
    drawn_C: f64,
    current_A: f64,
}
