//! The colours of the picture.
//!
//! Read by `panel` and `page`. Colours that meet in one panel differ in lightness as well as in
//! hue, and none are told apart by red against green: about one man in twelve sees that poorly.
//! Chosen by eye, no source.

use plotters::style::RGBColor;

pub(super) const PAGE: RGBColor = RGBColor(0xF7, 0xF7, 0xF4);
pub(super) const SHEET: RGBColor = RGBColor(0xFF, 0xFF, 0xFF);
pub(super) const GRID: RGBColor = RGBColor(0xE6, 0xE8, 0xEB);
pub(super) const ZERO: RGBColor = RGBColor(0x8A, 0x94, 0x9E);
pub(super) const INK: RGBColor = RGBColor(0x1C, 0x27, 0x33);
pub(super) const QUIET: RGBColor = RGBColor(0x55, 0x60, 0x6B);
pub(super) const LOST: RGBColor = RGBColor(0x6B, 0x72, 0x80);

/// What the handheld believes or lets through.
pub(super) const BELIEF: RGBColor = RGBColor(0x1D, 0x5C, 0x99);
/// What really was, or what was asked for.
pub(super) const OUTSIDE: RGBColor = RGBColor(0xC8, 0x5A, 0x0A);
pub(super) const VOLTAGE: RGBColor = RGBColor(0x5A, 0x46, 0x93);
pub(super) const DRIVING: RGBColor = RGBColor(0xD0, 0x7A, 0x12);
pub(super) const BRAKING: RGBColor = RGBColor(0x12, 0x5E, 0x73);
pub(super) const SPEED: RGBColor = RGBColor(0x2B, 0x3F, 0x55);
