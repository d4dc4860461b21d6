//! From the thumb to the acceleration it asks for: one curve for drive, one for brake.
//!
//! After `arming`, before the slow limits. A curve is kept as a table, so that a tick costs one
//! look-up and one multiplication, whatever it was made of.
//! Source: Fritsch and Carlson 1980 for curves through handles, see `cubic`.

use super::cubic::{Point, tangents, value_at};
use super::error::{Error, Quantity, thousandths, within};
use crate::math::{between, narrow, scale};
use crate::units::{MetresPerSecondSquared, Ratio};
use heapless::Vec;

/// How many handles a curve may have, not counting the one at zero, which it always has.
pub const MOST_HANDLES: usize = 8;

/// Handles nearer to each other than this are refused: two steps of the table, which could not
/// show what lies between them.
pub const NEAREST_HANDLES: Ratio = Ratio::from_fraction(1, 32);

/// The greatest acceleration of any curve. About that of gravity, which is more than a rubber
/// tyre can pass on. Common practice, no source.
pub const GREATEST_ACCELERATION: MetresPerSecondSquared = MetresPerSecondSquared::from_whole(10);

/// A curve that ends below this is refused: it would be a dead thumb, or a dead brake. No source:
/// a tenth of a metre per second squared is what a slope of 1 % does.
pub const LEAST_ACCELERATION: MetresPerSecondSquared = MetresPerSecondSquared::from_milli(100);

/// How much of the usual curve is cubic. It makes `(1 - e) x + e x³` come nearest, in least
/// squares over the thumb's way, to `x^1.7`, by which equal steps of effort are felt as equal
/// steps (S. S. Stevens, "Psychophysics", 1975; the exponent for muscle force, from memory).
pub const USUAL_BLEND: Ratio = Ratio::from_milli(505);

/// Steps of the table, and how many bits of a ratio lie within a step.
const STEPS: usize = 64;
const STEP_BITS: u32 = 18;

/// A point that a curve goes through.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Handle {
    /// How far the thumb is, above 0 and up to 1.
    pub thumb: Ratio,
    /// What it asks there, zero or more.
    pub acceleration: MetresPerSecondSquared,
}

/// A curve from the thumb, 0 to 1, to an acceleration, zero or more.
///
/// Laws: zero at zero, never falling, never above its last value, and no steeper than three times
/// its steepest chord (so no step of the thumb makes a jump).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Curve {
    /// Values at each 64th of the way but the last, in `2^-16` m/s².
    table: [i32; STEPS],
    greatest: i32,
}

impl Curve {
    /// The curve `greatest` × ((1 - `blend`) x + `blend` x³); `blend` 0, a line, to 1.
    ///
    /// # Errors
    /// [`Error::OutOfRange`]: `Blend` not within 0 and 1, or `GreatestAcceleration` not within
    /// [`LEAST_ACCELERATION`] and [`GREATEST_ACCELERATION`].
    pub fn blended(blend: Ratio, greatest: MetresPerSecondSquared) -> Result<Self, Error> {
        within(Quantity::Blend, thousandths(blend.to_micro()), 0, 1000)?;
        within_bounds(Quantity::GreatestAcceleration, greatest, LEAST_ACCELERATION)?;
        let blend = blend.held_within(Ratio::ZERO, Ratio::ONE);
        let (cubic, linear) = (blend.to_bits(), (Ratio::ONE - blend).to_bits());
        Ok(Self::from_values(greatest.to_bits(), |thumb| {
            let cube = scale::<24>(scale::<24>(thumb, thumb), thumb);
            let share = scale::<24>(linear, thumb).saturating_add(scale::<24>(cubic, cube));
            scale::<24>(greatest.to_bits(), share)
        }))
    }

    /// The smooth curve from zero through `handles`: rising in thumb, never falling in
    /// acceleration, the last one at thumb 1; 1 to [`MOST_HANDLES`] of them.
    ///
    /// Between table steps it is straight, so a handle that lies off them is met within what the
    /// curve bends in a 64th of the way.
    ///
    /// # Source
    /// Fritsch and Carlson 1980 for what makes a cubic monotone, Fritsch and Butland 1984 for its
    /// tangents: weighted harmonic means of the neighbouring chords.
    ///
    /// # Errors
    /// [`Error::OutOfRange`]: `Handles` (none or too many), `HandleThumb` (nearer than
    /// [`NEAREST_HANDLES`] to the one before, beyond 1, or the last one not at 1),
    /// `HandleAcceleration` (less than the one before, or above [`GREATEST_ACCELERATION`]; the last
    /// one below [`LEAST_ACCELERATION`]).
    pub fn through(handles: &[Handle]) -> Result<Self, Error> {
        let points = points(handles)?;
        let tangents = tangents(&points);
        let greatest = points.last().map_or(0, |point| point.value);
        Ok(Self::from_values(narrow(greatest), |thumb| {
            let segments = points.windows(2).zip(tangents.windows(2));
            narrow(value_at(segments, i64::from(thumb)))
        }))
    }

