//! What came of a ride in words and as JSON.
//!
//! Fed row by row by `cli`; a true charge is scored here, after the estimate has been made.

use homestretch::handheld::Output;
use homestretch::throttle::Reason;
use serde_json::{Value, json};

use crate::replay::EstimateRow;
use crate::ride::RideRow;

/// How far an estimate was off, against a truth that it never saw.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Score {
    rows: u64,
    sum_of_squares: f64,
    largest: f64,
    inside: u64,
}

/// What came of a ride.
#[derive(Clone, Debug)]
pub struct Summary {
    ride: String,
    board: String,
    rows: u64,
    frames_lost: u64,
    began_s: f64,
    ended_s: f64,
    /// Where the odometer stood last, and the way that it has told.
    odometer_m: Option<f64>,
    way_m: f64,
    first: Option<EstimateRow>,
    last: Option<EstimateRow>,
    implausible_frames: u32,
    thumb_rows: u64,
    held_back: [u64; Reason::ALL.len()],
    score: Score,
}

impl Summary {
    /// Nothing ridden yet.
    #[must_use]
    pub fn new(ride: &str, board: &str) -> Self {
        Self {
            ride: ride.to_owned(),
            board: board.to_owned(),
            rows: 0,
            frames_lost: 0,
            began_s: 0.0,
            ended_s: 0.0,
            odometer_m: None,
            way_m: 0.0,
            first: None,
            last: None,
            implausible_frames: 0,
            thumb_rows: 0,
            held_back: [0; Reason::ALL.len()],
            score: Score::default(),
        }
    }

    /// One row more, with what the handheld made of it.
    pub fn add(&mut self, row: &RideRow, estimate: &EstimateRow, output: &Output) {
        let measured = &row.measured;
        if self.rows == 0 {
            self.began_s = measured.time_s;
        }
        self.rows += 1;
        self.ended_s = measured.time_s;
        self.frames_lost += u64::from(!measured.link_ok);
        if let Some(odometer) = measured.distance_m {
            // An odometer that restarts steps back; that step is no way.
            self.way_m += (odometer - self.odometer_m.unwrap_or(odometer)).max(0.0);
            self.odometer_m = Some(odometer);
        }
        self.implausible_frames = output.status.implausible_frames;
        // Before the pack has been heard of there is no estimate, only a wide interval.
        if output.status.heard {
            self.first = self.first.or(Some(*estimate));
            self.last = Some(*estimate);
            if let Some(truth) = row.true_soc {
                self.score.add(estimate, truth);
            }
        }
        if measured.thumb.is_some() {
            self.thumb_rows += 1;
            for (count, reason) in self.held_back.iter_mut().zip(Reason::ALL) {
                *count += u64::from(output.demand.reasons.contains(reason));
            }
        }
    }

    /// The result in one line.
    #[must_use]
    pub fn in_a_line(&self) -> String {
        let Some((first, last)) = self.first.zip(self.last) else {
            return "nothing heard from the pack".to_owned();
        };
        let way = self.distance_km().map(|km| format!(", {km:.1} km")).unwrap_or_default();
        format!(
            "{:.0} % to {:.0} % charge{way}, {:.1} km left at the end",
            first.soc * 100.0,
            last.soc * 100.0,
            last.range_km
        )
    }

    fn distance_km(&self) -> Option<f64> {
        self.odometer_m.map(|_| self.way_m / 1000.0)
    }

    /// The result as one JSON object.
    #[must_use]
    pub fn json(&self) -> Value {
        let estimate = |row: Option<EstimateRow>| {
            row.map(|row| {
                json!({
                    "soc": row.soc, "soc_low": row.soc_low, "soc_high": row.soc_high,
                    "range_km": row.range_km, "range_low_km": row.range_low_km,
                    "capacity_Ah": row.capacity_Ah, "resistance_scale": row.resistance_scale,
                })
            })
        };
        let held_back: serde_json::Map<_, _> = self
            .held_back()
            .map(|(reason, share)| (name(reason).replace(' ', "_"), json!(share)))
            .collect();
        json!({
            "ride": self.ride,
            "board": self.board,
            "rows": self.rows,
            "frames_lost": self.frames_lost,
            "implausible_frames": self.implausible_frames,
            "duration_s": self.ended_s - self.began_s,
            "distance_km": self.distance_km(),
            "first": estimate(self.first),
            "last": estimate(self.last),
            "thumb_held_back": held_back,
            "against_truth": self.score.json(),
        })
    }

