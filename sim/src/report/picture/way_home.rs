//! A way out and home in one picture: how far home is, what is left and what the way back needs.
//!
//! Fed by `cli` as often as it likes; of each 50 m of way one point is kept, so that a ride needs no
//! more memory than its way is long. Drawn by `homeward`.
//! Source: common practice, no source.

use super::homeward;
use super::{Heading, Picture, PictureError};
use crate::report::way_home::{HomeSample, Said};

/// Way between two points that are kept.
const POINT_EVERY_M: f64 = 50.0;

/// Gathers a way out and home, point by point.
#[derive(Clone, Debug, Default)]
pub struct HomePicture {
    points: Vec<HomeSample>,
    /// The newest, kept or not: the way is drawn to its very end.
    newest: Option<HomeSample>,
    rows: u64,
    said: Said,
    turned_m: Option<f64>,
}

impl HomePicture {
    /// Takes what the handheld knows now. What is not a finite number is left out, and so is what comes
    /// before the handheld knows of any energy.
    pub fn push(&mut self, sample: &HomeSample) {
        self.rows = self.rows.saturating_add(1);
        if !is_finite(sample) || (self.points.is_empty() && sample.left_Wh <= 0.0) {
            return;
        }
        self.said.note(sample);
        self.newest = Some(*sample);
        let due = |last: &HomeSample| sample.ridden_m - last.ridden_m >= POINT_EVERY_M;
        if self.points.last().is_none_or(due) {
            self.points.push(*sample);
        }
    }

    /// The rider turns here.
    pub fn turn(&mut self, sample: &HomeSample) {
        if is_finite(sample) {
            self.turned_m = Some(sample.ridden_m);
            // The peak of the way is no place to round off.
            self.points.push(*sample);
        }
    }

    /// The picture of all that was taken, under a heading.
    ///
    /// # Errors
    /// [`PictureError::Empty`] if nothing was taken that can be drawn, [`PictureError::Drawing`] if
    /// the drawing library refuses.
    pub fn finish(mut self, heading: &Heading) -> Result<Picture, PictureError> {
        let Some(newest) = self.newest else {
            return Err(PictureError::Empty { ride: heading.ride.clone(), rows: self.rows });
        };
        self.points.push(newest);
        homeward::draw(heading, &self.points, (&self.said, self.turned_m))
    }
}

fn is_finite(sample: &HomeSample) -> bool {
    let HomeSample { ridden_m, home_m, left_Wh, need_Wh, need_nine_in_ten_Wh, .. } = *sample;
    [ridden_m, home_m, left_Wh, need_Wh, need_nine_in_ten_Wh].into_iter().all(f64::is_finite)
}

#[cfg(test)]
mod tests {
    use homestretch::range::{Heading as Goes, Word};

    use super::*;

    fn heading() -> Heading {
        Heading {
            board: "Plank & <Sons>".to_owned(),
            ride: "a town".to_owned(),
            result: "turned at 8.0 km, home with 30 Wh of 300 left (10 %)".to_owned(),
        }
    }

    /// Out to 8 km and back, a sample each ten metres.
    fn sample(step: u32) -> HomeSample {
        let ridden_m = f64::from(step) * 10.0;
        let home_m = if ridden_m > 8000.0 { 16_000.0 - ridden_m } else { ridden_m };
        HomeSample {
            ridden_m,
            heading: if ridden_m > 8000.0 { Goes::Back } else { Goes::Away },
            home_m,
            left_Wh: 300.0 - ridden_m * 0.017,
            need_Wh: home_m * 0.017,
            need_nine_in_ten_Wh: home_m * 0.019,
            word: match ridden_m {
                far if far >= 7900.0 => Word::TurnNow,
                far if far >= 7800.0 => Word::TurnSoon,
                _ => Word::Plenty,
            },
        }
    }

    fn gathered() -> HomePicture {
        let mut picture = HomePicture::default();
        (0..=1600).for_each(|step| {
            picture.push(&sample(step));
            if step == 800 {
                picture.turn(&sample(step));
            }
        });
        picture
    }

    #[test]
    fn the_svg_holds_heading_axes_legend_and_what_was_said() {
        let picture = gathered().finish(&heading()).unwrap();
        let document = roxmltree::Document::parse(picture.svg()).unwrap();
        let words: Vec<_> = document
            .descendants()
            .filter(|node| node.has_tag_name("text"))
            .filter_map(|node| Some(node.text()?.trim().to_owned()))
            .collect();
        for expected in [
            "Plank & <Sons>",
            "a town",
            "turned at 8.0 km, home with 30 Wh of 300 left (10 %)",
            "Distance from home (km)",
            "Energy (Wh)",
            "left",
            "needed for the way home",
            "nine times in ten no more",
            "ridden (km)",
            "turn soon",
            "turn now",
            "turned",
        ] {
            assert!(words.iter().any(|word| word == expected), "{expected} is missing");
        }
        assert!(!words.iter().any(|word| word == "will not reach"));
        assert!(picture.png().is_ok());
    }

    #[test]
    fn a_way_without_a_point_is_an_error_that_names_the_ride() {
        let error = HomePicture::default().finish(&heading()).unwrap_err();
        assert_eq!(error.to_string(), "the ride `a town` holds nothing to draw (0 rows)");
        let mut picture = HomePicture::default();
        picture.push(&HomeSample { left_Wh: f64::NAN, ..sample(1) });
        picture.push(&HomeSample { left_Wh: 0.0, ..sample(1) });
        let error = picture.finish(&heading()).unwrap_err();
        assert!(matches!(error, PictureError::Empty { rows: 2, .. }));
    }

    #[test]
    fn one_point_is_kept_of_fifty_metres() {
        assert_eq!(gathered().points.len(), 16_000 / 50 + 2);
    }

    #[test]
    fn a_way_of_one_place_is_drawn_all_the_same() {
        let mut picture = HomePicture::default();
        picture.push(&sample(0));
        assert!(picture.finish(&heading()).unwrap().png().is_ok());
    }
}
