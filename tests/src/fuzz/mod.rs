//! Whatever bytes come in, the doors hold: frames, logs, board files, fault scripts, memories.
//!
//! One function for each door ([`TARGETS`]): it takes any bytes, and panics where a promise is broken. They
//! are run by `fuzz/` under a fuzzer that watches the code's branches, and by the command `fuzz` with
//! changes made blindly ([`mutation`]), which needs no other compiler. Both begin from `tests/corpus/`.

pub mod mutation;

use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use crc::{CRC_32_ISO_HDLC, Crc};
use homestretch::handheld::Handheld;
use homestretch::link::cipher::{NONCE_BYTES, TAG_BYTES};
use homestretch::link::{BoardLink, Cipher, HandLink, Key, Pair, Report, Session, next_session};
use homestretch::receiver::{Lock, Measured, Receiver};
use homestretch::store::Life;
use homestretch::telemetry::Telemetry;
use homestretch::throttle::Tuning;
use homestretch::time::{Duration, Instant};
use homestretch::units::{Amperes, Ratio, Volts};
use homestretch_sim::board_file::BoardFile;
use homestretch_sim::faults::{Faults, Script};
use homestretch_sim::plant::radio::Slot;
use homestretch_sim::replay::Replay;
use homestretch_sim::ride::RideReader;

use crate::restarts::Sure;

