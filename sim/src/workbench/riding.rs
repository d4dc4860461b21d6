//! The board ridden in real time, with a thumb from the page.
//!
//! The world of `world` along a road without end: the same plant, handheld, frames and receiver as anywhere.
//! What is here is the clock, and what becomes of a hand that is not heard of any more.

use std::sync::Arc;
use std::time::{Duration, Instant};

use homestretch::handheld::Output;
use homestretch::receiver::{Lock, LockedBy};
use homestretch::throttle::Arming;
use serde::Deserialize;
use serde_json::{Value, json};

use super::files::checksum;
use crate::board_file::BoardFile;
use crate::feel::{Machine, Stand, StandChosen};
use crate::plant::rider::{Action, FOOT_M_S2};
use crate::report::{summary, way_home};
use crate::route::{Outline, Route, RouteErrors, Segment, Slope, Surface, Way, Wind};
use crate::world::{Pattern, Setup, TICKS_PER_S, World, WorldError};

/// So often the page is told.
pub(super) const TOLD_EVERY: Duration = Duration::from_millis(40);

/// Ticks of the world in that time.
const TICKS_TOLD: u32 = TICKS_PER_S / 25;

/// A page that says nothing for so long is a hand that is gone.
const GONE_AFTER: Duration = Duration::from_millis(500);

/// The road goes on after so many metres, over and over.
const ROAD_M: f64 = 1000.0;

/// The same sensors every time.
const SEED: u64 = 1;

/// A word of the page. Words may stand together.
#[derive(Debug, Default, Deserialize)]
pub(super) struct Word {
    /// -1 to 1.
    thumb: Option<f64>,
    /// Its number.
    pace: Option<u8>,
    /// 0 to 1.
    foot: Option<f64>,
    /// From the start, on this stand.
    stand: Option<StandChosen>,
    /// Which of the two is ridden.
    which: Option<Which>,
    /// From the start.
    #[serde(default)]
    again: bool,
}

/// Which of the two is ridden.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Which {
    /// What is tuned.
    #[default]
    Candidate,
    /// What is there already.
    OnBoard,
}

/// What is ridden, from its start.
#[derive(Clone, Debug, Default)]
pub(super) struct Start {
    /// Where; the usual stand where none was chosen.
    pub(super) stand: Option<StandChosen>,
    /// Which of the two.
    pub(super) which: Which,
}

/// What the rider does, as far as the page has said.
#[derive(Clone, Copy, Debug)]
pub(super) struct Hand {
    thumb: f64,
    foot: f64,
    pace: u8,
    heard_at: Option<Instant>,
}

impl Hand {
    /// At rest.
    pub(super) const fn new() -> Self {
        Self { thumb: 0.0, foot: 0.0, pace: 0, heard_at: None }
    }

    /// Hears a word of the page at `now`; another start, where it asks for one of `start`.
    pub(super) fn hears(&mut self, word: Word, start: &Start, now: Instant) -> Option<Start> {
        self.heard_at = Some(now);
        let held =
            |value: f64, lowest| if value.is_finite() { value.clamp(lowest, 1.0) } else { 0.0 };
        self.thumb = word.thumb.map_or(self.thumb, |thumb| held(thumb, -1.0));
        self.foot = word.foot.map_or(self.foot, |foot| held(foot, 0.0));
        self.pace = word.pace.unwrap_or(self.pace);
        let anew = word.again || word.stand.is_some() || word.which.is_some();
        anew.then(|| {
            self.thumb = 0.0;
            Start {
                stand: word.stand.or_else(|| start.stand.clone()),
                which: word.which.unwrap_or(start.which),
            }
        })
    }

    fn is_gone(&self, now: Instant) -> bool {
        self.heard_at.is_none_or(|at| now.duration_since(at) >= GONE_AFTER)
    }
}

/// A ride of `file` on the machine.
#[derive(Debug)]
pub(super) struct Ride<'b> {
    world: World<'b>,
    file: &'b BoardFile,
}

