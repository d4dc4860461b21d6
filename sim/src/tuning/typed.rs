//! What a person typed, as a number of a key; or why it is none.

use super::fault::Fault;
use super::keys::{Tunable, tunable};

/// Longer than any number that is meant.
const LONGEST: usize = 32;

/// The number that `text` says for `key`, within the key's own range.
///
/// Spaces around it are left out; the point is a point.
///
/// # Errors
/// A [`Fault`] with key, text and range: nothing typed, no number, a comma, not finite, out of range, or a
/// key that cannot be tuned.
pub fn read_number(key: &str, text: &str) -> Result<f64, Fault> {
    let known = tunable(key).ok_or_else(|| unknown(key))?;
    let (lowest, highest) = known.range();
    let refuse = |why: String| {
        let what = format!("{key} {why}; a number from {lowest} to {highest} is wanted");
        Err(Fault::of(key, what).with((lowest, highest)))
    };
    let trimmed = text.trim();
    if trimmed.is_empty() {
        return refuse("is empty".to_owned());
    }
    if let Some(number) = plain(trimmed) {
        return within(known, number);
    }
    let shown = shown(trimmed);
    match plain(&trimmed.replacen(',', ".", 1)) {
        Some(meant) if trimmed.contains(',') => {
            refuse(format!("is `{shown}`: write the point as a point, {meant}"))
        }
        _ => refuse(format!("is `{shown}`, which is no number")),
    }
}

/// `number`, if it lies within the key's own range.
pub(super) fn within(known: &Tunable, number: f64) -> Result<f64, Fault> {
    let (lowest, highest) = known.range();
    if (lowest..=highest).contains(&number) {
        Ok(number)
    } else {
        Err(Fault::out_of_range(known.key, number, (lowest, highest)))
    }
}

/// What is said of a key that is none of ours.
pub(super) fn unknown(key: &str) -> Fault {
    Fault::of(key, format!("`{}` is no number that can be tuned", shown(key)))
}

/// Digits, a sign, a point, an exponent: not the words that a machine also takes for numbers.
fn plain(text: &str) -> Option<f64> {
    let is_plain = |c: char| c.is_ascii_digit() || "+-.eE".contains(c);
    (text.len() <= LONGEST && text.chars().all(is_plain)).then(|| text.parse().ok()).flatten()
}

fn shown(text: &str) -> String {
    if text.chars().count() <= LONGEST {
        return text.to_owned();
    }
    text.chars().take(LONGEST).chain("...".chars()).collect()
}
