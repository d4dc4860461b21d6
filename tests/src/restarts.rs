//! Whether a session number ever comes twice, over very many starts with power cuts at any point.
//!
//! The flash ([`crate::nor_flash`]) loses power in the middle of whatever it does.

use std::convert::Infallible;

use homestretch::link::cipher::{NONCE_BYTES, TAG_BYTES};
use homestretch::link::{
    BoardLink, Cipher, NoSession, Report, Session, SessionStore, next_session,
};
use homestretch::receiver::Lock;
use homestretch::store::sessions::{SessionFault, SessionLog};
use homestretch::telemetry::Telemetry;
use homestretch::time::{Duration, Instant};
use rand::{Rng as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use serde::Serialize;

use crate::nor_flash::{Flash, FlashFault};

/// Starts of one flash: its own life from the first on.
const STREAM: u64 = 5000;

/// What came of very many starts.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Started {
    /// Starts, those included that a power cut ended.
    pub starts: u64,
    /// Power cuts.
    pub cuts: u64,
    /// Sessions that were given out.
    pub sessions: u64,
    /// Starts that found no number: the memory does not keep its word, and the end stays silent.
    pub refused: u64,
    /// Session numbers that were not larger than all before: never, it is to be hoped.
    pub repeated: u64,
    /// Numbers passed over, because a cut came after they were kept and before they were used.
    pub skipped: u64,
}

impl Started {
    fn and(self, other: &Self) -> Self {
        Self {
            starts: self.starts + other.starts,
            cuts: self.cuts + other.cuts,
            sessions: self.sessions + other.sessions,
            refused: self.refused + other.refused,
            repeated: self.repeated + other.repeated,
            skipped: self.skipped + other.skipped,
        }
    }
}

/// What a start gives: the number that its frames carry from now on.
fn start<const PAGE: usize>(
    flash: &mut Flash<PAGE>,
) -> Result<u32, NoSession<SessionFault<FlashFault>>> {
    let mut log = SessionLog::new(flash.clone(), 0).map_err(NoSession::Store)?;
    let session = next_session(&mut log);
    *flash = log.into_flash();
    session.map(on_air)
}

/// The session in a frame on air.
fn on_air(session: Session) -> u32 {
    let mut link = BoardLink::with_cipher(Clear, session);
    let report = Report {
        telemetry: Telemetry::default(),
        age: Duration::ZERO,
        lock: Lock::Open,
        held_back: false,
        controller_fault: false,
    };
    let frame = link.seal(Instant::default(), &report).expect("a board with a key calls");
    u32::from_le_bytes([frame[2], frame[3], frame[4], 0])
}

/// No cipher: only the header is looked at.
struct Clear;

impl Cipher for Clear {
    fn seal(&self, _: &[u8; NONCE_BYTES], _: &mut [u8]) -> [u8; TAG_BYTES] {
        [0; TAG_BYTES]
    }

    fn open(&self, _: &[u8; NONCE_BYTES], _: &mut [u8], _: &[u8; TAG_BYTES]) -> bool {
        false
    }
}

fn life<const PAGE: usize>(starts: u64, seed: u64) -> Started {
    let mut flash = Flash::<PAGE>::new(seed);
    let mut chance = ChaCha8Rng::seed_from_u64(!seed);
    let mut begun = SessionLog::new(flash, 0).expect("its steps fit");
    begun.begin(0).expect("there is power");
    flash = begun.into_flash();
    let (mut told, mut largest) = (Started::default(), 0);
    while told.starts < starts {
        told.starts += 1;
        // A start takes 32 steps, and a page more where one is erased: mostly the cut comes within.
        let most = if chance.next_u32().is_multiple_of(4) { PAGE + 60 } else { 60 };
        let steps = chance.next_u32() % u32::try_from(most).unwrap_or(u32::MAX);
        flash.power_for(chance.next_u32().is_multiple_of(2).then_some(1 + steps));
        match start(&mut flash) {
            Ok(number) => {
                told.sessions += 1;
                told.repeated += u64::from(number <= largest);
                told.skipped += u64::from(number.saturating_sub(largest)).saturating_sub(1);
                largest = largest.max(number);
            }
            Err(_) if !flash.has_power() => told.cuts += 1,
            Err(_) => told.refused += 1,
        }
        flash.power_for(None);
    }
    told
}

/// So many starts, of flashes of a small page and of a usual one.
#[must_use]
pub fn start_often(starts: u64, seed: u64) -> Started {
    let length = STREAM.min(starts);
    (0..starts.div_ceil(STREAM))
        .into_par_iter()
        .map(|stream| {
            let seed = seed.wrapping_mul(1_000_003).wrapping_add(stream);
            if stream.is_multiple_of(8) {
                life::<4096>(length, seed)
            } else {
                life::<128>(length, seed)
            }
        })
        .reduce(Started::default, |all, more| all.and(&more))
}

/// A memory that is sure of itself, to be held against.
#[derive(Debug, Default)]
pub struct Sure(u32);

