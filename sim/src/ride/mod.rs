//! A ride as data: read, checked, written, and taken over from logs of other shapes.
//!
//! The plant and a builder's recorder write rides, `sensors` spoils them, replay and learning
//! read them. What the handheld may see is a [`Measured`]; the truth, where a ride has one, lies
//! beside it in the [`RideRow`] and can't slip through with it.
//! Everything streams: a ride is as long as the disk, not as the memory.
//! Source: docs/files.md, "Ride log".

mod column;
mod column_source;
mod error;
mod excerpt;
mod import;
mod lines;
mod mapping;
mod mapping_error;
mod number;
mod order;
mod reader;
mod row;
mod table;
mod thumb_range;
mod unit;
mod writer;

pub use column::Column;
pub use column_source::ColumnSource;
pub use error::{Place, RideError};
pub use import::{Imported, ImportedRows, import};
pub use mapping::Mapping;
pub use mapping_error::MappingError;
pub use reader::RideReader;
pub use row::{Measured, RideRow};
pub use thumb_range::ThumbRange;
pub use unit::Unit;
pub use writer::RideWriter;
