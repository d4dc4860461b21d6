//! The sums of a campaign, by group.
//!
//! Used by `cli` and by whoever judges the library. Holds no ride, only what rides add up to.

use std::fmt;

use serde_json::{Map, Value, json};

use super::Outcome;
use super::group::Group;
use super::homeward::HomeScore;
use super::score::{ChargeScore, RangeScore};
use crate::world::{Ending, Violations};

/// The sums of one group.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sums {
    /// Rides in it.
    pub rides: u64,
    /// Those that arrived.
    pub arrived: u64,
    /// Kilometres of rides, riding on not counted.
    pub distance_km: f64,
    /// Seconds of all riding.
    pub simulated_s: f64,
    /// Charge, row by row.
    pub charge: ChargeScore,
    /// Range, claim by claim.
    pub range: RangeScore,
    /// Riders who turned when told.
    pub home: HomeScore,
    /// What should not have happened.
    pub violations: Violations,
    /// Rides on which something broke.
    pub broken: u64,
    /// Demands for drive that had to wait for a neutral thumb after a silence.
    pub lockouts: u64,
}

impl Sums {
    /// Lockouts on ten kilometres.
    fn lockouts_per_10_km(&self) -> Option<f64> {
        let lockouts = f64::from(u32::try_from(self.lockouts).unwrap_or(u32::MAX));
        (self.distance_km > 0.0).then(|| lockouts / (self.distance_km / 10.0))
    }

    fn add(&mut self, ride: &Outcome) {
        self.rides += 1;
        self.arrived += u64::from(ride.ending == Some(Ending::Arrived));
        self.distance_km += ride.distance_m / 1000.0;
        self.simulated_s += ride.simulated_s;
        self.charge = self.charge.and(ride.charge);
        if let Some((_, range)) = ride.range {
            self.range = self.range.and(range);
        }
        if let Some(home) = &ride.home {
            self.home.add(home);
        }
        self.violations = self.violations.and(&ride.violations);
        self.broken += u64::from(!ride.faults.is_empty());
        self.lockouts += u64::from(ride.lockouts);
    }

    fn json(&self) -> Map<String, Value> {
        let percent = |share: Option<f64>| share.map(|share| share * 100.0);
        let counts =
            |(kind, count): (crate::world::Violation, u32)| (kind.name().to_owned(), json!(count));
        let violations: Map<_, _> = self.violations.iter().map(counts).collect();
        let Value::Object(sums) = json!({
            "rides": self.rides,
            "arrived": self.arrived,
            "distance_km": self.distance_km,
            "simulated_s": self.simulated_s,
            "soc_rms_percent": percent(self.charge.rms()),
            "soc_largest_percent": percent(self.charge.largest()),
            "soc_covered": self.charge.covered(),
            "range_claims": self.range.claims(),
            "range_low_met": self.range.low_met(),
            "range_bias_km": self.range.bias_km(),
            "range_rms_km": self.range.rms_km(),
            "range_error_percent": percent(self.range.mean_share()),
            "range_bias_percent": percent(self.range.bias_share()),
            "range_median_error_percent": percent(self.range.median_share()),
            "range_median_error_last_third_percent": percent(self.range.median_share_of_last_third()),
            "range_median_error_last_third_percent_of_whole":
                percent(self.range.median_of_whole_in_last_third()),
            "home_rides": self.home.rides,
            "home_stranded": self.home.stranded,
            "home_median_left_percent": percent(self.home.median_left()),
            "home_median_beyond_reserve_percent": percent(self.home.median_beyond_reserve()),
            "rides_with_faults": self.broken,
            "lockouts": self.lockouts,
            "lockouts_per_10_km": self.lockouts_per_10_km(),
            "violations": violations,
        }) else {
            return Map::new();
        };
        sums
    }
}

/// The sums of all groups.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Tally([Sums; Group::ALL.len()]);

impl Tally {
    /// One ride more.
    pub fn add(&mut self, ride: &Outcome) {
        for (group, sums) in Group::ALL.into_iter().zip(&mut self.0) {
            if group.holds(ride) {
                sums.add(ride);
            }
        }
    }

