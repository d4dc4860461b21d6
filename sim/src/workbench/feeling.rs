//! What the feet feel of two drafts, answered soon: parts side by side, and nothing twice.
//!
//! Asks `feel`, and keeps what it said as the text that goes to the page. The verdict goes over stands of its
//! own, so that another choice of stand does not need it again.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};

use serde_json::json;

use super::wire::FeelAsked;
use crate::board_file::BoardFile;
use crate::feel::{
    Feel, FeelError, Machine, Stand, Stands, Verdict, acting, brake, release, short_ride,
    speeds_shown, step, stops, thumb_map, verdict,
};
use crate::tuning::Draft;

/// So much is remembered: some stands of what is on the board, and some steps back.
const REMEMBERED: usize = 48;

/// A question.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Question {
    /// Where one stands.
    pub(super) stand: Stand,
    /// Along which ride, if along any.
    pub(super) ride: Option<String>,
}

/// The last things that were worked out, the newest first.
#[derive(Debug)]
struct Lately<K, V>(Mutex<VecDeque<(K, V)>>);

impl<K: PartialEq, V: Clone> Lately<K, V> {
    const fn new() -> Self {
        Self(Mutex::new(VecDeque::new()))
    }

    /// What is known of `key`, or what `worked_out` says, which nobody waits for but the one who asked.
    fn known<E>(&self, key: K, worked_out: impl FnOnce() -> Result<V, E>) -> Result<V, E> {
        let found = {
            let lately = self.0.lock().unwrap_or_else(PoisonError::into_inner);
            lately.iter().find(|(known, _)| *known == key).map(|(_, value)| value.clone())
        };
        if let Some(value) = found {
            return Ok(value);
        }
        let value = worked_out()?;
        let mut lately = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        lately.push_front((key, value.clone()));
        lately.truncate(REMEMBERED);
        Ok(value)
    }
}

/// What is felt of a draft, and as the text that goes to the page.
#[derive(Debug)]
pub(super) struct Felt {
    pub(super) feel: Feel,
    json: String,
}

/// A machine, and what was felt on it.
#[derive(Debug)]
pub(super) struct Feeling {
    machine: Machine,
    stands: Stands,
    felt: Lately<(Arc<str>, Question), Arc<Felt>>,
    verdicts: Lately<Arc<str>, Arc<Verdict>>,
}

impl Feeling {
    /// Of the machine that `built` describes.
    ///
    /// # Errors
    /// [`FeelError`] where no such machine can be.
    pub(super) fn new(built: &BoardFile) -> Result<Self, FeelError> {
        let machine = Machine::new(built)?;
        let stands = Stands::of(built);
        Ok(Self { machine, stands, felt: Lately::new(), verdicts: Lately::new() })
    }

    pub(super) const fn machine(&self) -> &Machine {
        &self.machine
    }

    pub(super) const fn stands(&self) -> &Stands {
        &self.stands
    }

    /// The question of that choice.
    ///
    /// # Errors
    /// In words, the part of it that there is none of.
    pub(super) fn question(&self, asked: &FeelAsked) -> Result<Question, String> {
        let FeelAsked { stand, ride } = asked;
        Ok(Question { stand: self.stands.stand(stand)?, ride: ride.clone() })
    }

    /// What is felt of both.
    ///
    /// # Errors
    /// [`FeelError`] where one of them cannot be tried.
    pub(super) fn both(
        &self,
        (on_board, candidate): (&Draft, &Draft),
        question: &Question,
    ) -> Result<[Arc<Felt>; 2], FeelError> {
        let (on_board, candidate) =
            rayon::join(|| self.of(on_board, question), || self.of(candidate, question));
        Ok([on_board?, candidate?])
    }

    fn of(&self, draft: &Draft, question: &Question) -> Result<Arc<Felt>, FeelError> {
        let text: Arc<str> = draft.text().into();
        self.felt.known((Arc::clone(&text), question.clone()), || {
            let feel = self.felt(draft.file(), (text, question))?;
            let json = json!(feel).to_string();
            Ok(Arc::new(Felt { feel, json }))
        })
    }

