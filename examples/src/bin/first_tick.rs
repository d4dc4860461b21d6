//! The smallest handheld: a board, a ride of ten seconds, what there is to show.
//!
//! Board, thumb and telemetry are invented. On a real handheld the time comes from a timer, the
//! thumb from a converter and the telemetry from a radio; the calls are the same.

use anyhow::Context as _;
use homestretch::handheld::Handheld;
use homestretch::telemetry::Telemetry;
use homestretch::time::Instant;
use homestretch::units::{Amperes, MetresPerSecond, Volts};
use homestretch_sim::board_file::BoardFile;

fn main() -> anyhow::Result<()> {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/boards/lantern.toml");
    let file = BoardFile::open(path).context("the example board")?;
    let calibration = file.throttle.parts().calibration;
    let (neutral, full) = (calibration.counts().centre, calibration.counts().high);

    let mut hand = Handheld::new(&file.board, &file.throttle, None);
    let telemetry = Telemetry {
        pack_voltage: Volts::from_milli(43_500),
        pack_current: Amperes::from_whole(4),
        speed: Some(MetresPerSecond::from_whole(4)),
        ..Telemetry::default()
    };
    for tick in 0..500_u64 {
        let now = Instant::from_millis(tick * 20);
        let thumb = if tick < 50 { neutral } else { full };
        // Telemetry comes ten times a second, the thumb fifty times.
        let frame = (tick % 5 == 0).then_some(&telemetry);
        let output = hand.tick(now, thumb, frame);
        if tick % 50 == 49 {
            println!(
                "{:4.1} s: {:5.1} % charge, {:4.1} km left, {:4.1} % of the motor current",
                f64::from(u32::try_from(tick + 1)?) / 50.0,
                output.status.charge.soc.to_f64() * 100.0,
                output.status.range.likely.to_f64() / 1000.0,
                output.demand.share.to_f64() * 100.0
            );
        }
    }
    Ok(())
}
