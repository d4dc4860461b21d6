//! The way home of one ride: what the handheld said, and what the way back came to.
//!
//! Fed by `cli` with what the handheld knows; the truth beside it is the energy that was drawn.

use std::fmt;

use homestretch::range::{Heading, Word};
use serde_json::{Value, json};

/// A ride has begun when the board has come so far; what is left before counts as set out with.
const SET_OUT_M: f64 = 1.0;

/// Joules in a watt-hour.
const J_PER_WH: f64 = 3600.0;

/// The way home as the handheld knows it, at one place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HomeSample {
    /// The way that was really ridden since the ride began.
    pub ridden_m: f64,
    /// Where the handheld thinks the ride goes.
    pub heading: Heading,
    /// How far home is, by the odometer.
    pub home_m: f64,
    /// Energy that can still be had from the pack.
    pub left_Wh: f64,
    /// What the way home is likely to take.
    pub need_Wh: f64,
    /// What nine in ten ways home take no more than.
    pub need_nine_in_ten_Wh: f64,
    /// What the rider is told.
    pub word: Word,
}

/// Where each word was first said, in metres from the start.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Said {
    /// To turn soon, on the way out.
    pub soon_m: Option<f64>,
    /// To turn now, on the way out.
    pub now_m: Option<f64>,
    /// That home will not be reached, on either way.
    pub will_not_reach_m: Option<f64>,
}

impl Said {
    /// One look more. On the way back the two words about turning tell of the margin, so that they
    /// don't count there.
    pub fn note(&mut self, sample: &HomeSample) {
        let away = sample.heading == Heading::Away;
        let first = match sample.word {
            Word::Plenty => return,
            Word::TurnSoon if away => &mut self.soon_m,
            Word::TurnNow if away => &mut self.now_m,
            Word::TurnSoon | Word::TurnNow => return,
            Word::WillNotReach => &mut self.will_not_reach_m,
        };
        first.get_or_insert(sample.ridden_m);
    }
}

/// What a screen or a report calls a word.
#[must_use]
pub const fn name(word: Word) -> &'static str {
    match word {
        Word::Plenty => "plenty",
        Word::TurnSoon => "turn soon",
        Word::TurnNow => "turn now",
        Word::WillNotReach => "will not reach",
    }
}

/// The rider turned.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Turn {
    told: HomeSample,
    time_s: f64,
    drawn_J: f64,
}

/// The account of one way home.
#[derive(Clone, Debug, Default)]
pub struct HomeAccount {
    set_out_Wh: f64,
    said: Said,
    turn: Option<Turn>,
    last: Option<HomeSample>,
    took_Wh: Option<f64>,
    arrived: bool,
}

impl HomeAccount {
    /// What the handheld knows now.
    pub fn note(&mut self, sample: &HomeSample) {
        if sample.ridden_m < SET_OUT_M {
            self.set_out_Wh = sample.left_Wh;
        }
        self.said.note(sample);
        self.last = Some(*sample);
    }

    /// The rider turns at `time_s` because of what was `told`; `drawn_J` is what the pack has given.
    pub fn turn(&mut self, told: &HomeSample, time_s: f64, drawn_J: f64) {
        self.turn = Some(Turn { told: *told, time_s, drawn_J });
    }

    /// Whether the rider has turned.
    #[must_use]
    pub const fn has_turned(&self) -> bool {
        self.turn.is_some()
    }

    /// After the ride: what the pack has given, and whether home was reached.
    pub fn finish(&mut self, drawn_J: f64, arrived: bool) {
        self.took_Wh = self.turn.map(|turn| (drawn_J - turn.drawn_J) / J_PER_WH);
        self.arrived = arrived && self.turn.is_some();
    }

    fn left_at_home_Wh(&self) -> Option<f64> {
        self.last.filter(|_| self.arrived).map(|last| last.left_Wh)
    }

    /// As a JSON object.
    #[must_use]
    pub fn json(&self) -> Value {
        let km = |metres: f64| metres / 1000.0;
        let told = self.turn.map(|turn| turn.told);
        json!({
            "turned_at_km": told.map(|told| km(told.ridden_m)),
            "turned_at_s": self.turn.map(|turn| turn.time_s),
            "word_soon_at_km": self.said.soon_m.map(km),
            "word_now_at_km": self.said.now_m.map(km),
            "word_will_not_reach_at_km": self.said.will_not_reach_m.map(km),
            "energy_at_start_Wh": self.set_out_Wh,
            "need_Wh": told.map(|told| told.need_Wh),
            "need_nine_in_ten_Wh": told.map(|told| told.need_nine_in_ten_Wh),
            "energy_left_Wh": told.map(|told| told.left_Wh),
            "took_Wh": self.took_Wh,
            "arrived": self.arrived,
            "left_at_home_Wh": self.left_at_home_Wh(),
        })
    }