/// A door, by its name: what is behind it, for any bytes.
pub type Target = (&'static str, fn(&[u8]));

/// All doors.
pub const TARGETS: [Target; 6] = [
    ("frames", frames),
    ("opened", opened),
    ("log", log),
    ("board", board),
    ("faults", faults),
    ("memory", memory),
];

/// Throws `bytes` at the door of this name; nothing happens at one that there is not.
pub fn door(name: &str, bytes: &[u8]) {
    for (_, target) in TARGETS.iter().filter(|(known, _)| *known == name) {
        target(bytes);
    }
}

/// Where the bytes that a target begins with are kept.
#[must_use]
pub fn corpus(target: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus").join(target)
}

fn session() -> Session {
    next_session(&mut Sure::default()).expect("the first of all numbers")
}

fn report() -> Report {
    Report {
        telemetry: Telemetry::default(),
        age: Duration::ZERO,
        lock: Lock::Open,
        held_back: false,
        controller_fault: false,
    }
}

/// Frames are a length and so many bytes each, with a wait before them.
fn each_frame(mut bytes: &[u8], mut take: impl FnMut(Instant, &[u8])) {
    let mut now = Instant::from_millis(1000);
    while let Some((&[wait, length], rest)) = bytes.split_first_chunk::<2>() {
        let length = usize::from(length % 40).min(rest.len());
        let (frame, rest) = rest.split_at(length);
        now = now + Duration::from_millis(u64::from(wait) * 8);
        take(now, frame);
        bytes = rest;
    }
}

/// Frames on air, without the key: nothing is ever taken.
fn frames(bytes: &[u8]) {
    let key = Key::new([7, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15]).expect("a key");
    let pair = Pair::new(key, 0).expect("hand 0 is one");
    let (mut hand, mut board) = (HandLink::new(&pair, session()), BoardLink::new(&pair, session()));
    for _ in 0..3 {
        let now = Instant::from_millis(900);
        let call = board.seal(now, &report()).expect("a board with a key calls");
        hand.open(now, &call).expect("the hand has the same key");
    }
    each_frame(bytes, |now, frame| {
        assert!(board.open(now, frame).is_err() && hand.open(now, frame).is_err());
        let (heard, told) = (board.quality(now), hand.quality(now));
        assert!((Ratio::ZERO..=Ratio::ONE).contains(&heard.lost) && told.lost <= Ratio::ONE);
    });
}

/// A cipher that takes every tag: what an owner's own faulty end could send.
struct Open;

impl Cipher for Open {
    fn seal(&self, _: &[u8; NONCE_BYTES], _: &mut [u8]) -> [u8; TAG_BYTES] {
        [0; TAG_BYTES]
    }

    fn open(&self, _: &[u8; NONCE_BYTES], _: &mut [u8], _: &[u8; TAG_BYTES]) -> bool {
        true
    }
}

static LANTERN: LazyLock<BoardFile> = LazyLock::new(|| {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/boards/lantern.toml");
    BoardFile::open(path).expect("the bundled board is one")
});

/// Frames that are authentic, whatever they say: what is taken is within its range, and hand and board
/// live on.
fn opened(bytes: &[u8]) {
    let file = &*LANTERN;
    let mut hand = HandLink::with_cipher(Open, 0, session());
    let mut board = BoardLink::with_cipher(Open, session());
    let mut handheld = Handheld::new(&file.board, &file.throttle, None);
    let mut receiver = Receiver::new();
    each_frame(bytes, |now, frame| {
        if let Ok(command) = board.open(now, frame) {
            assert!(command.share.magnitude() <= Ratio::ONE);
            assert!((Ratio::ZERO..=Ratio::ONE).contains(&command.brake_left));
            let order = receiver.tick(now, Some(&command), &Measured::default(), &file.throttle);
            assert!(order.share.magnitude() <= Ratio::ONE);
        }
        if let Ok(Some(heard)) = hand.open(now, frame) {
            if let Some(telemetry) = heard.telemetry {
                assert!(telemetry.pack_voltage >= Volts::ZERO);
                assert!(telemetry.pack_current.magnitude() <= Amperes::from_whole(656));
            }
            let output = handheld.tick(now, 2000, heard.telemetry.as_ref());
            assert!(output.demand.share.magnitude() <= Ratio::ONE);
        }
        let _ = (board.seal(now, &report()), hand.seal(&handheld.tick(now, 2000, None).demand));
    });
}

/// A ride log: read to its end or its fault, and lived.
fn log(bytes: &[u8]) {
    let file = &*LANTERN;
    let Ok(rows) = RideReader::new(bytes, "log.csv") else { return };
    let mut replay = Replay::new(&file.board, &file.throttle, None);
    let mut before_s = f64::NEG_INFINITY;
    for row in rows.take(300) {
        let Ok(row) = row else { return };
        assert!(row.measured.time_s > before_s, "time increases");
        before_s = row.measured.time_s;
        let output = replay.live(&row.measured);
        assert!(output.demand.share.magnitude() <= Ratio::ONE);
        let soc = output.status.charge.soc;
        assert!((Ratio::ZERO..=Ratio::ONE).contains(&soc), "{soc}");
    }
}

/// A board file: refused with its faults, or one that can be ridden.
fn board(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    match BoardFile::parse(text, "nowhere/board.toml") {
        Err(error) => assert!(!error.to_string().is_empty()),
        Ok(file) => {
            let mut handheld = Handheld::new(&file.board, &file.throttle, None);
            let telemetry = Telemetry {
                pack_voltage: file.board.cell().highest.times(file.board.pack().series),
                ..Telemetry::default()
            };
            for tick in 0..40 {
                let now = Instant::from_millis(tick * 20);
                let output = handheld.tick(now, 2000, (tick == 1).then_some(&telemetry));
                assert!(output.demand.share.magnitude() <= Ratio::ONE);
            }
        }
    }
}

/// A fault script: refused by name, or one that breaks things.
fn faults(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    match Script::parse(text) {
        Err(error) => assert!(!error.to_string().is_empty()),
        Ok(script) => {
            let mut faults = Faults::new(&script, 1);
            for second in 0..30 {
                let time_s = f64::from(second) * 7.0;
                let slot = Slot { command: true, telemetry: true };
                assert!(faults.thumb(time_s, 2000, 4095) <= 4095);
                let _ = (faults.radio(time_s, slot), faults.hand(time_s), faults.board(time_s));
            }
        }
    }
}

/// A memory as it is, and with a checksum that fits, so that what is behind it is met as well.
fn memory(bytes: &[u8]) {
    remembered(bytes);
    if let Some((body, _)) = bytes.split_last_chunk::<4>() {
        let check = Crc::<u32>::new(&CRC_32_ISO_HDLC).checksum(body);
        remembered(&[body, &check.to_le_bytes()].concat());
    }
}

/// Refused, or one that a handheld lives on with; the same for what pairing left and for what was tuned.
fn remembered(bytes: &[u8]) {
    if let Ok(mut tuning) = Tuning::from_bytes(bytes) {
        assert_eq!(Tuning::from_bytes(&tuning.to_bytes()), Ok(tuning));
        tuning.pack_mark = LANTERN.board.pack_mark();
        if let Ok(settings) = tuning.settings(&LANTERN.board) {
            assert_eq!(settings.mark(), Some(tuning.mark()));
            let mut handheld = Handheld::new(&LANTERN.board, &settings, None);
            for tick in 0..20_u64 {
                let _ = handheld.tick(Instant::from_millis(tick * 50), 2000, None);
            }
        }
    }
    if let Ok(pair) = Pair::from_bytes(bytes) {
        assert_eq!(Pair::from_bytes(&pair.to_bytes()), Ok(pair));
    }
    let Ok(mut life) = Life::from_bytes(bytes) else { return };
    assert_eq!(Life::from_bytes(&life.to_bytes()), Ok(life));
    let file = &*LANTERN;
    // Of whatever pack it was: the numbers in it are what has to be lived with.
    life.pack_mark = file.board.pack_mark();
    let mut handheld = Handheld::new(&file.board, &file.throttle, Some(&life));
    for tick in 0..80_u64 {
        let telemetry = Telemetry {
            pack_voltage: Volts::from_whole(40),
            pack_current: Amperes::from_whole(5),
            ..Telemetry::default()
        };
        let now = Instant::from_millis(tick * 50);
        let output = handheld.tick(now, 2000, tick.is_multiple_of(4).then_some(&telemetry));
        let charge = output.status.charge;
        assert!(charge.low <= charge.soc && charge.soc <= charge.high, "{charge:?}");
    }
    let _ = handheld.life().map(|life| life.to_bytes());
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_corpora_hold_is_let_in() {
        let texts = |name: &str| -> Vec<String> {
            let seeds = mutation::seeds(&corpus(name)).unwrap();
            seeds.into_iter().map(|seed| String::from_utf8(seed).unwrap()).collect()
        };
        for text in texts("board") {
            BoardFile::parse(&text, "nowhere/board.toml").unwrap();
        }
        for text in texts("faults") {
            assert!(!Script::parse(&text).unwrap().faults.is_empty());
        }
        for text in texts("log") {
            let rows = RideReader::new(text.as_bytes(), "log.csv").unwrap();
            assert!(rows.map(Result::unwrap).count() > 2);
        }
        let memories = mutation::seeds(&corpus("memory")).unwrap();
        let known =
            |bytes: &Vec<u8>| Life::from_bytes(bytes).is_ok() || Pair::from_bytes(bytes).is_ok();
        assert!(memories.len() == 2 && memories.iter().all(known));
        let (mut taken, mut told) = (0, 0);
        let mut hand = HandLink::with_cipher(Open, 0, session());
        let mut board = BoardLink::with_cipher(Open, session());
        for seed in mutation::seeds(&corpus("opened")).unwrap() {
            each_frame(&seed, |now, frame| {
                board.seal(now, &report()).unwrap();
                taken += u32::from(board.open(now, frame).is_ok());
                told += u32::from(hand.open(now, frame).is_ok());
            });
        }
        assert!(taken >= 4 && told >= 4, "{taken} {told}");
    }

    #[test]
    fn every_door_holds_against_its_corpus_and_some_changes_of_it() {
        for (name, target) in TARGETS {
            let seeds = mutation::seeds(&corpus(name)).unwrap();
            assert!(!seeds.is_empty(), "{name}");
            seeds.iter().for_each(|seed| target(seed));
            let mut changes = mutation::Mutation::new(seeds, 1);
            (0..300).for_each(|_| target(changes.next()));
        }
    }
}