    /// A curve of `value` at each table step, made monotone and bounded beyond any rounding.
    fn from_values(greatest: i32, value: impl Fn(i32) -> i32) -> Self {
        let mut table = [0; STEPS];
        let (mut thumb, mut reached) = (0_i32, 0);
        for entry in &mut table {
            reached = if thumb == 0 { 0 } else { value(thumb).min(greatest).max(reached) };
            *entry = reached;
            thumb = thumb.saturating_add(1 << STEP_BITS);
        }
        Self { table, greatest }
    }

    /// What the thumb asks at `thumb`, 0 to 1 (held to that).
    #[must_use]
    pub fn acceleration(&self, thumb: Ratio) -> MetresPerSecondSquared {
        let bits = thumb.held_within(Ratio::ZERO, Ratio::ONE).to_bits();
        // The commonest thumb of all.
        if bits == 0 {
            return MetresPerSecondSquared::ZERO;
        }
        let step = usize::try_from(bits >> STEP_BITS).unwrap_or(STEPS);
        let value = |step: usize| self.table.get(step).copied().unwrap_or(self.greatest);
        let part = bits & ((1 << STEP_BITS) - 1);
        let value = between::<STEP_BITS>(value(step), value(step.saturating_add(1)), part);
        MetresPerSecondSquared::from_bits(value)
    }

    /// What the full thumb asks.
    #[must_use]
    pub const fn greatest(&self) -> MetresPerSecondSquared {
        MetresPerSecondSquared::from_bits(self.greatest)
    }
}

fn within_bounds(
    quantity: Quantity,
    given: MetresPerSecondSquared,
    lowest: MetresPerSecondSquared,
) -> Result<(), Error> {
    within(
        quantity,
        thousandths(given.to_micro()),
        thousandths(lowest.to_micro()),
        thousandths(GREATEST_ACCELERATION.to_micro()),
    )
}

/// The handles with the one at zero before them, checked.
fn points(handles: &[Handle]) -> Result<Vec<Point, { MOST_HANDLES + 1 }>, Error> {
    let count = i32::try_from(handles.len()).unwrap_or(i32::MAX);
    let most = i32::try_from(MOST_HANDLES).unwrap_or(i32::MAX);
    within(Quantity::Handles, count, 1, most)?;
    let mut points = Vec::new();
    let mut before = Handle { thumb: Ratio::ZERO, acceleration: MetresPerSecondSquared::ZERO };
    let mut push = |handle: Handle| {
        let (thumb, value) = (handle.thumb.to_bits(), handle.acceleration.to_bits());
        // There is room: the handles were counted above.
        let _ = points.push(Point { thumb: i64::from(thumb), value: i64::from(value) });
    };
    push(before);
    for (number, handle) in (0_u8..).zip(handles) {
        let last = i32::from(number).saturating_add(1) == count;
        let nearest = if last { Ratio::ONE } else { before.thumb + NEAREST_HANDLES };
        // The last one, at 1, has to keep its distance too.
        let furthest = if last { Ratio::ONE } else { Ratio::ONE - NEAREST_HANDLES };
        if handle.thumb < nearest || handle.thumb > furthest {
            let (lowest, highest) =
                (thousandths(nearest.to_micro()), thousandths(furthest.to_micro()));
            let given = thousandths(handle.thumb.to_micro());
            let quantity = Quantity::HandleThumb(number);
            return Err(Error::OutOfRange { quantity, given, lowest, highest });
        }
        let least = if last { LEAST_ACCELERATION } else { MetresPerSecondSquared::ZERO };
        let least = least.max(before.acceleration);
        if handle.acceleration < least || handle.acceleration > GREATEST_ACCELERATION {
            let (lowest, highest) =
                (thousandths(least.to_micro()), thousandths(GREATEST_ACCELERATION.to_micro()));
            let given = thousandths(handle.acceleration.to_micro());
            let quantity = Quantity::HandleAcceleration(number);
            return Err(Error::OutOfRange { quantity, given, lowest, highest });
        }
        push(*handle);
        before = *handle;
    }
    Ok(points)
}

#[cfg(test)]
mod tests;
