//! How reasons are called on the wire, and how many digits numbers have there.

use homestretch::throttle::{Reason, Reasons};

/// The short name of a reason: `DischargeCurrent` is `discharge-current`.
#[must_use]
pub fn id(reason: Reason) -> String {
    let name = format!("{reason:?}");
    let mut id = String::with_capacity(name.len() + 2);
    for letter in name.chars() {
        if letter.is_ascii_uppercase() && !id.is_empty() {
            id.push('-');
        }
        id.push(letter.to_ascii_lowercase());
    }
    id
}

/// The short names of several, the strongest first.
pub(super) fn ids(reasons: Reasons) -> Vec<String> {
    reasons.iter().map(id).collect()
}

/// To a thousandth: finer than anything that is felt. No zero with a sign.
#[must_use]
pub(super) fn rounded(value: f64) -> f64 {
    (value * 1e3).round() / 1e3 + 0.0
}
