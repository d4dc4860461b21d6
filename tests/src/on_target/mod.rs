//! The library on a microcontroller against the library on this machine.
//!
//! [`rides`] makes the rides that are put in flash; [`told`] is what a firmware says of one, made
//! here as well; [`machine`] runs a firmware in an emulated core and [`image`] looks into its file.
//! [`bits`] says where two machines differ, [`measure`] what a tick costs, and [`budget`] whether
//! it may. The firmware itself is in `boards/`.

pub mod bits;
pub mod budget;
pub mod image;
pub mod machine;
pub mod measure;
pub mod rides;
pub mod told;
