//! The thumb's slider, wire and converter: what is read where a healthy one would read `count`.

use rand_chacha::ChaCha8Rng;

use super::script::Kind;
use crate::random::normal;

/// Where a stuck slider was when it got stuck.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Held(Option<u16>);

/// What the converter reads. The slider comes first, then the wire, then the noise.
pub(super) fn read(
    acting: &[Kind],
    count: u16,
    full_scale: u16,
    (held, numbers): (&mut Held, &mut ChaCha8Rng),
) -> u16 {
    let stuck = acting.iter().any(|kind| matches!(kind, Kind::ThumbStuck {}));
    let slider = if stuck { *held.0.get_or_insert(count) } else { count };
    if !stuck {
        held.0 = None;
    }
    let mut wire = slider;
    for kind in acting {
        match kind {
            Kind::ThumbWireOpen {} => wire = 0,
            Kind::ThumbWireShorted {} => wire = full_scale,
            Kind::ThumbNoise { counts } => {
                let noisy = (f64::from(wire) + counts * normal(numbers)).round();
                let noisy = noisy.clamp(0.0, f64::from(full_scale));
                wire = format!("{noisy:.0}").parse().unwrap_or(wire);
            }
            _ => {}
        }
    }
    wire
}
