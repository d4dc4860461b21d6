//! The hand in the world: the very handheld that is flashed, switched on, hung or started anew.
//!
//! Used by `world` once a tick. It keeps what a real one keeps: its clock, and its flash.

use homestretch::handheld::{Handheld, Output};
use homestretch::receiver::{Command, Sender};
use homestretch::store::Life;
use homestretch::telemetry::Telemetry;
use homestretch::throttle::Hand;
use homestretch::time::Instant;

use crate::board_file::BoardFile;
use crate::faults::Power;
use crate::replay::tick_through;

/// The number of the hand that rides.
const OWN: u16 = 1;

/// A handheld and what is around it.
#[derive(Clone, Debug)]
pub(super) struct HandInWorld<'b> {
    handheld: Handheld<'b>,
    board: &'b BoardFile,
    /// What its flash holds.
    life: Option<Life>,
    /// Which of its starts this is, and when it was.
    start: u16,
    started_us: u64,
    was: Power,
    /// What it said last.
    output: Output,
}

impl<'b> HandInWorld<'b> {
    /// Just switched on, with what its flash holds.
    pub(super) fn new(board: &'b BoardFile, life: Option<&Life>) -> Self {
        let handheld = Handheld::new(&board.board, &board.throttle, life);
        let centre = board.throttle.parts().calibration.counts().centre;
        let output = handheld.clone().tick(Instant::from_micros(0), centre, None);
        Self {
            handheld,
            board,
            life: life.copied(),
            start: 1,
            started_us: 0,
            was: Power::On,
            output,
        }
    }

    /// A tick at `now_us` of the true time, its own clock being `clock_off_us` ahead; what it sends, if
    /// it lives.
    pub(super) fn tick(
        &mut self,
        power: Power,
        (now_us, clock_off_us): (u64, i64),
        hand: Hand,
        frame: Option<&Telemetry>,
    ) -> Option<Command> {
        let before = std::mem::replace(&mut self.was, power);
        match power {
            Power::Off => {
                if before != Power::Off {
                    self.life = self.handheld.life().or(self.life);
                }
                return None;
            }
            Power::Hangs => return None,
            Power::On => {}
        }
        if before == Power::Off {
            self.handheld =
                Handheld::new(&self.board.board, &self.board.throttle, self.life.as_ref());
            self.start = self.start.wrapping_add(1);
            self.started_us = now_us;
        }
        let clock_us = now_us.saturating_sub(self.started_us).saturating_add_signed(clock_off_us);
        let now = Instant::from_micros(clock_us);
        self.output = tick_through(&mut self.handheld, now, hand, frame);
        let sender = Sender { hand: OWN, start: self.start };
        Some(Command::of(&self.output.demand, sender))
    }

    /// What it said last.
    pub(super) const fn output(&self) -> &Output {
        &self.output
    }

    /// What has to outlive it.
    pub(super) fn life(&self) -> Option<Life> {
        self.handheld.life()
    }

    /// The handheld itself, for what it shows before riding.
    pub(super) const fn handheld(&self) -> &Handheld<'b> {
        &self.handheld
    }
}
