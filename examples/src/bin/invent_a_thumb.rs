//! Makes the demonstration ride: a reference trace, through sensors and a radio, with a thumb.
//!
//! `cargo run --release -p homestretch-examples --bin invent_a_thumb -- TRACE.csv RIDE.csv`
//!
//! The trace has no thumb, so one is invented: what a rider would have pressed for the speed that
//! follows, by the curves of the example board. Sensor errors and lost frames are invented too
//! (`homestretch_sim::sensors`, seed 1).

use anyhow::{Context as _, bail};
use homestretch::throttle::Curve;
use homestretch::units::{MetresPerSecondSquared, Ratio};
use homestretch_sim::board_file::BoardFile;
use homestretch_sim::ride::{Column, RideReader, RideRow, RideWriter};
use homestretch_sim::sensors::{SensorSettings, Sensors};

/// What the road takes at riding speed, in m/s²: 0.017 of gravity, and some wind.
const ROAD_M_S2: f64 = 0.30;
/// A slower loss of speed than this is rolling, not braking.
const ROLLING_M_S2: f64 = 0.45;
/// The rider stands this long before pressing, in steps of a tenth of a second.
const STANDING_STEPS: u32 = 30;

fn main() -> anyhow::Result<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [trace, ride] = arguments.as_slice() else {
        bail!("usage: invent_a_thumb TRACE.csv RIDE.csv")
    };
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/boards/lantern.toml");
    let board = BoardFile::open(path).context("the example board")?;
    let curves = board.throttle.parts().curves;

    let rows = standing_first(RideReader::open(trace)?.collect::<Result<Vec<_>, _>>()?);
    let with_thumb = rows.iter().enumerate().map(|(index, row)| {
        let asked = asked_m_s2(&rows, index);
        let thumb = if asked >= 0.0 {
            pressed(&curves.drive, asked)
        } else {
            -pressed(&curves.brake, -asked)
        };
        let mut row = row.clone();
        row.measured.thumb = Some((thumb * 100.0).round() / 100.0);
        row
    });
    let columns = [
        Column::PackVoltage,
        Column::PackCurrent,
        Column::CellTemperature,
        Column::Speed,
        Column::Distance,
        Column::Thumb,
        Column::LinkOk,
        Column::TrueSoc,
    ];
    let mut writer = RideWriter::create(ride, &columns, &[])?;
    for row in Sensors::new(&SensorSettings::default(), 1)?.apply(with_thumb) {
        writer.write(&row)?;
    }
    writer.finish()?;
    Ok(())
}

/// The trace with a stand before it: a thumb has to be seen neutral before it may drive.
fn standing_first(mut rows: Vec<RideRow>) -> Vec<RideRow> {
    let Some(first) = rows.first().cloned() else { return rows };
    let late_s = f64::from(STANDING_STEPS) / 10.0;
    for row in &mut rows {
        row.measured.time_s += late_s;
    }
    let standing = (0..STANDING_STEPS).map(|step| {
        let mut row = first.clone();
        row.measured.time_s = f64::from(step) / 10.0;
        row.measured.speed_m_s = Some(0.0);
        row
    });
    standing.chain(rows).collect()
}

/// What the rider asks for: the acceleration over the next half second and what the road takes.
fn asked_m_s2(rows: &[RideRow], index: usize) -> f64 {
    let at = |index: usize| {
        rows.get(index).map(|row| (row.measured.time_s, row.measured.speed_m_s.unwrap_or(0.0)))
    };
    let (Some((from_s, from)), Some((to_s, to))) = (at(index), at(index + 5)) else { return 0.0 };
    let gained = (to - from) / (to_s - from_s).max(0.1);
    if from < 0.3 && to < 0.3 {
        return 0.0;
    }
    if gained > -0.2 { gained + ROAD_M_S2 } else { (gained + ROLLING_M_S2).min(0.0) }
}

/// The thumb, 0 to 1, at which a curve asks for so much.
fn pressed(curve: &Curve, asked_m_s2: f64) -> f64 {
    let asked = MetresPerSecondSquared::from_f64(asked_m_s2).unwrap_or_default();
    let hundredth = (0..=100).find(|&part| curve.acceleration(Ratio::from_percent(part)) >= asked);
    f64::from(hundredth.unwrap_or(100)) / 100.0
}