impl<'b> Ride<'b> {
    /// The moment before it.
    ///
    /// # Errors
    /// In words, why it cannot be.
    pub(super) fn new(
        machine: &Machine,
        file: &'b BoardFile,
        stand: &Stand,
    ) -> Result<Self, RideError> {
        let setup = Setup {
            pattern: Pattern::Route(Arc::new(road(stand.grade, stand.surface)?)),
            ..machine.setup(stand)
        };
        let mut world = World::new(file, &setup, None, SEED)?;
        world.ride_on();
        Ok(Self { world, file })
    }

    /// Rides until the page is told again; what it is told.
    pub(super) fn on(&mut self, hand: &Hand, now: Instant) -> Value {
        let gone = hand.is_gone(now);
        self.world.choose_pace(hand.pace);
        self.world.hand_is_gone(gone);
        let thumb = if gone { 0.0 } else { hand.thumb };
        let action = Action { thumb, foot_m_s2: hand.foot * FOOT_M_S2, lets_go: false };
        let mut output = self.world.tick_with(action).output;
        for _ in 1..TICKS_TOLD {
            output = self.world.tick_with(action).output;
        }
        self.told(&output, (thumb, gone))
    }

    fn told(&self, output: &Output, (thumb, gone): (f64, bool)) -> Value {
        let Output { demand, status } = output;
        let (world, vehicle) = (&self.world, self.world.vehicle());
        let km = |metres: f64| status.heard.then_some(metres / 1000.0);
        let reasons: Vec<&str> = demand.reasons.iter().map(summary::name).collect();
        let way = way_home::name(status.word);
        json!({
            "time_s": world.now_s(),
            "speed_m_s": vehicle.speed_m_s(),
            "distance_m": vehicle.distance_m(),
            "demand_m_s2": demand.acceleration.to_f64(),
            "acceleration_m_s2": vehicle.acceleration_m_s2(),
            "thumb": thumb,
            "soc": status.heard.then_some(status.charge.soc.to_f64()),
            "range_km": km(status.range.likely.to_f64()),
            "range_low_km": km(status.range.nine_in_ten.to_f64()),
            "pack_voltage_V": world.pack().voltage_V(),
            "pack_current_A": world.pack().current_A(),
            "armed": self.armed(demand.armed, gone),
            "reasons": reasons,
            "word": status.heard.then(|| format!("way home: {way}")),
            "checksum": checksum(self.file),
        })
    }

    /// Whether the thumb moves the board, in words.
    fn armed(&self, armed: Arming, gone: bool) -> &'static str {
        if gone {
            return "the hand is silent";
        }
        let lock = self.world.order().map(|order| order.lock);
        match (armed, lock) {
            (Arming::Doubtful { .. }, _) => "the thumb cannot be read",
            (Arming::Settling { .. }, _) => "the thumb rests: a moment more",
            (Arming::Disarmed { .. }, _) => "waits for a neutral thumb",
            (Arming::Armed { .. }, Some(Lock::Locked { why: LockedBy::Silence })) => {
                "after a silence: waits for a neutral thumb"
            }
            (Arming::Armed { .. }, Some(Lock::Locked { .. }) | None) => {
                "the board waits for a neutral thumb"
            }
            (Arming::Armed { .. }, Some(Lock::Open)) => "ready",
        }
    }
}

