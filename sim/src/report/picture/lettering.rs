//! The font that the program carries, and how wide words set in it are.
//!
//! Asked by `page` for widths and by `raster` for the font itself. DejaVu Sans (a descendant of
//! Bitstream Vera, free to embed) comes from the crate `dejavu`. A reader of the SVG who lacks it
//! gets Verdana, which runs about as wide, or whatever stands in for it there.

use ttf_parser::Face;

/// What the SVG asks for.
pub(super) const FAMILY: &str = "DejaVu Sans, Verdana, sans-serif";

/// Width of a letter as a share of its size, where the font has none: about that of a digit.
const USUAL_WIDTH: f64 = 0.64;

/// Regular or bold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Weight {
    Regular,
    Bold,
}

impl Weight {
    /// The bytes of the font file.
    pub(super) fn bytes(self) -> &'static [u8] {
        match self {
            Self::Regular => dejavu::sans::regular(),
            Self::Bold => dejavu::sans::bold(),
        }
    }
}

/// Measures words.
pub(super) struct Lettering {
    regular: Option<Face<'static>>,
    bold: Option<Face<'static>>,
}

impl Lettering {
    pub(super) fn new() -> Self {
        Self {
            regular: Face::parse(Weight::Regular.bytes(), 0).ok(),
            bold: Face::parse(Weight::Bold.bytes(), 0).ok(),
        }
    }

    /// Pixels from the start to the end of `text`, set `size` pixels high.
    pub(super) fn width(&self, text: &str, size: f64, weight: Weight) -> f64 {
        let face = match weight {
            Weight::Regular => self.regular.as_ref(),
            Weight::Bold => self.bold.as_ref(),
        };
        let of_letter = |letter| {
            face.and_then(|face| {
                let advance = face.glyph_hor_advance(face.glyph_index(letter)?)?;
                Some(f64::from(advance) / f64::from(face.units_per_em()))
            })
            .unwrap_or(USUAL_WIDTH)
        };
        text.chars().map(of_letter).sum::<f64>() * size
    }

    /// As much of the start of `text` as is at most `widest` pixels wide, with an ellipsis where
    /// something had to go. Control characters, which no picture can show, become spaces.
    pub(super) fn fitted(&self, text: &str, size: f64, weight: Weight, widest: f64) -> String {
        let mut text: String =
            text.chars().map(|letter| if is_shown(letter) { letter } else { ' ' }).collect();
        if self.width(&text, size, weight) <= widest {
            return text;
        }
        while text.pop().is_some() {
            let shorter = format!("{}\u{2026}", text.trim_end());
            if self.width(&shorter, size, weight) <= widest {
                return shorter;
            }
        }
        text
    }
}

/// Whether XML may hold the character and a reader can see it.
fn is_shown(letter: char) -> bool {
    !letter.is_control() && letter != '\u{FFFE}' && letter != '\u{FFFF}'
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_carried_fonts_can_be_read_and_bold_is_wider() {
        let lettering = Lettering::new();
        assert!(lettering.regular.is_some() && lettering.bold.is_some());
        let regular = lettering.width("Charge (%)", 14.0, Weight::Regular);
        let bold = lettering.width("Charge (%)", 14.0, Weight::Bold);
        assert!(regular > 60.0 && regular < bold && bold < 110.0);
    }

    #[test]
    fn words_that_are_too_long_end_in_an_ellipsis() {
        let lettering = Lettering::new();
        let name = "a-very-long-name-of-a-ride.csv";
        let fitted = lettering.fitted(name, 12.0, Weight::Regular, 100.0);
        assert!(fitted.ends_with('\u{2026}'));
        assert!(lettering.width(&fitted, 12.0, Weight::Regular) <= 100.0);
        assert_eq!(lettering.fitted(name, 12.0, Weight::Regular, 900.0), name);
    }

    #[test]
    fn control_characters_become_spaces() {
        let fitted = Lettering::new().fitted("a\u{1}b\n", 12.0, Weight::Bold, 900.0);
        assert_eq!(fitted, "a b ");
    }
}
