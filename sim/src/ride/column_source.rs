//! Where one of our columns comes from in another log, and how its values become ours.
//!
//! One entry of a `mapping`; asked row by row by `import`.

use serde::{Deserialize, Serialize};

use super::column::Column;
use super::thumb_range::ThumbRange;
use super::unit::Unit;

/// What stands for a clash of the ways to convert.
const ONE_WAY: &str = "either `unit`, or `scale` and `offset`, or `raw`";

/// Where one of our columns comes from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ColumnSource {
    /// Their header.
    pub from: String,
    /// Their unit, instead of a scale.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<Unit>,
    /// Ours over theirs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scale: Option<f64>,
    /// Added after the scale.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub offset: Option<f64>,
    /// 1 or -1, taken last.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sign: Option<i8>,
    /// For a thumb in counts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub raw: Option<ThumbRange>,
}

impl ColumnSource {
    /// The same values under the header `from`.
    #[must_use]
    pub fn renamed(from: &str) -> Self {
        Self { from: from.to_owned(), unit: None, scale: None, offset: None, sign: None, raw: None }
    }

    /// Our value for theirs.
    #[must_use]
    pub fn convert(&self, theirs: f64) -> f64 {
        if let Some(raw) = self.raw {
            return raw.position(theirs);
        }
        let (scale, offset) = match self.unit {
            Some(unit) => unit.to_ours(),
            None => (self.scale.unwrap_or(1.0), self.offset.unwrap_or(0.0)),
        };
        f64::from(self.sign.unwrap_or(1)) * (theirs * scale + offset)
    }

    /// Key, value and what is allowed, of the first thing that makes no sense.
    pub(super) fn fault(&self, column: Column) -> Option<(&'static str, String, String)> {
        let linear = self.scale.or(self.offset);
        if self.from.trim().is_empty() {
            return Some(("from", "empty".into(), "the name of a column".into()));
        }
        if let Some(unit) = self.unit {
            if !unit.fits(column) {
                let fitting = Unit::fitting(column).join("`, `");
                let allowed = if fitting.is_empty() {
                    "no unit: this column is a flag, 0 or 1".to_owned()
                } else {
                    format!("one of `{fitting}`")
                };
                return Some(("unit", format!("`{unit}`"), allowed));
            }
            if linear.is_some() || self.raw.is_some() {
                return Some(("unit", format!("`{unit}`"), ONE_WAY.into()));
            }
        }
        if let Some(raw) = self.raw {
            if column != Column::Thumb {
                return Some(("raw", "given".into(), "`raw` for the thumb only".into()));
            }
            if linear.is_some() {
                return Some(("raw", "given".into(), ONE_WAY.into()));
            }
            if !raw.is_ordered() {
                let allowed = "`neutral` between `full_brake` and `full_drive`";
                return Some(("raw", raw.to_string(), allowed.into()));
            }
        }
        self.linear_fault(column)
    }

    fn linear_fault(&self, column: Column) -> Option<(&'static str, String, String)> {
        if let Some(sign) = self.sign
            && (!matches!(sign, 1 | -1) || self.raw.is_some())
        {
            let allowed = "1 or -1, and not together with `raw`";
            return Some(("sign", sign.to_string(), allowed.into()));
        }
        if let Some(scale) = self.scale
            && (!scale.is_finite() || scale == 0.0)
        {
            let allowed = "a finite number that is not 0";
            return Some(("scale", scale.to_string(), allowed.into()));
        }
        if let Some(offset) = self.offset.filter(|offset| !offset.is_finite()) {
            return Some(("offset", offset.to_string(), "a finite number".into()));
        }
        if column == Column::LinkOk && (self.scale.or(self.offset).is_some() || self.sign.is_some())
        {
            let allowed = "`from` alone: this column is a flag, 0 or 1";
            return Some(("scale", "given".into(), allowed.into()));
        }
        None
    }
}
