//! Another text of a board file: one key set or gone, all else as it was.
//!
//! Used by `draft`. Values are set in the document as it was written, so that comments and order stay; a
//! key goes with its line, and a comment above it stays.

use toml_edit::{Array, Document, DocumentMut, Item, Table, TableLike, Value};

use super::fault::Fault;

/// `text` with `section.key` set to a number.
///
/// # Errors
/// What keeps the key from being set: text that is no TOML, a section that is none.
pub(super) fn with_number(text: &str, at: (&str, &str), number: f64) -> Result<String, Fault> {
    with_value(text, at, Value::from(number))
}

/// `text` with `section.key` set to pairs of numbers.
///
/// # Errors
/// As [`with_number`].
pub(super) fn with_pairs(
    text: &str,
    at: (&str, &str),
    pairs: &[(f64, f64)],
) -> Result<String, Fault> {
    let pair = |&(one, other): &(f64, f64)| Array::from_iter([one, other]);
    with_value(text, at, Value::Array(pairs.iter().map(pair).map(Value::Array).collect()))
}

fn with_value(text: &str, (section, key): (&str, &str), value: Value) -> Result<String, Fault> {
    let mut document: DocumentMut = text.parse().map_err(|error| no_toml(section, &error))?;
    let table = section_mut(&mut document, section)?;
    match table.get_mut(key).and_then(Item::as_value_mut) {
        Some(old) => {
            let decor = old.decor().clone();
            *old = value;
            *old.decor_mut() = decor;
        }
        None => {
            table.insert(key, Item::Value(value));
        }
    }
    Ok(document.to_string())
}

/// `text` without `section.key`; the same where it is not there.
///
/// # Errors
/// As [`with_number`].
pub(super) fn without(text: &str, (section, key): (&str, &str)) -> Result<String, Fault> {
    let document: Document<&str> =
        Document::parse(text).map_err(|error| no_toml(section, &error))?;
    let Some(found) = document.get(section) else { return Ok(text.to_owned()) };
    // Within a plain section the key has lines of its own.
    if let Some(table) = found.as_table().filter(|table| !table.is_dotted()) {
        let Some((name, value)) = table.get_key_value(key) else { return Ok(text.to_owned()) };
        if let (Some(name), Some(value)) = (name.span(), value.span()) {
            let begin = text.get(..name.start).and_then(|before| before.rfind('\n'));
            let begin = begin.map_or(0, |at| at + 1);
            let end = text.get(value.end..).and_then(|after| after.find('\n'));
            let end = end.map_or(text.len(), |at| value.end + at + 1);
            let parts = text.get(..begin).zip(text.get(end..));
            return Ok(parts.map_or_else(|| text.to_owned(), |(one, two)| format!("{one}{two}")));
        }
    }
    let mut document: DocumentMut = text.parse().map_err(|error| no_toml(section, &error))?;
    section_mut(&mut document, section)?.remove(key);
    Ok(document.to_string())
}

/// The number of `section.key` as the file states it.
pub(super) fn number(text: &str, (section, key): (&str, &str)) -> Option<f64> {
    let document: Document<&str> = Document::parse(text).ok()?;
    let value = document.get(section)?.get(key)?;
    // A file's whole numbers are small enough to be told apart.
    value.as_float().or_else(|| value.as_integer().and_then(|whole| whole.to_string().parse().ok()))
}

/// Whether the file states `section.key`, for each of `keys`.
pub(super) fn states(text: &str) -> impl Fn((&str, &str)) -> bool {
    let document = Document::parse(text.to_owned()).ok();
    move |(section, key)| {
        let section = document.as_ref().and_then(|document| document.get(section));
        section.is_some_and(|section| section.get(key).is_some())
    }
}

/// The pairs of `section.key` as the file states them.
pub(super) fn pairs(text: &str, (section, key): (&str, &str)) -> Option<Vec<(f64, f64)>> {
    let document: Document<&str> = Document::parse(text).ok()?;
    let number = |value: &Value| {
        value.as_float().or_else(|| value.as_integer().and_then(|n| n.to_string().parse().ok()))
    };
    let pair = |value: &Value| {
        let pair = value.as_array()?;
        Some((number(pair.get(0)?)?, number(pair.get(1)?)?))
    };
    document.get(section)?.get(key)?.as_array()?.iter().map(pair).collect()
}

fn section_mut<'d>(
    document: &'d mut DocumentMut,
    section: &str,
) -> Result<&'d mut dyn TableLike, Fault> {
    let item = document.entry(section).or_insert_with(|| {
        let mut table = Table::new();
        table.decor_mut().set_prefix("\n");
        Item::Table(table)
    });
    item.as_table_like_mut()
        .ok_or_else(|| Fault::of(section, format!("`{section}` has to be a section: [{section}]")))
}

fn no_toml(section: &str, error: &toml_edit::TomlError) -> Fault {
    Fault::of(section, format!("the file is no TOML: {}", error.message().replace('\n', " ")))
}