    /// The result in one line.
    #[must_use]
    pub fn in_a_line(&self) -> String {
        match self.turn {
            None => "never told to turn".to_owned(),
            Some(Turn { told, .. }) => {
                format!("turned at {:.1} km, {}", told.ridden_m / 1000.0, self.how_it_ended())
            }
        }
    }

    fn how_it_ended(&self) -> String {
        if let Some(left_Wh) = self.left_at_home_Wh() {
            let percent = left_Wh / self.set_out_Wh.max(1e-9) * 100.0;
            return format!(
                "home with {left_Wh:.0} Wh of {:.0} left ({percent:.0} %)",
                self.set_out_Wh
            );
        }
        let short_km = self.last.map_or(0.0, |last| last.home_m / 1000.0);
        format!("not home: {short_km:.2} km short")
    }
}

impl fmt::Display for HomeAccount {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let said = [
            (Word::TurnSoon, self.said.soon_m),
            (Word::TurnNow, self.said.now_m),
            (Word::WillNotReach, self.said.will_not_reach_m),
        ];
        let said: Vec<_> = said
            .into_iter()
            .filter_map(|(word, at_m)| {
                Some(format!("\"{}\" at {:.2} km", name(word), at_m? / 1000.0))
            })
            .collect();
        let said = if said.is_empty() { "nothing".to_owned() } else { said.join(", ") };
        writeln!(f, "  way home: the handheld said {said}")?;
        let Some(Turn { told, time_s, .. }) = self.turn else {
            return writeln!(f, "    the rider was never told to turn");
        };
        writeln!(
            f,
            "    turned at {:.2} km ({:.1} min): the way back needs {:.0} Wh (nine times in ten no more than {:.0}), {:.0} Wh left",
            told.ridden_m / 1000.0,
            time_s / 60.0,
            told.need_Wh,
            told.need_nine_in_ten_Wh,
            told.left_Wh
        )?;
        let took_Wh = self.took_Wh.unwrap_or(0.0);
        writeln!(f, "    the way back took {took_Wh:.0} Wh; {}", self.how_it_ended())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TOLD: HomeSample = HomeSample {
        ridden_m: 8000.0,
        heading: Heading::Away,
        home_m: 8000.0,
        left_Wh: 150.0,
        need_Wh: 100.0,
        need_nine_in_ten_Wh: 110.0,
        word: Word::TurnNow,
    };

    fn account() -> HomeAccount {
        let mut account = HomeAccount::default();
        let begin = HomeSample { ridden_m: 0.0, left_Wh: 250.0, word: Word::Plenty, ..TOLD };
        let soon = HomeSample { ridden_m: 6000.0, word: Word::TurnSoon, ..TOLD };
        [begin, soon, TOLD].iter().for_each(|sample| account.note(sample));
        account.turn(&TOLD, 1600.0, 360_000.0);
        account
    }

    #[test]
    fn the_way_back_is_what_was_drawn_since_the_turn() {
        let mut account = account();
        let back = HomeSample { ridden_m: 16_000.0, heading: Heading::Back, home_m: 0.0, ..TOLD };
        account.note(&HomeSample { left_Wh: 50.0, ..back });
        account.finish(720_000.0, true);
        let told = account.json();
        assert_eq!(told["word_soon_at_km"], 6.0);
        assert_eq!(told["took_Wh"], 100.0);
        assert_eq!(told["left_at_home_Wh"], 50.0);
        assert_eq!(account.in_a_line(), "turned at 8.0 km, home with 50 Wh of 250 left (20 %)");
    }

    #[test]
    fn a_ride_that_does_not_get_home_says_how_far_it_is() {
        let mut account = account();
        account.note(&HomeSample { heading: Heading::Back, home_m: 1230.0, ..TOLD });
        account.finish(720_000.0, false);
        assert_eq!(account.json()["arrived"], false);
        assert!(account.json()["left_at_home_Wh"].is_null());
        assert!(account.to_string().contains("not home: 1.23 km short"));
    }

    #[test]
    fn words_about_turning_count_on_the_way_out_only() {
        let mut said = Said::default();
        let back = HomeSample { heading: Heading::Back, ..TOLD };
        said.note(&back);
        said.note(&HomeSample { word: Word::TurnSoon, ..back });
        assert_eq!(said, Said::default());
        said.note(&HomeSample { word: Word::WillNotReach, ..back });
        assert_eq!(said.will_not_reach_m, Some(8000.0));
    }

    #[test]
    fn whoever_is_never_told_to_turn_reads_so() {
        let mut account = HomeAccount::default();
        account.finish(1.0, true);
        assert_eq!(account.json()["arrived"], false);
        assert!(account.to_string().contains("never told to turn"));
    }
}
