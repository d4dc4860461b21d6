//! From a row and its estimate to what a picture shows.

use homestretch::handheld::Output;

use crate::board_file::BoardFile;
use crate::replay::EstimateRow;
use crate::report::picture::Sample;
use crate::ride::RideRow;

/// What a picture shows of one row.
pub(super) fn sample(
    row: &RideRow,
    estimate: &EstimateRow,
    output: &Output,
    board: &BoardFile,
) -> Sample {
    let measured = &row.measured;
    let asked =
        board.throttle.parts().curves.acceleration(output.demand.asked, output.demand.paced);
    Sample {
        time_s: measured.time_s,
        soc: estimate.soc,
        soc_low: estimate.soc_low,
        soc_high: estimate.soc_high,
        true_soc: row.true_soc,
        pack_voltage_V: measured.pack_voltage_V,
        pack_current_A: measured.pack_current_A,
        speed_m_s: measured.speed_m_s,
        range_km: estimate.range_km,
        range_low_km: estimate.range_low_km,
        allowed_m_s2: output.demand.acceleration.to_f64(),
        asked_m_s2: measured.thumb.map(|_| asked.to_f64()),
        link_ok: measured.link_ok,
    }
}
