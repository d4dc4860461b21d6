//! A tuning taken back: from a record, a constant or a board file, into a draft of the board file.
//!
//! Of a board file what was tuned is taken, on the pack and the vehicle that are there. A record and a constant
//! are for one pack: their numbers are written into the draft, and what comes of it has to be that very tuning.

use homestretch::throttle::{Half, LimitSettings, Shape, Tuning};

use super::constant::bytes_of;
use super::untuned;
use crate::tuning::{Change, Draft, Fault, exact_numbers, text_after, tunable};

/// What a record begins with.
const RECORD: &[u8] = b"HS";

/// The draft with what `bytes` hold, which came from a file called `name`.
///
/// # Errors
/// What the file is not, what is wrong with it, or what of it this board cannot have; nothing of it is
/// taken then.
pub fn taken(draft: &Draft, name: &str, bytes: &[u8]) -> Result<Draft, Vec<Fault>> {
    let refused = |what: String| vec![Fault::of_file(format!("`{name}` {what}"))];
    if bytes.starts_with(RECORD) {
        let tuning = Tuning::from_bytes(bytes);
        return with(draft, &tuning.map_err(|fault| refused(format!("is not taken: {fault}")))?)
            .map_err(|faults| prefixed(name, faults));
    }
    let text = std::str::from_utf8(bytes).map_err(|error| {
        let at = error.valid_up_to() + 1;
        refused(format!("is no record, and no text either: byte {at} is no part of UTF-8"))
    })?;
    if let Some(record) = bytes_of(text) {
        let tuning = Tuning::from_bytes(&record);
        let what = |fault| refused(format!("has a constant that is not taken: {fault}"));
        return with(draft, &tuning.map_err(what)?).map_err(|faults| prefixed(name, faults));
    }
    of_board_file(draft, text).map_err(|faults| prefixed(name, faults))
}

/// The draft with all that was tuned in the board file `text`; pack, vehicle and motors stay the draft's.
fn of_board_file(draft: &Draft, text: &str) -> Result<Draft, Vec<Fault>> {
    let theirs = Draft::new(draft.path(), text)?;
    let ours = theirs.onto(draft)?;
    let text = untuned::written(ours.text(), &ours.file().tuning, &theirs.file().tuning)?;
    Draft::new(draft.path(), text)
}

fn prefixed(name: &str, faults: Vec<Fault>) -> Vec<Fault> {
    let named = |fault: Fault| Fault { what: format!("`{name}`: {}", fault.what), ..fault };
    faults.into_iter().map(named).collect()
}

/// The draft with this tuning and no other.
fn with(draft: &Draft, tuning: &Tuning) -> Result<Draft, Vec<Fault>> {
    if tuning.pack_mark != draft.file().tuning.pack_mark {
        return Err(vec![Fault::of_file("was made for another pack".to_owned())]);
    }
    let parts = tuning.parts().map_err(|error| {
        vec![Fault::of_file(format!("holds numbers that do not go together: {error}"))]
    })?;
    let text = untuned::written(draft.text(), &draft.file().tuning, tuning)?;
    let mut changes = Vec::new();
    for (half, shape, was) in [
        (Half::Drive, &tuning.drive, &draft.file().tuning.drive),
        (Half::Brake, &tuning.brake, &draft.file().tuning.brake),
    ] {
        if shape != was {
            changes.extend(of_shape(half, shape));
        }
    }
    let now = exact_numbers(draft.file().throttle.parts());
    for ((key, wanted), (_, has)) in exact_numbers(&parts).into_iter().zip(now) {
        let of_shape = ["throttle.full_drive_m_s2", "throttle.full_brake_m_s2"].contains(&key);
        if !of_shape && (wanted - has).abs() > f64::EPSILON {
            changes.push(Change::Number { key: key.to_owned(), value: shortest(key, wanted) });
        }
    }
    let made = Draft::new(draft.path(), text_after(&text, &changes)?)?;
    let differs = difference(&made.file().tuning, tuning);
    differs.map_or(Ok(made), |what| {
        let why = "it was made for another board, and follows from pack and vehicle";
        Err(vec![Fault::of_file(format!("{what}: {why}"))])
    })
}

fn of_shape(half: Half, shape: &Shape) -> Vec<Change> {
    let end = match half {
        Half::Drive => "throttle.full_drive_m_s2",
        Half::Brake => "throttle.full_brake_m_s2",
    };
    match shape {
        Shape::Through(handles) => {
            let pair = |handle: &homestretch::throttle::Handle| {
                let thumb = short(handle.thumb.to_f64(), OF_A_RATIO);
                (thumb, short(handle.acceleration.to_f64(), OF_A_QUANTITY))
            };
            vec![Change::Handles { half, handles: handles.as_slice().iter().map(pair).collect() }]
        }
        Shape::Blended { blend, greatest } => vec![
            Change::Number {
                key: "throttle.softness".to_owned(),
                value: short(blend.to_f64(), OF_A_RATIO),
            },
            Change::Number { key: end.to_owned(), value: short(greatest.to_f64(), OF_A_QUANTITY) },
        ],
    }
}

/// Half a step of a share, of a time, of any other quantity.
const OF_A_RATIO: f64 = 1.0 / 33_554_432.0;
const OF_A_TIME: f64 = 0.5e-6;
const OF_A_QUANTITY: f64 = 1.0 / 131_072.0;

fn shortest(key: &str, exact: f64) -> f64 {
    let half_a_step = match tunable(key).map_or("", |known| known.unit) {
        "" => OF_A_RATIO,
        "s" => OF_A_TIME,
        _ => OF_A_QUANTITY,
    };
    short(exact, half_a_step)
}

/// The number with the fewest decimals that the library reads as the same: nearer than half a step.
fn short(exact: f64, half_a_step: f64) -> f64 {
    let rounded = |digits: usize| format!("{exact:.digits$}").parse().unwrap_or(exact);
    let near = |number: &f64| (number - exact).abs() < 0.999 * half_a_step;
    (0..10).map(rounded).find(near).unwrap_or(exact)
}

/// The first thing in which two tunings differ.
fn difference(one: &Tuning, other: &Tuning) -> Option<&'static str> {
    let Tuning { limits, .. } = one;
    let same_brake = limits.brake == other.limits.brake;
    let of_limits = || {
        let LimitSettings { sagging, discharge_current, stop_voltage, over_voltage, .. } = limits;
        if *sagging != other.limits.sagging || *stop_voltage != other.limits.stop_voltage {
            "the voltages at which drive folds back and ends differ"
        } else if *over_voltage != other.limits.over_voltage {
            "the voltage of the full pack differs"
        } else if *discharge_current != other.limits.discharge_current {
            "the current that the pack may give differs"
        } else if same_brake {
            "some limit differs"
        } else {
            "the mass that has to be stopped differs"
        }
    };
    if one == other {
        None
    } else if one.limits != other.limits {
        Some(of_limits())
    } else if one.drive != other.drive || one.brake != other.brake {
        Some("a curve differs that a board file cannot say")
    } else {
        Some("some value differs that a board file cannot say")
    }
}