    /// `feel::feel`, its parts side by side.
    fn felt(
        &self,
        tried: &BoardFile,
        (text, question): (Arc<str>, &Question),
    ) -> Result<Feel, FeelError> {
        let (machine, settings, riders) = (&self.machine, &tried.throttle, &tried.riders);
        let Question { stand, ride } = question;
        let judge = || verdict(machine, tried).map(Arc::new);
        // A verdict takes as long as a ride and all the rest together.
        let (judged, rest) = rayon::join(
            || self.verdicts.known(text, judge),
            || {
                let ridden = ride.as_deref().map(|id| short_ride(machine, tried, (stand, id)));
                ridden.transpose().and_then(|ridden| Ok((ridden, machine.on(stand, settings)?)))
            },
        );
        let (ride, board) = rest?;
        Ok(Feel {
            thumb: thumb_map(&board, settings, &speeds_shown(settings)),
            step: step(&board, settings, riders),
            release: release(&board, settings, riders),
            brake: brake(&board, settings, riders),
            stops: stops(&board, settings, &self.stands.grades),
            reasons: acting(&board, settings),
            ride,
            verdict: Verdict::clone(&*judged?),
        })
    }
}

/// The answer around what is felt of both.
pub(super) fn answer(
    revision: u64,
    took_ms: f64,
    [on_board, candidate]: &[Arc<Felt>; 2],
) -> String {
    // Both are JSON already.
    let (on_board, candidate) = (&on_board.json, &candidate.json);
    format!(
        r#"{{"revision":{revision},"took_ms":{took_ms:.1},"on_board":{on_board},"candidate":{candidate}}}"#
    )
}

/// An error with its causes, in one line.
pub(super) fn why_not(error: &FeelError) -> String {
    let mut words = error.to_string();
    let mut cause = std::error::Error::source(error);
    while let Some(deeper) = cause {
        words = format!("{words}: {deeper}");
        cause = deeper.source();
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::feel::{StandChosen, feel};

    fn lantern() -> Draft {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/boards/lantern.toml");
        Draft::new(path, std::fs::read_to_string(path).unwrap()).unwrap()
    }

    #[test]
    fn parts_side_by_side_are_what_is_felt_and_a_second_question_costs_nothing() {
        let board = lantern();
        let softer = board.with_number("throttle.drive_on_m_s3", 0.9).unwrap();
        let feeling = Feeling::new(board.file()).unwrap();
        let chosen = StandChosen {
            rider: "light".to_owned(),
            charge: "low".to_owned(),
            air: "cold".to_owned(),
            surface: "asphalt".to_owned(),
            grade: 0.06,
        };
        let stand = feeling.stands().stand(&chosen).unwrap();
        let question = Question { stand, ride: Some("path".to_owned()) };
        let both = feeling.both((&board, &softer), &question).unwrap();
        for (draft, text) in [&board, &softer].into_iter().zip(&both) {
            let whole = feel(feeling.machine(), draft.file(), &stand, Some("path")).unwrap();
            assert_eq!((&text.feel, &json!(whole).to_string()), (&whole, &text.json));
        }
        let again = feeling.both((&board, &softer), &question).unwrap();
        assert!(again.iter().zip(&both).all(|(again, before)| Arc::ptr_eq(again, before)));
        let answer: serde_json::Value = serde_json::from_str(&answer(7, 1.26, &both)).unwrap();
        assert_eq!((&answer["revision"], &answer["took_ms"]), (&json!(7), &json!(1.3)));
    }

    #[test]
    fn a_ride_that_is_none_is_named() {
        let board = lantern();
        let feeling = Feeling::new(board.file()).unwrap();
        let stand = Stand {
            mass_kg: 88.0,
            charge: 0.5,
            cell_degC: 22.0,
            air_degC: 22.0,
            surface: crate::route::Surface::Asphalt,
            grade: 0.0,
        };
        let question = Question { stand, ride: Some("moon".to_owned()) };
        let error = feeling.both((&board, &board), &question).unwrap_err();
        assert!(why_not(&error).contains("moon"));
    }
}
