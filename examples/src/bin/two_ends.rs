//! Hand and board, from pairing to a command that is obeyed, and a stranger who gets nowhere.
//!
//! Key, memory and measurements are invented; on real ends the bytes go through a radio, chance comes
//! from the chip, and session numbers from flash (`store::sessions`). The calls are the same.

use std::convert::Infallible;

use anyhow::Context as _;
use homestretch::handheld::Handheld;
use homestretch::link::{BoardLink, HandLink, Pair, Pairing, Report, SessionStore, next_session};
use homestretch::receiver::{Measured, Receiver};
use homestretch::telemetry::Telemetry;
use homestretch::time::{Duration, Instant};
use homestretch::units::{Amperes, Volts};
use homestretch_sim::board_file::BoardFile;

/// A memory for this program's life; yours has to outlive a power cut.
struct InRam(u32);

impl SessionStore for InRam {
    type Error = Infallible;

    fn largest(&mut self) -> Result<u32, Infallible> {
        Ok(self.0)
    }

    fn keep(&mut self, number: u32) -> Result<(), Infallible> {
        self.0 = number;
        Ok(())
    }
}

/// When the button has been held for long enough.
const OPENED: Instant = Instant::from_millis(5020);

/// The button held for five seconds, the board standing.
fn opened() -> Pairing {
    let released = Pairing::default().after(Instant::from_millis(0), false, true);
    let held = released.after(Instant::from_millis(20), true, true);
    held.after(OPENED, true, true)
}

fn main() -> anyhow::Result<()> {
    // On the board: a key is made and shown.
    let key = opened().make(OPENED, *b"\x8f\x12an invented k\x03")?;
    let shown = key.text();
    println!("the board shows    {}", String::from_utf8_lossy(&shown));
    // On the hand: it is typed.
    let typed = opened().take(OPENED, &shown)?;
    let mut board = BoardLink::new(&Pair::new(key, 0)?, next_session(&mut InRam(0))?);
    let mut hand = HandLink::new(&Pair::new(typed, 0)?, next_session(&mut InRam(0))?);

    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/boards/lantern.toml");
    let file = BoardFile::open(path).context("the example board")?;
    let counts = file.throttle.parts().calibration.counts();
    let mut handheld = Handheld::new(&file.board, &file.throttle, None);
    let mut receiver = Receiver::new();
    let telemetry = Telemetry {
        pack_voltage: Volts::from_milli(43_500),
        pack_current: Amperes::from_whole(4),
        ..Telemetry::default()
    };
    let (mut recorded, mut command) = (None, None);
    for tick in 0..250_u64 {
        let now = Instant::from_millis(tick * 20);
        // The board's end: what came since the last tick is obeyed, and ten times a second it tells.
        let order = receiver.tick(now, command.as_ref(), &Measured::default(), &file.throttle);
        let report = Report::new(telemetry, Duration::ZERO, &order);
        let told = if tick % 5 == 0 { board.seal(now, &report) } else { None };
        // The hand: what it is told, the thumb, what it asks.
        let heard = told.and_then(|frame| hand.open(now, &frame).ok()?);
        let frame = heard.and_then(|heard| heard.telemetry);
        let thumb = if tick < 80 { counts.centre } else { counts.high };
        let output = handheld.tick(now, thumb, frame.as_ref());
        let asked = hand.seal(&output.demand);
        command = asked.and_then(|frame| board.open(now, &frame).ok());
        if tick == 130 {
            recorded = asked;
        }
        if tick % 50 == 49 {
            println!(
                "{:3.0} s: {:4.1} % of the motor current asked, {:4.1} ordered, link {}",
                f64::from(u32::try_from(tick + 1)?) / 50.0,
                output.demand.share.to_f64() * 100.0,
                order.share.to_f64() * 100.0,
                hand.quality(now).sound.word()
            );
        }
    }
    let now = Instant::from_millis(5000);
    if let Some(refused) = recorded.and_then(|frame| board.open(now, &frame).err()) {
        println!("a stranger plays what was recorded: {refused}");
    }
    Ok(())
}
