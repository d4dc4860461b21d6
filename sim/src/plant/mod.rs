//! The truth: pack, motors, wheels, road, rider and radio as they really are.
//!
//! Deliberately not what the library believes: more time constants, heat, wear, cells that differ.
//! Driven by `world`; nothing here is shown to the library but what sensors make of it. The room is
//! `f64`, and its results are the same on every machine: sums, products and roots of the hardware,
//! everything else from `libm`.
//!
//! The pack ([`cell`], [`pack`]) says what it is over the coming step ([`Source`]); the vehicle
//! ([`Vehicle`]: motors, motor controller, gear, wheels, body, road) says what it took ([`Drawn`]).
//! A [`rider`] moves the thumb, a [`radio`] loses frames, and [`complete`] guesses what a builder did
//! not say of the motors. docs/world.md tells what is modelled, from which source, and what is not.

mod axle;
pub mod body;
pub mod cell;
pub mod defaults;
pub mod gear;
pub mod ledger;
pub mod motor;
pub mod motor_controller;
pub mod pack;
pub mod radio;
pub mod range;
pub mod rider;
pub mod road;
pub mod source;
pub mod tractive;
pub mod vehicle;
pub mod wheels;

pub use body::Body;
pub use defaults::{BoardSheet, MotorSheet, Powertrain, complete};
pub use gear::Gear;
pub use ledger::EnergyLedger;
pub use motor::{Heat, Motor, torque_constant_N_m_A};
pub use motor_controller::{FoldBack, MotorController};
pub use range::OutOfRange;
pub use road::{Road, Slope, air_density_kg_m3, road_load_N};
pub use source::{Drawn, Source};
pub use tractive::{SpeedTrace, tractive_energy_J};
pub use vehicle::{Parts, Vehicle};
pub use wheels::{Grip, Wheels};

/// The fixed step of the plant, in seconds.
pub const STEP_S: f64 = 0.01;

/// Standard gravity, exact by definition (3rd CGPM, 1901).
pub const GRAVITY_M_S2: f64 = 9.80665;
