//! Session numbers in flash: a log of two pages, so that a power cut at any point loses none.
//!
//! ```text
//! byte  0       4             8       12
//!       number  not(number)   "HSsn"  CRC-32 of all before
//! ```
//!
//! Records are little-endian, of 16 bytes; each is written twice, one behind the other, and the largest
//! number that is found whole counts. Where a page is full, the other one is erased and goes on, so that
//! the largest is never in what is being erased. A record cut off while it was written is passed over.
//! Two of them, since what a cut leaves half-way may look blank, and may read otherwise another day:
//! the second is then written where nothing was tried before. The complement
//! makes sure that bits which an erasure cut short has set to one make no larger number.
//! Feature `embedded-storage`; used by firmware at each start.

use embedded_storage::nor_flash::NorFlash;

use super::CRC;
use crate::link::{LAST_SESSION, SessionStore};

/// Bytes of a record. A flash that writes more at once does not fit.
pub const RECORD_BYTES: usize = 16;

const MARK: [u8; 4] = *b"HSsn";
const BLANK: [u8; RECORD_BYTES] = [0xFF; RECORD_BYTES];
/// The same, as the length of an address.
const STEP: u32 = 16;
/// A record and its copy.
const TWICE: u32 = 32;

/// Session numbers in two pages of a flash.
#[derive(Debug)]
pub struct SessionLog<F> {
    flash: F,
    from: u32,
    page_bytes: u32,
}

/// Why a session log cannot be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum SessionFault<E> {
    /// The flash failed.
    Flash(E),
    /// A flash whose steps don't fit records of 16 bytes.
    Steps {
        /// Bytes that are read at once; 1 to 16, a power of two, are allowed.
        read: usize,
        /// Bytes that are written at once; the same.
        write: usize,
        /// Bytes that are erased at once; a multiple of 32, at least 64.
        erase: usize,
    },
    /// Pages that do not begin where one can be erased, or that go beyond the flash.
    Place {
        /// Where they were to begin.
        from: u32,
        /// How many bytes the flash has.
        capacity: usize,
    },
    /// No number is found: the log was never begun, or it is destroyed. A new key is needed.
    Empty,
}

impl<E: core::fmt::Debug> core::fmt::Display for SessionFault<E> {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Flash(error) => write!(f, "the flash failed: {error:?}"),
            Self::Steps { read, write, erase } => write!(
                f,
                "a flash that reads {read}, writes {write} and erases {erase} bytes at once; allowed \
                 are 1 to 16, 1 to 16, and a multiple of 32 from 64 on"
            ),
            Self::Place { from, capacity } => write!(
                f,
                "two pages from {from} on don't fit a flash of {capacity} bytes, or don't begin where \
                 a page does"
            ),
            Self::Empty => f.write_str("no session number is kept: pair anew"),
        }
    }
}

impl<E: core::fmt::Debug> core::error::Error for SessionFault<E> {}

/// Where the largest number is, and where the next one goes.
#[derive(Clone, Copy, Debug)]
struct Found {
    number: u32,
    /// Of the page that holds it.
    page: u32,
    /// Behind all that is written in that page, where a record and its copy may begin.
    free: u32,
}

impl<F: NorFlash> SessionLog<F> {
    /// The log in the two pages of `flash` that begin at `from`.
    ///
    /// # Errors
    /// [`SessionFault::Steps`] or [`SessionFault::Place`].
    pub fn new(flash: F, from: u32) -> Result<Self, SessionFault<F::Error>> {
        let fits = |step: usize| step.is_power_of_two() && step <= RECORD_BYTES;
        let (read, write, erase) = (F::READ_SIZE, F::WRITE_SIZE, F::ERASE_SIZE);
        let page_bytes = u32::try_from(erase).unwrap_or(0);
        let whole = page_bytes.checked_rem(TWICE) == Some(0) && page_bytes > TWICE;
        if !fits(read) || !fits(write) || !whole {
            return Err(SessionFault::Steps { read, write, erase });
        }
        let capacity = flash.capacity();
        let end = page_bytes.checked_mul(2).and_then(|bytes| from.checked_add(bytes));
        let inside =
            end.and_then(|end| usize::try_from(end).ok()).is_some_and(|end| end <= capacity);
        if from.checked_rem(page_bytes) != Some(0) || !inside {
            return Err(SessionFault::Place { from, capacity });
        }
        Ok(Self { flash, from, page_bytes })
    }

