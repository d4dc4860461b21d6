//! Turns the drawn SVG into the bytes of a PNG file.
//!
//! Called by `picture`. Only the fonts of `lettering` are known here, so that every machine paints
//! the same picture.

use std::sync::Arc;

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::fontdb::Database;
use resvg::usvg::{Options, Tree};

use super::PictureError;
use super::lettering::Weight;

/// The bytes of a PNG file that shows `svg`, at the size that it states.
pub(super) fn png(svg: &str) -> Result<Vec<u8>, PictureError> {
    let mut fonts = Database::new();
    for weight in [Weight::Regular, Weight::Bold] {
        fonts.load_font_data(weight.bytes().to_vec());
    }
    let options = Options { fontdb: Arc::new(fonts), ..Options::default() };
    let tree = Tree::from_str(svg, &options).map_err(refused)?;
    let size = tree.size().to_int_size();
    let mut pixels =
        Pixmap::new(size.width(), size.height()).ok_or_else(|| refused("it has no size"))?;
    resvg::render(&tree, Transform::identity(), &mut pixels.as_mut());
    pixels.encode_png().map_err(refused)
}

fn refused(error: impl std::fmt::Display) -> PictureError {
    PictureError::Drawing { reason: error.to_string() }
}
