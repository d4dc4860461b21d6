//! What came of a ride, for people: pictures and words.

pub mod account;
pub mod html;
pub mod picture;
pub mod summary;
pub mod tuned;
pub mod way_home;
