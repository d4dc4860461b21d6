//! A number for each start of an end, which never comes twice: the part of a nonce that outlives a
//! power cut.
//!
//! Asked for once, when an end is switched on. `store` keeps such numbers in flash (feature
//! `embedded-storage`); any memory that keeps its word will do.

/// The largest session number: half of 24 bits are 1100 years at twenty starts a day.
pub const LAST_SESSION: u32 = 0x00FF_FFFF;

/// One start of an end: 1 to [`LAST_SESSION`], larger at each start under the same key.
///
/// Made only by [`next_session`], after it has been kept: one that is made otherwise could come twice,
/// and two frames under one nonce give both of them away.
#[derive(Debug, PartialEq, Eq, Hash)]
pub struct Session(u32);

impl Session {
    pub(super) const fn number(&self) -> u32 {
        self.0
    }
}

/// A memory of the largest session number ever used.
pub trait SessionStore {
    /// What can go wrong with it.
    type Error;

    /// The largest number kept under the present key; 0 right after pairing, when none was.
    ///
    /// # Errors
    /// Its own. A memory that cannot tell has to fail here: 0 would let numbers come again.
    fn largest(&mut self) -> Result<u32, Self::Error>;

    /// Keeps a number that is larger than all before. Returns only once it would outlive a power cut.
    ///
    /// # Errors
    /// Its own; the number is then not used.
    fn keep(&mut self, number: u32) -> Result<(), Self::Error>;
}

/// Why there is no session.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum NoSession<E> {
    /// The memory failed.
    Store(E),
    /// What was kept is not what is read: the memory does not keep its word.
    NotKept {
        /// What was kept.
        kept: u32,
        /// What is read.
        read: u32,
    },
    /// All numbers are used up: a new key is needed.
    UsedUp {
        /// The largest number used; [`LAST_SESSION`] is the last.
        largest: u32,
    },
}

impl<E: core::fmt::Display> core::fmt::Display for NoSession<E> {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Store(error) => write!(f, "the memory of session numbers failed: {error}"),
            Self::NotKept { kept, read } => {
                write!(f, "session number {kept} was kept, and {read} is read")
            }
            Self::UsedUp { largest } => {
                write!(f, "session number {largest} was the last of {LAST_SESSION}: pair anew")
            }
        }
    }
}

impl<E: core::fmt::Debug + core::fmt::Display> core::error::Error for NoSession<E> {}

/// The session of this start: kept, read back, and only then given out.
///
/// # Errors
/// [`NoSession`]; the end must stay silent then, and drive nothing.
pub fn next_session<S: SessionStore>(store: &mut S) -> Result<Session, NoSession<S::Error>> {
    let largest = store.largest().map_err(NoSession::Store)?;
    let number = largest.saturating_add(1);
    if number > LAST_SESSION {
        return Err(NoSession::UsedUp { largest });
    }
    store.keep(number).map_err(NoSession::Store)?;
    let read = store.largest().map_err(NoSession::Store)?;
    if read == number {
        Ok(Session(number))
    } else {
        Err(NoSession::NotKept { kept: number, read })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::string::ToString as _;

    /// A memory that forgets what it is told, if it is asked to.
    struct Memory {
        largest: u32,
        forgets: bool,
    }

    impl SessionStore for Memory {
        type Error = &'static str;

        fn largest(&mut self) -> Result<u32, Self::Error> {
            Ok(self.largest)
        }

        fn keep(&mut self, number: u32) -> Result<(), Self::Error> {
            if !self.forgets {
                self.largest = number;
            }
            Ok(())
        }
    }

    #[test]
    fn each_start_has_a_larger_number() {
        let mut memory = Memory { largest: 0, forgets: false };
        for number in 1..100 {
            assert_eq!(next_session(&mut memory), Ok(Session(number)));
        }
    }

    #[test]
    fn a_memory_that_forgets_gives_no_session() {
        let mut memory = Memory { largest: 7, forgets: true };
        let fault = next_session(&mut memory).unwrap_err();
        assert_eq!(fault, NoSession::NotKept { kept: 8, read: 7 });
        assert_eq!(fault.to_string(), "session number 8 was kept, and 7 is read");
    }

    #[test]
    fn the_last_number_is_followed_by_none() {
        let mut memory = Memory { largest: LAST_SESSION - 1, forgets: false };
        assert_eq!(next_session(&mut memory), Ok(Session(LAST_SESSION)));
        let none = Err(NoSession::UsedUp { largest: LAST_SESSION });
        assert_eq!(next_session(&mut memory), none);
    }
}