    /// Each reason that held the thumb back, and in what share of the rows.
    fn held_back(&self) -> impl Iterator<Item = (Reason, f64)> {
        let rows = self.thumb_rows;
        let with_share = move |(reason, &count): (Reason, &u64)| (reason, share(count, rows));
        Reason::ALL
            .into_iter()
            .zip(&self.held_back)
            .filter(|(_, count)| **count > 0)
            .map(with_share)
    }
}

impl std::fmt::Display for Summary {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        writeln!(f, "{}, {}", self.board, self.ride)?;
        let minutes = (self.ended_s - self.began_s) / 60.0;
        let lost = share(self.frames_lost, self.rows) * 100.0;
        writeln!(f, "  {} rows, {minutes:.1} min, {lost:.1} % of the telemetry lost", self.rows)?;
        if self.implausible_frames > 0 {
            writeln!(
                f,
                "  {} frames could not be true for this pack and were not used: voltage or max_discharge_A of another?",
                self.implausible_frames
            )?;
        }
        let (Some(first), Some(last)) = (self.first, self.last) else {
            return writeln!(f, "  nothing was heard from the pack: no estimate");
        };
        for (when, row) in [("begin", first), ("end", last)] {
            writeln!(
                f,
                "  {when:>5}: charge {:5.1} % ({:.1} to {:.1}), range {:5.1} km (nine times in ten at least {:.1})",
                row.soc * 100.0,
                row.soc_low * 100.0,
                row.soc_high * 100.0,
                row.range_km,
                row.range_low_km
            )?;
        }
        if let Some(km) = self.distance_km() {
            writeln!(f, "  ridden: {km:.2} km")?;
        }
        for (reason, share) in self.held_back() {
            writeln!(f, "  thumb held back {:4.1} % of the time: {}", share * 100.0, name(reason))?;
        }
        if self.score.rows > 0 {
            writeln!(
                f,
                "  against the truth: error {:.2} % rms, {:.2} % at the most; inside the interval {:.1} % of the rows",
                self.score.rms() * 100.0,
                self.score.largest * 100.0,
                self.score.covered() * 100.0
            )?;
        }
        Ok(())
    }
}

impl Score {
    fn add(&mut self, estimate: &EstimateRow, truth: f64) {
        let error = estimate.soc - truth;
        self.rows += 1;
        self.sum_of_squares += error * error;
        self.largest = self.largest.max(error.abs());
        self.inside += u64::from((estimate.soc_low..=estimate.soc_high).contains(&truth));
    }

    fn rms(&self) -> f64 {
        (self.sum_of_squares / counted(self.rows.max(1))).sqrt()
    }

    fn covered(&self) -> f64 {
        share(self.inside, self.rows)
    }

    fn json(&self) -> Option<Value> {
        (self.rows > 0).then(|| {
            json!({
                "soc_rms_percent": self.rms() * 100.0,
                "soc_largest_percent": self.largest * 100.0,
                "soc_covered": self.covered(),
            })
        })
    }
}

/// What a screen or a report calls a reason.
#[must_use]
pub const fn name(reason: Reason) -> &'static str {
    match reason {
        Reason::BrokenThumb => "broken thumb wire",
        Reason::SilentHand => "silent hand",
        Reason::NotArmed => "not armed",
        Reason::StopVoltage => "stop voltage",
        Reason::OverVoltage => "over-voltage",
        Reason::StaleTelemetry => "old telemetry",
        Reason::Sagging => "sagging pack",
        Reason::DischargeCurrent => "discharge current",
        Reason::HotPack => "hot pack",
        Reason::ColdPack => "cold pack",
        Reason::TopSpeed => "top speed",
        Reason::NearlyFull => "nearly full pack",
        Reason::ColdCharge => "too cold to charge",
        Reason::HotCharge => "too hot to charge",
        Reason::ChargeCurrent => "charging current",
        Reason::Standstill => "standing still",
        Reason::StuckThumb => "stuck thumb",
        Reason::HandBattery => "battery of the handheld",
        Reason::HotMotor => "hot motor",
        Reason::HotController => "hot motor controller",
        Reason::Reserve => "reserve of charge",
        Reason::PushStart => "waiting for a push",
        Reason::WeakBrake => "weak brake",
    }
}

fn share(part: u64, whole: u64) -> f64 {
    counted(part) / counted(whole.max(1))
}

#[allow(clippy::cast_precision_loss, reason = "rows of a ride lie far below 2^53")]
fn counted(count: u64) -> f64 {
    count as f64
}
