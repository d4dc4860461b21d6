//! What hand and board say to each other in a tick of the world, through the air between them.
//!
//! A part of `World`: it moves frames and tells `watch` of them; what they say is the library's.

use homestretch::telemetry::Telemetry;
use homestretch::time::Instant;

use super::{STEP_US, TICK_US, World, hand, second_hand};
use crate::faults::End;
use crate::replay::{measured, telemetry};
use crate::ride::{Measured, RideRow};

impl World<'_> {
    /// The board's end sends what is due; whether the radio lets it through.
    pub(super) fn board_tells(&mut self, time_s: f64, due: Option<&RideRow>, through: bool) {
        let Some(row) = due else { return };
        let now_us = self.tick * TICK_US;
        let silent = self.faults.controller_is_silent(time_s);
        let Some(frame) = self.board_end.tell(now_us, telemetry(&row.measured), silent) else {
            return;
        };
        self.watch.board_sends(frame);
        // What the sensors' own radio has lost.
        let through = through && row.measured.link_ok;
        self.on_air.send(&self.faults, now_us, (End::Hand, frame), through);
        if let Some(other) = &mut self.second_hand {
            other.hear(Instant::from_micros(now_us), &frame);
        }
    }

    /// What the hand hears in this tick, if it lives.
    pub(super) fn hand_hears(&mut self, lives: bool) -> Option<Telemetry> {
        let now_us = self.tick * TICK_US;
        self.on_air.heard(&self.faults, now_us, End::Hand, &mut self.frames);
        let mut newest = None;
        if lives {
            self.hand.hear(&self.frames, |frame, telemetry| {
                self.watch.hand_takes(frame);
                newest = telemetry.or(newest);
            });
        }
        newest
    }

    /// The rest of the hand's tick, and what it sends; another hand sends a step later.
    pub(super) fn hand_sends(
        &mut self,
        lives: bool,
        (time_s, thumb): (f64, f64),
        row: Option<&RideRow>,
        through: bool,
    ) {
        let now_us = self.tick * TICK_US;
        let hand = self.hand_now(time_s, thumb);
        let heard = row.and_then(|row| telemetry(&row.measured));
        let sent = if lives { self.hand.tick(hand, heard.as_ref()) } else { None };
        if let Some(frame) = sent {
            self.watch.hand_sends(hand::OWN, frame);
            self.on_air.send(&self.faults, now_us, (End::Board, frame), through);
        }
        let asks = self.faults.another_hand(time_s);
        if let Some((other, asks)) = self.second_hand.as_mut().zip(asks)
            && let Some(frame) = other.send(asks, self.hand.output())
        {
            self.watch.hand_sends(second_hand::NUMBER, frame);
            self.on_air.send(&self.faults, now_us + STEP_US, (End::Board, frame), true);
        }
    }

    /// The row of this tick's log: what was heard, or that nothing was where something was due.
    pub(super) fn row(
        &self,
        (time_s, thumb): (f64, f64),
        told: Option<&Telemetry>,
        due: bool,
    ) -> Option<RideRow> {
        if told.is_none() && !due {
            return None;
        }
        let heard = Measured { thumb: Some(thumb), ..Measured::at(time_s) };
        let measured = match told {
            Some(told) => Measured { thumb: Some(thumb), ..measured(time_s, told) },
            None => heard.lost(),
        };
        // A frame has digits, as a log has: what is replayed is what was lived.
        Some(RideRow { measured, true_soc: Some(self.true_soc()) }.as_written())
    }
}