    /// Each group with its sums, empty ones as well.
    pub fn iter(&self) -> impl Iterator<Item = (Group, &Sums)> {
        Group::ALL.into_iter().zip(&self.0)
    }

    /// The sums of all rides.
    #[must_use]
    pub fn all(&self) -> Sums {
        self.0.first().copied().unwrap_or_default()
    }

    /// All rides as one JSON object, the groups in an object of their own; `asked` is how many rides
    /// were to be ridden, `wall_s` how long it took.
    #[must_use]
    pub fn json(&self, asked: u64, wall_s: f64) -> Value {
        let all = self.all();
        let mut json = all.json();
        json.insert("rides_asked".into(), json!(asked));
        json.insert("wall_s".into(), json!(wall_s));
        json.insert("realtime_factor".into(), json!(all.simulated_s / wall_s.max(1e-9)));
        let groups: Map<_, _> = self
            .iter()
            .filter(|(group, sums)| *group != Group::All && sums.rides > 0)
            .map(|(group, sums)| (group.name().to_owned(), Value::Object(sums.json())))
            .collect();
        json.insert("groups".into(), Value::Object(groups));
        Value::Object(json)
    }
}

impl fmt::Display for Tally {
    /// A table with a line per group that has rides, then what should not have happened.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let number = |value: Option<f64>, scale: f64, decimals: usize| {
            value.map_or("-".to_owned(), |value| format!("{:.decimals$}", value * scale))
        };
        writeln!(f, "{:<30} {:<26} {:<36} turned when told", "", "charge", "range")?;
        writeln!(
            f,
            "{:<23}{:>7}{:>8}{:>9}{:>10}{:>9}{:>9}{:>7}{:>6}{:>7}{:>9}{:>10}{:>8}",
            "",
            "rides",
            "rms %",
            "worst %",
            "inside %",
            "claims",
            "median %",
            "last %",
            "(all)",
            "met %",
            "rides",
            "stranded",
            "left %"
        )?;
        for (group, sums) in self.iter().filter(|(_, sums)| sums.rides > 0) {
            let range = &sums.range;
            writeln!(
                f,
                "{:<23}{:>7}{:>8}{:>9}{:>10}{:>9}{:>9}{:>7}{:>6}{:>7}{:>9}{:>10}{:>8}",
                group.name(),
                sums.rides,
                number(sums.charge.rms(), 100.0, 2),
                number(sums.charge.largest(), 100.0, 1),
                number(sums.charge.covered(), 100.0, 1),
                range.claims(),
                number(range.median_share(), 100.0, 1),
                number(range.median_share_of_last_third(), 100.0, 1),
                number(range.median_of_whole_in_last_third(), 100.0, 1),
                number(range.low_met(), 100.0, 1),
                sums.home.rides,
                sums.home.stranded,
                number(sums.home.median_left(), 100.0, 1),
            )?;
        }
        writeln!(
            f,
            "charge: its error over all telemetry rows, and how often the truth was inside the 90 % interval;\n\
             range, at each kilometre of the rides that were ridden on: median size of the likely range's error\n\
             over the way left, from the first kilometre on and in the last third (there also over the whole\n\
             way); how often the low end was met (promised: 90 %); turned when told: riders who did not come\n\
             home, and what the median one had left of the usable energy\n\
             published beside it: trip energy of electric trucks 7.4 % off, 10.8 % where speed is predicted\n\
             too; car dashboards 5 to 10 % (sources: docs/range.md)"
        )?;
        let all = self.all();
        if let Some(lockouts) = all.lockouts_per_10_km() {
            writeln!(
                f,
                "something broke on {} rides; {lockouts:.3} times in 10 km drive had to wait for a neutral\n\
                 thumb after a silence",
                all.broken
            )?;
        }
        if all.violations.total() == 0 {
            return writeln!(f, "nothing happened that should not");
        }
        writeln!(f, "what should not have happened:")?;
        for (kind, count) in all.violations.iter().filter(|(_, count)| *count > 0) {
            writeln!(f, "{count:>9}  {}", kind.name().replace('_', " "))?;
        }
        Ok(())
    }
}
