//! Show a player's tendency.

use super::Failure;
use super::context::{Context, fitted_in};
use super::visit::see_all_days;
use crate::blame::blame;
use crate::report::{FlownReport, TendencyReport, tidy};
use clap::Args;

/// Show what a player's ball does, robustly, and whether that differs from the aim at all.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  trimtab tendency --player Maren")]
pub(super) struct TendencyArgs {
    /// The player [default: that of the build; the only one of the bench].
    #[arg(long, value_name = "NAME")]
    player: Option<String>,
    /// The build [default: that of the session; the player's latest].
    #[arg(long, value_name = "NAME")]
    build: Option<String>,
    /// Sessions with that build, may be repeated [default: the latest, and those of half a year
    /// before it in the same air].
    #[arg(long, value_name = "NAME")]
    session: Vec<String>,
}

impl TendencyArgs {
    pub fn run(self, c: &mut Context<'_, '_>) -> Result<(), Failure> {
        let bench = c.open()?;
        let (build, player) = (self.build.as_deref(), self.player.as_deref());
        let who = fitted_in(&bench, build, player, &self.session)?;
        let seen = see_all_days(&bench, &who, &self.session, &c.physics()?)?;
        let causes = blame(
            &seen.reading,
            &seen.tendency,
            &who.club,
            &seen.physics,
            &seen.conditions,
            &who.goal.aim,
        )?;
        let warnings = seen.warnings();
        let mut report = TendencyReport::new(
            &seen.tendency,
            &causes,
            &who.player.name,
            who.hand(),
            &who.build.name,
            seen.names,
            &seen.shots,
            seen.reading.empty.len(),
        );
        report.warnings.extend(warnings);
        report.fairway_m = tidy(who.goal.fairway);
        report.flown_as_shown = seen.shown.map(FlownReport::from);
        c.show(&report)
    }
}
