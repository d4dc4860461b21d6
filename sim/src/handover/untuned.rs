//! What a record holds beside the numbers that can be tuned: the thumb's counts, its switches, the paces.
//!
//! Written into the text of a board file where it differs from what is there.

use homestretch::throttle::{Counts, Pace, Tuning};
use toml_edit::{ArrayOfTables, DocumentMut, Item, Table, value};

use crate::tuning::Fault;

/// `text` with the thumb, the switches and the paces of `tuning`, where those of the text, `was`, differ.
///
/// # Errors
/// Text that is no TOML, or has a key where a section has to be.
pub(super) fn written(text: &str, was: &Tuning, tuning: &Tuning) -> Result<String, Vec<Fault>> {
    let fault = |what: String| vec![Fault::of_file(what)];
    let mut document: DocumentMut =
        text.parse().map_err(|error| fault(format!("the board file is no TOML: {error}")))?;
    if was.counts != tuning.counts {
        let thumb = section(&mut document, "thumb").map_err(fault)?;
        let Counts { full_scale, low, centre, high, deadband, hysteresis, broken_margin, reversed } =
            tuning.counts;
        for (key, count) in [
            ("full_scale", full_scale),
            ("low", low),
            ("centre", centre),
            ("high", high),
            ("deadband", deadband),
            ("hysteresis", hysteresis),
            ("broken_margin", broken_margin),
        ] {
            thumb.insert(key, value(i64::from(count)));
        }
        thumb.insert("reversed", value(reversed));
    }
    let pushed = tuning.limits.push_start.is_some();
    for (key, was, is) in [
        ("reverse", was.reverse, tuning.reverse),
        ("push_start", was.limits.push_start.is_some(), pushed),
    ] {
        if was != is {
            section(&mut document, "throttle").map_err(fault)?.insert(key, value(is));
        }
    }
    if was.paces != tuning.paces {
        paces(&mut document, was.paces.as_slice(), tuning.paces.as_slice()).map_err(fault)?;
    }
    Ok(document.to_string())
}

fn section<'d>(document: &'d mut DocumentMut, name: &str) -> Result<&'d mut Table, String> {
    let item = document.entry(name).or_insert_with(|| Item::Table(Table::new()));
    item.as_table_mut().ok_or_else(|| format!("`{name}` has to be a section: [{name}]"))
}

/// The paces; a record has no names, so that those of the same number are kept.
fn paces(document: &mut DocumentMut, were: &[Pace], paces: &[Pace]) -> Result<(), String> {
    let item = document.entry("pace").or_insert_with(|| Item::ArrayOfTables(ArrayOfTables::new()));
    let tables = item.as_array_of_tables_mut();
    let tables =
        tables.ok_or_else(|| "`pace` has to be a list of sections: [[pace]]".to_owned())?;
    while tables.len() > paces.len() {
        tables.remove(paces.len());
    }
    for (number, pace) in paces.iter().enumerate() {
        if tables.get(number).is_none() {
            tables.push(Table::new());
        } else if were.get(number) == Some(pace) {
            continue;
        }
        let Some(table) = tables.get_mut(number) else { continue };
        table.insert("drive", value(decimal(pace.drive.to_f64())));
        // Faster than any board is "as fast as it goes", which a file says by 40 m/s.
        table.insert("top_speed_m_s", value(decimal(pace.top_speed.to_f64().min(40.0))));
    }
    Ok(())
}

/// A pace is stated to a thousandth.
fn decimal(number: f64) -> f64 {
    (number * 1e4).round() / 1e4
}