impl Sure {
    /// One that knows of so many starts.
    #[must_use]
    pub const fn after(starts: u32) -> Self {
        Self(starts)
    }

    /// How many starts it knows of.
    #[must_use]
    pub const fn starts(&self) -> u32 {
        self.0
    }
}

impl SessionStore for Sure {
    type Error = Infallible;

    fn largest(&mut self) -> Result<u32, Infallible> {
        Ok(self.0)
    }

    fn keep(&mut self, number: u32) -> Result<(), Infallible> {
        self.0 = number;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_number_comes_twice_with_the_power_cut_at_any_point() {
        let told = start_often(20_000, 5);
        assert_eq!(told.repeated, 0, "{told:?}");
        assert!(told.cuts > 3000 && told.sessions > 8000 && told.skipped > 100, "{told:?}");
        assert!(told.refused * 50 < told.starts, "{told:?}");
    }

    /// Every cut of the first starts, one by one: within a record, and within the erasure that follows
    /// a full page.
    #[test]
    fn every_single_cut_of_a_full_turn_of_both_pages_is_survived() {
        for cut in 1..300_u32 {
            for at_start in 0..9_u32 {
                let mut flash = Flash::<64>::new(u64::from(cut));
                let mut log = SessionLog::new(flash, 0).unwrap();
                log.begin(0).unwrap();
                flash = log.into_flash();
                let mut largest = 0;
                for number in 0..14 {
                    flash.power_for((number == at_start).then_some(cut));
                    if let Ok(session) = start(&mut flash) {
                        assert!(session > largest, "cut {cut} at start {at_start}");
                        largest = session;
                    }
                    flash.power_for(None);
                }
                assert!(largest >= 12, "cut {cut} at start {at_start}: {largest}");
            }
        }
    }

    /// The last record of a full page is cut off in its last byte, and reads as whole at times: what goes
    /// on in the other page must not be erased for it.
    #[test]
    fn a_last_record_that_is_whole_only_at_times_costs_no_number() {
        for seed in 0..400 {
            let mut log = SessionLog::new(Flash::<128>::new(seed), 0).unwrap();
            log.begin(0).unwrap();
            let mut flash = log.into_flash();
            let used = [start(&mut flash), start(&mut flash)].map(Result::unwrap);
            assert_eq!(used, [1, 2]);
            flash.power_for(Some(16));
            assert!(start(&mut flash).is_err());
            let mut largest = 2;
            for cut in [None, Some(60), None, Some(90), None, None] {
                flash.power_for(cut);
                if let Ok(number) = start(&mut flash) {
                    assert!(number > largest, "seed {seed}: {number} after {largest}");
                    largest = number;
                }
            }
            assert!(largest >= 5, "seed {seed}");
        }
    }

    #[test]
    fn a_log_that_was_destroyed_gives_no_session_and_begins_anew_only_when_told() {
        let mut flash = Flash::<64>::new(1);
        assert_eq!(start(&mut flash), Err(NoSession::Store(SessionFault::Empty)));
        let mut log = SessionLog::new(flash, 0).unwrap();
        log.begin(0).unwrap();
        flash = log.into_flash();
        assert_eq!(start(&mut flash), Ok(1));
        let mut log = SessionLog::new(flash, 0).unwrap();
        log.begin(0).unwrap();
        flash = log.into_flash();
        assert_eq!(start(&mut flash), Ok(2), "a log that is there goes on");
        flash.destroy();
        assert_eq!(start(&mut flash), Err(NoSession::Store(SessionFault::Empty)));
    }

    #[test]
    fn numbers_begin_where_chance_says_within_the_lower_half() {
        for (chance, first) in [(0, 1), (41, 42), (u32::MAX, 0x0080_0000)] {
            let mut log = SessionLog::new(Flash::<64>::new(1), 0).unwrap();
            log.begin(chance).unwrap();
            assert_eq!(start(&mut log.into_flash()), Ok(first));
        }
    }

    #[test]
    fn a_flash_that_does_not_fit_is_refused() {
        let flash = Flash::<64>::new(1);
        let place = |from| SessionLog::new(flash.clone(), from).err();
        assert_eq!(place(64), Some(SessionFault::Place { from: 64, capacity: 128 }));
        assert_eq!(place(8), Some(SessionFault::Place { from: 8, capacity: 128 }));
        let steps = SessionLog::new(Flash::<24>::new(1), 0).err();
        assert_eq!(steps, Some(SessionFault::Steps { read: 1, write: 4, erase: 24 }));
    }

    #[test]
    fn the_log_counts_as_a_memory_that_is_sure_of_itself_does() {
        let (mut flash, mut sure) = (Flash::<64>::new(2), Sure::default());
        let mut log = SessionLog::new(flash, 0).unwrap();
        log.begin(0).unwrap();
        flash = log.into_flash();
        for _ in 0..500 {
            let number = start(&mut flash).unwrap();
            assert_eq!(number, on_air(next_session(&mut sure).unwrap()));
        }
    }
}
