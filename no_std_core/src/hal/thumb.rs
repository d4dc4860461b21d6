//! A thumb's sensor on any converter.
//!
//! `embedded-hal` has no trait for analogue converters, so the caller supplies the reading. A spark
//! on the wire is one reading; the middle one of three has never seen it. A converter that fails
//! reads like a broken wire, which is a fault and not a demand.

/// What a wire to ground would read, which every calibration refuses.
const BROKEN: u16 = 0;

/// A thumb read through `read`, which gives a count or whatever kept it from doing so.
#[derive(Debug)]
pub struct Thumb<R> {
    read: R,
    /// The two readings before.
    before: Option<(u16, u16)>,
}

impl<R, E> Thumb<R>
where
    R: FnMut() -> Result<u16, E>,
{
    /// A thumb that has not been read yet.
    #[must_use]
    pub const fn new(read: R) -> Self {
        Self { read, before: None }
    }

    /// The count to hand to a tick: the middle one of this reading and the two before it.
    ///
    /// Laws: never a count that was not read; a step arrives one reading late; a converter that
    /// fails twice in three times reads as a broken wire.
    pub fn count(&mut self) -> u16 {
        let now = (self.read)().unwrap_or(BROKEN);
        let (older, old) = self.before.unwrap_or((now, now));
        self.before = Some((old, now));
        older.min(old).max(older.max(old).min(now))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::vec::Vec;

    fn counts(readings: &[Result<u16, ()>]) -> Vec<u16> {
        let mut left = readings.iter().copied();
        let mut thumb = Thumb::new(|| left.next().unwrap_or(Err(())));
        readings.iter().map(|_| thumb.count()).collect()
    }

    #[test]
    fn a_spark_is_never_seen_and_a_step_comes_one_reading_late() {
        assert_eq!(counts(&[Ok(2000), Ok(2000), Ok(4095), Ok(2001)]), [2000, 2000, 2000, 2001]);
        assert_eq!(counts(&[Ok(2000), Ok(2000), Ok(3000), Ok(3000)]), [2000, 2000, 2000, 3000]);
    }

    #[test]
    fn a_converter_that_fails_reads_like_a_broken_wire() {
        assert_eq!(counts(&[Ok(2000), Err(()), Ok(2000)]), [2000, 2000, 2000]);
        assert_eq!(counts(&[Ok(2000), Ok(2000), Err(()), Err(())]), [2000, 2000, 2000, 0]);
        assert_eq!(counts(&[Err(())]), [0]);
    }

    proptest! {
        #[test]
        fn law_a_count_is_always_one_that_was_read(
            readings in proptest::collection::vec(any::<u16>(), 1..50)
        ) {
            let counts = counts(&readings.iter().map(|&count| Ok(count)).collect::<Vec<_>>());
            for (index, count) in counts.iter().enumerate() {
                prop_assert!(readings[index.saturating_sub(2)..=index].contains(count));
            }
        }
    }
}
