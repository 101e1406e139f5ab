//! What if?

use super::Failure;
use super::args::setting_file;
use super::context::Context;
use super::picture::Picture;
use super::propose::describe;
use crate::proposal::{Options, what_if};
use crate::report::{RowReport, WhatIfReport};
use clap::Args;

/// Predict one given setting against the present one.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  trimtab whatif --build MV-1 --set heel-toe=20% --set sleeve=45deg"
)]
pub(super) struct WhatIf {
    #[command(flatten)]
    picture: Picture,
    /// A lever and where it goes, may be repeated: heel-toe=20%, sole=7g, melt:heel=4g,
    /// sleeve=90deg, loft=0.5deg. What is not named stays.
    #[arg(long, required = true, value_name = "LEVER=VALUE")]
    set: Vec<String>,
}

impl WhatIf {
    pub fn run(self, c: &mut Context<'_, '_>) -> Result<(), Failure> {
        let bench = c.open()?;
        let scene = self.picture.scene(c, &bench)?;
        let (situation, around) = self.picture.situation(&scene)?;
        let who = &scene.who;
        let setting = setting_file(&self.set, &who.club.head)?
            .apply(&who.club.head, &who.club.setting)
            .map_err(Failure::input)?;
        let options = Options {
            seed: self.picture.seed,
            ..Options::default()
        };
        let (now, then) = what_if(&situation, &setting, &options)?;
        let row = |rank, r: &crate::proposal::Row| {
            let (words, file) = describe(who, &r.setting);
            RowReport::new(rank, r, &now, who.hand(), words, file)
        };
        let report = WhatIfReport {
            now: row(0, &now),
            then: row(1, &then),
            around,
        };
        c.show(&report)
    }
}
