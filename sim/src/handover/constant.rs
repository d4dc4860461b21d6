//! The record as a Rust constant that a firmware includes, with its numbers in words above it.
//!
//! Bytes, not a structure of numbers: a firmware reads it as it reads its flash, and a digit that was
//! changed by hand is found out by the checksum.

use std::fmt::Write as _;

use syn::{Expr, Item, Lit};

use super::{mark, record};
use crate::board_file::BoardFile;
use crate::tuning::numbers_in_effect;

/// The name of the constant.
const NAME: &str = "SETTINGS";

/// So many bytes stand in a line.
const IN_A_LINE: usize = 16;

/// The source of a file with the constant.
#[must_use]
pub fn constant(file: &BoardFile) -> String {
    let (bytes, mark) = (record(file), mark(&file.tuning));
    let name = file.name.replace(['\n', '\r'], " ");
    let version = env!("CARGO_PKG_VERSION");
    let mut source = format!(
        "//! What the thumb may do on \"{name}\": the tuned values for a firmware, made by homestretch {version}.\n\
         //!\n\
         //! Not to be changed here: change the board file, and make this anew. In the firmware:\n\
         //!\n\
         //! ```ignore\n\
         //! let settings = Tuning::from_bytes(&{NAME})?.settings()?;\n\
         //! ```\n\
         //!\n\
         //! What it holds, among other things:\n\
         //!\n"
    );
    for (key, value) in numbers_in_effect(file) {
        let _ = writeln!(source, "//! - `{key}` = {value}");
    }
    let _ = write!(
        source,
        "\n/// The record of the tuning (`homestretch::throttle::Tuning`).\n\
         #[rustfmt::skip]\n\
         pub const {NAME}: [u8; {}] = [\n",
        bytes.len()
    );
    for line in bytes.chunks(IN_A_LINE) {
        let line: Vec<_> = line.iter().map(|byte| format!("0x{byte:02x}")).collect();
        let _ = writeln!(source, "    {},", line.join(", "));
    }
    let (high, low) = mark.split_at(4);
    let _ = write!(
        source,
        "];\n\n/// Its mark, as the handheld's status tells it.\n\
         pub const {NAME}_MARK: u32 = 0x{high}_{low};\n"
    );
    source
}

/// The bytes of the constant in `source`; nothing where there is none.
pub(super) fn bytes_of(source: &str) -> Option<Vec<u8>> {
    let file = syn::parse_file(source).ok()?;
    let expression = file.items.into_iter().find_map(|item| {
        if let Item::Const(item) = item { (item.ident == NAME).then_some(*item.expr) } else { None }
    })?;
    let Expr::Array(array) = expression else { return None };
    array.elems.iter().map(byte).collect()
}

fn byte(expression: &Expr) -> Option<u8> {
    let Expr::Lit(literal) = expression else { return None };
    if let Lit::Int(number) = &literal.lit { number.base10_parse().ok() } else { None }
}