    /// Makes a log where there is none yet. Where there is one it goes on, under the new key too. To be
    /// called while pairing, **before the new key is kept**, and at no other time: a log that was
    /// destroyed must not begin anew under the old key.
    ///
    /// Numbers begin anywhere in the lower half of all that there are, by `chance`, so that not even an
    /// old key that is typed again meets its old sessions, as good as ever.
    ///
    /// # Errors
    /// [`SessionFault::Flash`].
    pub fn begin(&mut self, chance: u32) -> Result<(), SessionFault<F::Error>> {
        match self.found() {
            Ok(_) => return Ok(()),
            Err(SessionFault::Empty) => {}
            Err(fault) => return Err(fault),
        }
        let [first, _] = self.pages();
        self.erase(first)?;
        self.write(first, chance & (LAST_SESSION >> 1))
    }

    /// The flash, given back.
    pub fn into_flash(self) -> F {
        self.flash
    }

    fn pages(&self) -> [u32; 2] {
        [self.from, self.from.saturating_add(self.page_bytes)]
    }

    fn found(&mut self) -> Result<Found, SessionFault<F::Error>> {
        let mut found: Option<Found> = None;
        for page in self.pages() {
            let (mut largest, mut free) = (None, page);
            let end = page.saturating_add(self.page_bytes);
            let mut at = page;
            while at < end {
                let mut record = BLANK;
                // What cannot be read, as where a flash finds more wrong bits than it can mend, is no
                // number and not blank.
                let read = self.flash.read(at, &mut record);
                at = at.saturating_add(STEP);
                if read.is_err() || record != BLANK {
                    let in_page = at.saturating_sub(page).next_multiple_of(TWICE);
                    free = page.saturating_add(in_page);
                    largest = largest.max(number_in(&record).filter(|_| read.is_ok()));
                }
            }
            // The same number in both: what stands last in the full page was cut off, and reads as whole
            // only at times; it must not be what is kept while the other page is erased.
            let has_room = free < end;
            let better = |number: u32| {
                found.is_none_or(|found| {
                    number > found.number || (number == found.number && has_room)
                })
            };
            if let Some(number) = largest.filter(|&number| better(number)) {
                found = Some(Found { number, page, free });
            }
        }
        found.ok_or(SessionFault::Empty)
    }

    fn erase(&mut self, page: u32) -> Result<(), SessionFault<F::Error>> {
        let end = page.saturating_add(self.page_bytes);
        self.flash.erase(page, end).map_err(SessionFault::Flash)
    }

    fn write(&mut self, at: u32, number: u32) -> Result<(), SessionFault<F::Error>> {
        // One of the two is enough, whichever could be written; whoever asks reads it back.
        let record = record(number);
        let first = self.flash.write(at, &record);
        let second = self.flash.write(at.saturating_add(STEP), &record);
        first.or(second).map_err(SessionFault::Flash)
    }
}

impl<F: NorFlash> SessionStore for SessionLog<F> {
    type Error = SessionFault<F::Error>;

    fn largest(&mut self) -> Result<u32, Self::Error> {
        self.found().map(|found| found.number)
    }

    fn keep(&mut self, number: u32) -> Result<(), Self::Error> {
        let Found { page, free, .. } = self.found()?;
        if free < page.saturating_add(self.page_bytes) {
            return self.write(free, number);
        }
        let [first, second] = self.pages();
        let other = if page == first { second } else { first };
        self.erase(other)?;
        self.write(other, number)
    }
}

fn record(number: u32) -> [u8; RECORD_BYTES] {
    let [n0, n1, n2, n3] = number.to_le_bytes();
    let [m0, m1, m2, m3] = MARK;
    let body = [n0, n1, n2, n3, !n0, !n1, !n2, !n3, m0, m1, m2, m3];
    let [c0, c1, c2, c3] = CRC.checksum(&body).to_le_bytes();
    [n0, n1, n2, n3, !n0, !n1, !n2, !n3, m0, m1, m2, m3, c0, c1, c2, c3]
}

/// The number in a record, if it is whole.
fn number_in(bytes: &[u8; RECORD_BYTES]) -> Option<u32> {
    let &[n0, n1, n2, n3, ..] = bytes;
    let number = u32::from_le_bytes([n0, n1, n2, n3]);
    (*bytes == record(number)).then_some(number)
}