/// Why a ride cannot be.
#[derive(Debug, thiserror::Error)]
pub(super) enum RideError {
    /// The road is none.
    #[error("the road cannot be ridden: {0}")]
    Road(#[from] RouteErrors),
    /// The world cannot be.
    #[error(transparent)]
    World(#[from] WorldError),
}

/// The road goes on and on, all of it alike.
fn road(grade: f64, surface: Surface) -> Result<Route, RouteErrors> {
    let piece = Segment {
        length_m: ROAD_M,
        slope: Slope::GradePercent(grade * 100.0),
        surface,
        speed_wish_m_s: 1.0,
        wind: Wind::Headwind(0.0),
        heading_deg: None,
    };
    let name = "open road".to_owned();
    Route::new(&Outline { name, way: Way::Again, segments: vec![piece], ..Outline::default() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::feel::Stands;

    fn lantern() -> BoardFile {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/boards/lantern.toml");
        BoardFile::open(path).unwrap()
    }

    fn stand(grade: f64) -> Stand {
        let chosen = StandChosen {
            rider: "usual".to_owned(),
            charge: "half".to_owned(),
            air: "warm".to_owned(),
            surface: "asphalt".to_owned(),
            grade,
        };
        Stands::of(&lantern()).stand(&chosen).unwrap()
    }

    fn word(text: &str) -> Word {
        serde_json::from_str(text).unwrap()
    }

    /// Rides for so long with a page that repeats its thumb.
    fn ride(ride: &mut Ride<'_>, hand: &mut Hand, thumb: f64, seconds: f64) -> Value {
        let mut told = Value::Null;
        let now = Instant::now();
        let mut left_s = seconds;
        while left_s > 0.0 {
            hand.hears(word(&format!("{{\"thumb\":{thumb}}}")), &Start::default(), now);
            told = ride.on(hand, now);
            left_s -= 0.04;
        }
        told
    }

    #[test]
    fn a_thumb_that_rested_drives_and_a_hand_that_is_gone_does_not() {
        let (file, mut hand) = (lantern(), Hand::new());
        let machine = Machine::new(&file).unwrap();
        let mut world = Ride::new(&machine, &file, &stand(0.0)).unwrap();
        let rested = ride(&mut world, &mut hand, 0.0, 1.0);
        assert_eq!(rested["armed"], "ready");
        let driven = ride(&mut world, &mut hand, 0.8, 3.0);
        assert!(driven["speed_m_s"].as_f64().unwrap() > 1.5, "{driven}");
        assert!(driven["demand_m_s2"].as_f64().unwrap() > 0.5, "{driven}");
        let later = Instant::now() + GONE_AFTER * 4;
        let mut gone = Value::Null;
        for _ in 0..50 {
            gone = world.on(&hand, later);
        }
        assert_eq!(gone["armed"], "the hand is silent");
        assert!(gone["pack_current_A"].as_f64().unwrap() < 1.0, "{gone}");
        let back = ride(&mut world, &mut hand, 0.8, 2.0);
        assert_ne!(back["armed"], "ready", "{back}");
        assert!(back["pack_current_A"].as_f64().unwrap() < 1.0, "{back}");
        ride(&mut world, &mut hand, 0.0, 1.0);
        let again = ride(&mut world, &mut hand, 0.8, 1.0);
        assert_eq!(again["armed"], "ready");
        assert!(again["pack_current_A"].as_f64().unwrap() > 1.0, "{again}");
    }

    #[test]
    fn a_board_on_a_slope_rolls_down_it_and_a_foot_holds_it() {
        let (file, mut hand) = (lantern(), Hand::new());
        let machine = Machine::new(&file).unwrap();
        let mut world = Ride::new(&machine, &file, &stand(-0.06)).unwrap();
        let rolled = ride(&mut world, &mut hand, 0.0, 3.0);
        assert!(rolled["speed_m_s"].as_f64().unwrap() > 0.5, "{rolled}");
        hand.hears(word(r#"{"foot":1}"#), &Start::default(), Instant::now());
        let held = ride(&mut world, &mut hand, 0.0, 6.0);
        assert!(held["speed_m_s"].as_f64().unwrap() < 0.1, "{held}");
    }

    #[test]
    fn a_word_that_asks_for_another_start_gets_one_and_lets_go() {
        let mut hand = Hand::new();
        let now = Instant::now();
        assert!(hand.is_gone(now));
        assert!(hand.hears(word(r#"{"thumb":7}"#), &Start::default(), now).is_none());
        assert_eq!((hand.thumb, hand.is_gone(now)), (1.0, false));
        let start = hand.hears(word(r#"{"which":"on_board"}"#), &Start::default(), now).unwrap();
        assert_eq!((start.which, hand.thumb), (Which::OnBoard, 0.0));
        let again = hand.hears(word(r#"{"again":true}"#), &start, now).unwrap();
        assert_eq!(again.which, Which::OnBoard);
        assert!(hand.is_gone(now + GONE_AFTER));
    }
}
