//! Checks of Homestretch against the outside world.
//!
//! Here the library meets data that it had no part in making: rides whose true charge is known
//! because an electrochemical model made them ([`mod@reference`]), records of real cells
//! ([`tester`]), and two simple estimators to be better than ([`counting`], [`ekf`]). [`accuracy`] lets all of
//! them live the same spoiled rides and [`score`] says how far each was from the truth.
//! What is checked, by which source and how closely, stands in this package's `README.md`.
#![allow(non_snake_case, reason = "quantities carry their unit's own symbol")]
#![deny(missing_docs)]

pub mod accuracy;
pub mod axis;
pub mod board_file;
pub mod build;
pub mod cli;
pub mod counting;
pub mod drop;
pub mod ekf;
pub mod estimator;
pub mod facts;
pub mod floor;
pub mod fuzz;
pub mod group;
pub mod laws;
pub mod life;
pub mod lockouts;
pub mod nor_flash;
pub mod number_table;
pub mod on_target;
pub mod ours;
pub mod range;
pub mod reference;
pub mod report;
pub mod reserve;
pub mod resistance;
pub mod restarts;
pub mod resting;
pub mod score;
pub mod search;
pub mod side_by_side;
pub mod silence;
pub mod spoiled;
pub mod strangers;
pub mod tester;
pub mod variation;
