//! `--home` of `ride`: away until the handheld says to turn, then back to where the ride began.

use std::path::PathBuf;

use homestretch::handheld::Output;
use homestretch::range::{Heading as Goes, WayMemory, Word};
use homestretch::store::Life;
use serde_json::Value;

use crate::report::picture::{Heading, HomePicture, Picture, PictureError, Target};
use crate::report::way_home::{HomeAccount, HomeSample};
use crate::world::{Ending, Pattern, World};

/// Joules in a watt-hour.
const J_PER_WH: f64 = 3600.0;

/// What a ride with `--home` gathers.
#[derive(Debug)]
pub(super) struct Homeward {
    account: HomeAccount,
    picture: HomePicture,
    plots: Vec<Target>,
    /// Whether the picture is wanted for more than its files.
    shown: bool,
}

/// Refuses what leads nowhere.
pub(super) fn check(pattern: &Pattern) -> anyhow::Result<()> {
    anyhow::ensure!(
        matches!(pattern, Pattern::Route(_)),
        "--home needs a route: the speed schedule `{}` leads nowhere, so that there is no way home",
        pattern.name()
    );
    Ok(())
}

/// The life with home where this ride begins: what an earlier ride left of its way is not this one's.
pub(super) fn from_here(mut life: Life) -> Life {
    life.range.way = WayMemory::default();
    life
}

impl Homeward {
    /// Opens the pictures, so that a bad path is found before the ride.
    pub(super) fn new(plots: &[PathBuf], shown: bool) -> Result<Self, PictureError> {
        let plots = plots.iter().cloned().map(Target::create).collect::<Result<_, _>>()?;
        let (account, picture) = (HomeAccount::default(), HomePicture::default());
        Ok(Self { account, picture, plots, shown })
    }

    /// After a tick: takes what the handheld knows, and turns once it says so.
    pub(super) fn look(&mut self, world: &mut World<'_>, output: &Output) {
        if !output.status.heard {
            return;
        }
        let sample = sample(world, output);
        self.account.note(&sample);
        self.picture.push(&sample);
        let told = sample.heading == Goes::Away && sample.word >= Word::TurnNow;
        if told && !self.account.has_turned() {
            world.turn_home();
            self.account.turn(&sample, world.now_s(), world.energy_drawn_J());
            self.picture.turn(&sample);
        }
    }

    /// After the ride: writes the pictures under the names of board and ride, and gives back the account
    /// and, where it is drawn, the picture.
    pub(super) fn finish(
        mut self,
        (board, ride): (&str, &str),
        world: &World<'_>,
    ) -> Result<(HomeAccount, Option<Picture>), PictureError> {
        let arrived = world.ending() == Some(Ending::Arrived);
        self.account.finish(world.energy_drawn_J(), arrived);
        let mut drawn = None;
        if !self.plots.is_empty() || self.shown {
            let heading = Heading {
                board: board.to_owned(),
                ride: ride.to_owned(),
                result: self.account.in_a_line(),
            };
            let picture = self.picture.finish(&heading)?;
            for target in self.plots {
                picture.write(target)?;
            }
            drawn = Some(picture);
        }
        Ok((self.account, drawn))
    }
}

/// The account as the field that it has in the object of a ride; nothing for a ride that had none.
pub(super) fn json(account: Option<&HomeAccount>) -> Value {
    account.map_or(Value::Null, |account| serde_json::json!({ "home": account.json() }))
}

fn sample(world: &World<'_>, output: &Output) -> HomeSample {
    let (status, home) = (&output.status, world.way_home());
    HomeSample {
        ridden_m: world.vehicle().distance_m(),
        heading: home.heading,
        home_m: home.distance.to_f64(),
        left_Wh: status.usable.energy().to_f64() / J_PER_WH,
        need_Wh: home.need.to_f64() / J_PER_WH,
        need_nine_in_ten_Wh: home.need_nine_in_ten.to_f64() / J_PER_WH,
        word: home.word,
    }
}
