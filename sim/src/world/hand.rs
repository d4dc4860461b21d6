//! The hand in the world: the very handheld and link that are flashed, switched on, hung or started
//! anew.
//!
//! Used by `world` once a tick. It keeps what a real one keeps: its clock, and its flash.

use homestretch::handheld::{Handheld, Output};
use homestretch::link::HandLink;
use homestretch::store::Life;
use homestretch::telemetry::Telemetry;
use homestretch::throttle::Hand;
use homestretch::time::Instant;

use super::refusals::Refusals;
use super::seal::{Seal, Sessions};
use crate::board_file::BoardFile;
use crate::faults::Power;
use crate::plant::radio::Frame;
use crate::replay::tick_through;

/// The number of the hand that rides.
pub(super) const OWN: u8 = 0;

/// It was started so often before this ride: as good as any number.
const STARTS_BEFORE: u32 = 41;

/// A handheld and what is around it.
#[derive(Clone, Debug)]
pub(super) struct HandInWorld<'b> {
    handheld: Handheld<'b>,
    board: &'b BoardFile,
    seal: Seal,
    link: Option<HandLink<Seal>>,
    /// What its links before this one have refused.
    refused: Refusals,
    /// What its flash holds.
    life: Option<Life>,
    sessions: Sessions,
    /// How often it has started since the ride began, and when it last did.
    starts: u32,
    started_us: u64,
    was: Power,
    /// Its own time, in this tick.
    now: Instant,
    /// What it said last.
    output: Output,
}

impl<'b> HandInWorld<'b> {
    /// Just switched on, with what its flash holds.
    pub(super) fn new(board: &'b BoardFile, life: Option<&Life>, seal: Seal) -> Self {
        let mut handheld = Handheld::new(&board.board, &board.throttle, life);
        // The rider's press before setting off: what an earlier ride remembers ended elsewhere.
        handheld.mark_home();
        let centre = board.throttle.parts().calibration.counts().centre;
        let output = handheld.clone().tick(Instant::from_micros(0), centre, None);
        let mut sessions = Sessions::after(STARTS_BEFORE);
        Self {
            handheld,
            board,
            link: link(&seal, &mut sessions),
            refused: Refusals::default(),
            seal,
            life: life.copied(),
            sessions,
            starts: 1,
            started_us: 0,
            was: Power::On,
            now: Instant::from_micros(0),
            output,
        }
    }

    /// A tick begins at `now_us` of the true time, its own clock being `clock_off_us` ahead; whether the
    /// hand lives through it.
    pub(super) fn lives(&mut self, power: Power, (now_us, clock_off_us): (u64, i64)) -> bool {
        let before = std::mem::replace(&mut self.was, power);
        match power {
            Power::Off => {
                if before != Power::Off {
                    self.life = self.handheld.life().or(self.life);
                }
                return false;
            }
            Power::Hangs => return false,
            Power::On => {}
        }
        if before == Power::Off {
            self.handheld =
                Handheld::new(&self.board.board, &self.board.throttle, self.life.as_ref());
            self.refused = self.refused();
            self.link = link(&self.seal, &mut self.sessions);
            self.starts += 1;
            self.started_us = now_us;
        }
        let clock_us = now_us.saturating_sub(self.started_us).saturating_add_signed(clock_off_us);
        self.now = Instant::from_micros(clock_us);
        true
    }

    /// What it hears in these frames: `told` of each frame of telemetry that it takes, the newest last,
    /// with what it may use of it.
    pub(super) fn hear(
        &mut self,
        frames: &[Frame],
        mut told: impl FnMut(&Frame, Option<Telemetry>),
    ) {
        let Some(link) = &mut self.link else { return };
        for frame in frames {
            let heard = link.open(self.now, frame.bytes()).ok().flatten();
            if let Some(heard) = heard {
                told(frame, heard.telemetry);
            }
        }
    }

    /// The rest of the tick: what it sends.
    pub(super) fn tick(&mut self, hand: Hand, frame: Option<&Telemetry>) -> Option<Frame> {
        self.output = tick_through(&mut self.handheld, self.now, hand, frame);
        let command = self.link.as_mut()?.seal(&self.output.demand)?;
        Some(Frame::of(&command))
    }

    /// What it said last.
    pub(super) const fn output(&self) -> &Output {
        &self.output
    }

    /// The rider presses that the way is the one home.
    pub(super) fn turn_home(&mut self) {
        self.handheld.turn_home();
    }

    /// What has to outlive it.
    pub(super) fn life(&self) -> Option<Life> {
        self.handheld.life()
    }

    /// What it thinks that a metre takes, as a rule.
    pub(super) fn per_metre_J(&self) -> f64 {
        self.handheld.range().consumption().per_metre(&self.board.board).to_f64()
    }

    /// The handheld itself, for what it shows before riding.
    pub(super) const fn handheld(&self) -> &Handheld<'b> {
        &self.handheld
    }

    /// How often it has started since the ride began.
    pub(super) const fn starts(&self) -> u32 {
        self.starts
    }

    /// What its end of the link has refused.
    pub(super) fn refused(&self) -> Refusals {
        self.refused.and(self.link.as_ref().map(HandLink::refused))
    }
}

fn link(seal: &Seal, sessions: &mut Sessions) -> Option<HandLink<Seal>> {
    Some(HandLink::with_cipher(seal.clone(), OWN, sessions.next()?))
}
