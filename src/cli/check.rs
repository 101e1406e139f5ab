//! The check afterwards.

use super::Failure;
use super::context::{Context, Fitted, Seen, fitted, local, model, see, sessions};
use crate::bench::Bench;
use crate::bench::describe::SettingFile;
use crate::bench::store::SessionFilter;
use crate::hand::Hand;
use crate::physics::Physics;
use crate::proposal::{Interval, Options, Situation, what_if};
use crate::report::VerdictReport;
use crate::verdict::verdict;
use clap::Args;

/// Compare the sessions before and after a change with what was predicted, and file the verdict.
///
/// Without options: the player's latest session against the latest one with the build that was
/// replaced, and the proposal that led from one to the other. A change that no proposal foretold is
/// predicted now, from the sessions before.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  trimtab check --player Maren")]
pub(super) struct Check {
    /// The player [default: that of the build].
    #[arg(long, value_name = "NAME")]
    player: Option<String>,
    /// The new build [default: the player's latest].
    #[arg(long, value_name = "NAME")]
    build: Option<String>,
    /// The build before [default: the one that was replaced].
    #[arg(long, value_name = "NAME")]
    build_before: Option<String>,
    /// Sessions before, may be repeated [default: the latest with the build before].
    #[arg(long, value_name = "NAME")]
    before: Vec<String>,
    /// Sessions after, may be repeated [default: the latest with the new build].
    #[arg(long, value_name = "NAME")]
    after: Vec<String>,
    /// The proposal [default: the latest whose row became the new build].
    #[arg(long, value_name = "N")]
    proposal: Option<i64>,
    /// Its row [default: the one that became the new build].
    #[arg(long, value_name = "N", requires = "proposal")]
    row: Option<usize>,
    /// Do not file the verdict in the bench.
    #[arg(long)]
    dry_run: bool,
}

impl Check {
    pub fn run(self, c: &mut Context<'_, '_>) -> Result<(), Failure> {
        let mut bench = c.open()?;
        let physics = c.physics()?;
        let build_of =
            |name: &str| -> Result<String, Failure> { Ok(bench.session(name)?.info.build) };
        let build = match (&self.build, self.after.first()) {
            (None, Some(session)) => Some(build_of(session)?),
            (b, _) => b.clone(),
        };
        let new = fitted(&bench, build.as_deref(), self.player.as_deref())?;
        let before = match (&self.build_before, self.before.first()) {
            (Some(b), _) => b.clone(),
            (None, Some(session)) => build_of(session)?,
            (None, None) => new.build.replaces.clone().ok_or_else(|| {
                Failure::usage(format!(
                    "build '{}' replaces none: say --before or --build-before",
                    new.build.name
                ))
            })?,
        };
        let old = fitted(&bench, Some(&before), Some(&new.player.name))?;
        let seen_before = see(&sessions(&bench, &before, &self.before)?, &old, &physics)?;
        let seen_after = see(
            &sessions(&bench, &new.build.name, &self.after)?,
            &new,
            &physics,
        )?;
        let hand = new.hand();
        let file = SettingFile::of(&new.club.setting, &new.club.head);
        let found = self.prediction(&bench, &before, &file)?;
        let predicted = match found {
            Some((_, interval)) => Some(turned(interval, hand)),
            None => computed(&bench, &old, &new, &seen_before, &physics)?,
        };
        let result = verdict(&seen_before.tendency, &seen_after.tendency, predicted);
        let offline = |s: &Seen| s.tendency.offline.mean;
        let mut report = VerdictReport::new(
            &result,
            &new.player.name,
            hand,
            [offline(&seen_before), offline(&seen_after)],
        );
        report.before = seen_before.names;
        report.after = seen_after.names;
        report.proposal = found.map(|(id, _)| id);
        if !self.dry_run {
            let body = serde_json::to_value(&report)
                .map_err(|e| Failure::input(format!("the verdict cannot be filed: {e}")))?;
            bench.add_verdict(report.proposal, &body, &c.now)?;
        }
        c.show(&report)
    }

    /// The predicted change of offline (m, real-world frame) with the number of its proposal.
    fn prediction(
        &self,
        bench: &Bench,
        before: &str,
        setting: &SettingFile,
    ) -> Result<Option<(i64, Interval)>, Failure> {
        if let Some(id) = self.proposal {
            let p = bench.proposal(id)?;
            let row = match self.row {
                Some(r) => r.checked_sub(1),
                None => row_of(&p.body, setting),
            };
            return row
                .and_then(|i| interval(&p.body["rows"][i]["offline_change_m"]))
                .map(|i| Some((id, i)))
                .ok_or_else(|| {
                    Failure::usage(format!("proposal {id}: no row is that build; say --row"))
                });
        }
        let found = bench
            .proposals(None)?
            .into_iter()
            .rev()
            .filter(|p| p.build == before)
            .find_map(|p| {
                let row = row_of(&p.body, setting)?;
                Some((p.id, interval(&p.body["rows"][row]["offline_change_m"])?))
            });
        Ok(found)
    }
}

/// Without a proposal: what the sessions before and the model foretell of the new setting, if it is
/// the same head.
fn computed(
    bench: &Bench,
    old: &Fitted,
    new: &Fitted,
    before: &Seen,
    physics: &Physics,
) -> Result<Option<Interval>, Failure> {
    if old.build.head != new.build.head {
        return Ok(None);
    }
    let options = Options::default();
    let situation = Situation::from_session(
        &old.club,
        physics,
        before.conditions,
        &before.reading,
        &before.tendency,
        old.goal,
        local(model(bench, None)?.as_ref(), old),
        200,
        options.seed,
    )?;
    let (_, row) = what_if(&situation, &new.club.setting, &options)?;
    Ok(Some(row.offline_change))
}

/// The row of a filed proposal that has this setting.
pub(super) fn row_of(body: &serde_json::Value, setting: &SettingFile) -> Option<usize> {
    body["rows"].as_array()?.iter().position(|r| {
        serde_json::from_value::<SettingFile>(r["setting_file"].clone())
            .is_ok_and(|s| s == *setting)
    })
}

fn interval(v: &serde_json::Value) -> Option<Interval> {
    Some(Interval {
        mean: v["mean"].as_f64()?,
        low: v["low"].as_f64()?,
        high: v["high"].as_f64()?,
    })
}

/// An interval of a right-positive length in the other frame.
fn turned(i: Interval, hand: Hand) -> Interval {
    let s = hand.sign();
    Interval {
        mean: i.mean * s,
        low: (i.low * s).min(i.high * s),
        high: (i.low * s).max(i.high * s),
    }
}

/// The latest session of each build of a player, newest first: what a card shows.
pub(super) fn latest_session(bench: &Bench, build: &str) -> Result<Option<String>, Failure> {
    let filter = SessionFilter {
        build: Some(build.into()),
        ..SessionFilter::default()
    };
    let mut all = bench.sessions(&filter)?;
    all.sort_by_key(|s| (s.date, s.id));
    Ok(all.pop().map(|s| s.name))
}
