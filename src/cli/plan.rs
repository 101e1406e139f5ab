//! The range plan.

use super::Failure;
use super::args::setting_file;
use super::context::{Context, Fitted, fitted_in, local, model};
use super::propose::describe;
use super::visit::{Seen, see, sessions};
use crate::adjusted::{Turn, bearing, scatter};
use crate::bench::Bench;
use crate::bench::describe::SettingFile;
use crate::correction::{Local, Z80};
use crate::head::Setting;
use crate::physics::Physics;
use crate::plan::{Bay, Lesson, Schedule, Wanted};
use crate::priors;
use crate::proposal::{Interval, Options, Situation, Undo, steps, what_if};
use crate::report::{LessonReport, PlanReport, ShotsReport};
use crate::units::YARD;
use clap::Args;

/// Plan the range session: how many shots before and after, in which order, to see a change.
///
/// The change is a row of a filed proposal, a setting, or a size alone. The player's spread is that
/// of the logged sessions. Two numbers of shots are shown: for averages alone, and at the same
/// delivery, where the club was measured. Also told is which setting teaches most of what the
/// levers do for this player.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  trimtab plan --player Maren\n  trimtab plan --build MV-1 --set heel-toe=20%\n  trimtab plan --build MV-1 --change-yd 8 --power-percent 90"
)]
pub(super) struct PlanArgs {
    /// The player [default: that of the build; the only one of the bench].
    #[arg(long, value_name = "NAME")]
    player: Option<String>,
    /// The build [default: that of the session; the player's latest].
    #[arg(long, value_name = "NAME")]
    build: Option<String>,
    /// Sessions with that build, may be repeated [default: those of the latest day].
    #[arg(long, value_name = "NAME")]
    session: Vec<String>,
    /// The proposal [default: the latest for that build].
    #[arg(long, value_name = "N")]
    proposal: Option<i64>,
    /// Its row [default: 1].
    #[arg(long, value_name = "N")]
    row: Option<usize>,
    /// A setting instead: a lever and where it goes, may be repeated.
    #[arg(long, value_name = "LEVER=VALUE", conflicts_with_all = ["proposal", "row"])]
    set: Vec<String>,
    /// A change of offline alone instead, right positive.
    #[arg(long, value_name = "M", allow_negative_numbers = true, conflicts_with_all = ["proposal", "row", "set"])]
    change_m: Option<f64>,
    /// The same in yards.
    #[arg(long, value_name = "YD", allow_negative_numbers = true, conflicts_with_all = ["change_m", "proposal", "row", "set"])]
    change_yd: Option<f64>,
    /// Chance to see the change if it is as predicted.
    #[arg(long, value_name = "PERCENT", default_value_t = 80, value_parser = clap::value_parser!(u8).range(30..=99))]
    power_percent: u8,
}

/// The change that is to be seen, in the right-handed frame.
struct Planned {
    setting: Option<Setting>,
    /// Change of offline, m.
    change: Interval,
    proposal: Option<i64>,
}

impl PlanArgs {
    pub fn run(self, c: &mut Context<'_, '_>) -> Result<(), Failure> {
        let bench = c.open()?;
        let (build, player) = (self.build.as_deref(), self.player.as_deref());
        let who = fitted_in(&bench, build, player, &self.session)?;
        let seen = see(
            &sessions(&bench, &who.build.name, &self.session)?,
            &who,
            &c.physics()?,
        )?;
        let physics = &seen.physics;
        let learned = local(model(&bench, None)?.as_ref(), &who);
        let planned = self.planned(&bench, &who, &seen, physics, &learned)?;
        c.show(&self.report(&who, &seen, physics, &learned, &planned)?)
    }

    fn planned(
        &self,
        bench: &Bench,
        who: &Fitted,
        seen: &Seen,
        physics: &Physics,
        learned: &Local,
    ) -> Result<Planned, Failure> {
        if let Some(m) = self.change_m.or(self.change_yd.map(|v| v * YARD)) {
            if !(0.1..=150.0).contains(&m.abs()) {
                return Err(Failure::usage(
                    "the change must be 0.1 to 150 m (0.11 to 164 yd), either way",
                ));
            }
            let mean = m * who.hand().sign();
            return Ok(Planned {
                setting: None,
                change: Interval {
                    mean,
                    low: mean,
                    high: mean,
                },
                proposal: None,
            });
        }
        let head = &who.club.head;
        let (file, proposal) = if self.set.is_empty() {
            let (id, file) = self.row_of_proposal(bench, who)?;
            (file, Some(id))
        } else {
            (setting_file(&self.set, head)?, None)
        };
        let setting = file
            .apply(head, &who.club.setting)
            .map_err(Failure::input)?;
        if setting == who.club.setting {
            return Err(Failure::usage("that is how the club is now: no change"));
        }
        let change = predicted(who, seen, physics, learned, &setting)?;
        Ok(Planned {
            setting: Some(setting),
            change,
            proposal,
        })
    }

    /// The setting of a filed proposal's row, with the proposal's number.
    fn row_of_proposal(&self, bench: &Bench, who: &Fitted) -> Result<(i64, SettingFile), Failure> {
        let build = &who.build.name;
        let rows = |p: &crate::bench::store::Proposal| {
            p.body["rows"].as_array().is_some_and(|r| !r.is_empty())
        };
        let proposal = match self.proposal {
            Some(id) => bench.proposal(id)?,
            None => bench
                .proposals(Some(&who.player.name))?
                .into_iter()
                .rev()
                .find(|p| p.build == *build && rows(p))
                .ok_or_else(|| {
                    Failure::usage(format!(
                        "no proposal with a change is filed for build '{build}': propose one, or \
                         say --set or --change-yd"
                    ))
                })?,
        };
        if proposal.build != *build {
            return Err(Failure::usage(format!(
                "proposal {} is for build '{}', not '{build}'",
                proposal.id, proposal.build
            )));
        }
        let row = self.row.unwrap_or(1);
        super::rebuild::not_another_head(&proposal.body, row)?;
        let file = row
            .checked_sub(1)
            .and_then(|i| proposal.body["rows"].get(i))
            .map(|r| serde_json::from_value(r["setting_file"].clone()))
            .ok_or_else(|| Failure::usage(format!("proposal {}: no row {row}", proposal.id)))?
            .map_err(|e| Failure::input(format!("proposal {}: {e}", proposal.id)))?;
        Ok((proposal.id, file))
    }

    fn report(
        &self,
        who: &Fitted,
        seen: &Seen,
        physics: &Physics,
        learned: &Local,
        planned: &Planned,
    ) -> Result<PlanReport, Failure> {
        let (head, hand, now) = (&who.club.head, who.hand(), &who.club.setting);
        let bay = Bay {
            club: &who.club,
            physics,
            range: physics.range(&seen.conditions),
            delivery: seen.reading.centre.delivery,
            local: learned,
        };
        let wanted = Wanted {
            effect: planned.change.mean,
            power: f64::from(self.power_percent) / 100.0,
        };
        let turn = planned
            .setting
            .as_ref()
            .map_or_else(Turn::unknown, |s| Turn::of(&bay.features(s), learned));
        let striker = physics.striker(head, now, now)?;
        let bears = bearing(&striker, &bay.delivery, physics, &bay.range);
        let scatter = scatter(seen.side(), &turn, &bears, &priors::within(head.kind));
        let raw = wanted.raw(&seen.tendency, head.kind);
        let adjusted = scatter
            .as_ref()
            .map(|s| wanted.adjusted(&seen.tendency, s, &turn));
        let words = |setting: &Setting| -> Vec<String> {
            let work = steps(head, now, setting, physics.attitude);
            work.into_iter().map(|s| s.instruction).collect()
        };
        let goes_back = planned.setting.as_ref().is_none_or(|s| {
            let work = steps(head, now, s, physics.attitude);
            work.iter().all(|s| s.undo <= Undo::AMinute)
        });
        let each = adjusted.as_ref().unwrap_or(&raw).one_look;
        let schedule = each.map(|n| Schedule::new(n, goes_back));
        let lesson = |l: Lesson| -> Result<LessonReport, Failure> {
            let each = schedule.as_ref().map_or(20, |s| s.shots() / 2);
            let n = each as f64;
            let turn = Turn::of(&bay.features(&l.setting), learned);
            let variance = scatter.as_ref().map_or_else(
                || 2.0 * seen.tendency.offline.sd.powi(2) / n,
                |s| s.variance(n, &turn).0,
            );
            let (setting, file) = describe(who, &l.setting);
            let left = l.doubt_left(variance);
            // As every change is predicted: over the player's deliveries, not at the central one.
            let change = predicted(who, seen, physics, learned, &l.setting)?.mean;
            Ok(LessonReport {
                steps: words(&l.setting),
                setting,
                setting_file: file,
                ..LessonReport::of(&Lesson { change, ..l }, hand, left, each)
            })
        };
        let lesson = bay.teaches_most()?.map(lesson).transpose()?;
        let doubt = planned
            .setting
            .as_ref()
            .map(|s| bay.lesson(s).map(|l| l.doubt))
            .transpose()?;
        // To first order either way: the whole is no less than its part.
        let whole = 0.5 * (planned.change.high - planned.change.low) / Z80;
        let whole = whole.max(doubt.unwrap_or(0.0));
        let mut report = PlanReport {
            player: who.player.name.clone(),
            build: who.build.name.clone(),
            sessions: seen.names.clone(),
            warnings: seen.warnings(),
            change: planned.setting.as_ref().map(|s| words(s).join("; then ")),
            proposal: planned.proposal,
            offline_change_m: crate::report::tidy(planned.change.mean * hand.sign()),
            power_percent: f64::from(self.power_percent),
            raw: ShotsReport::of(&raw),
            adjusted: adjusted.as_ref().map(ShotsReport::of),
            adjusted_for: scatter
                .as_ref()
                .map_or_else(Vec::new, |s| s.used.iter().map(|q| q.info().name).collect()),
            order: None,
            block_shots: None,
            shots: None,
            before_and_after_only: !goes_back,
            response_doubt_m: doubt.map(crate::report::tidy),
            prediction_doubt_m: doubt.map(|_| crate::report::tidy(whole)),
            response_is_main_doubt: doubt.is_some_and(|d| d * d > 0.5 * whole * whole),
            teaches_most: lesson,
        };
        report.set_order(schedule.as_ref());
        Ok(report)
    }
}

/// The predicted change of offline by a setting.
fn predicted(
    who: &Fitted,
    seen: &Seen,
    physics: &Physics,
    learned: &Local,
    setting: &Setting,
) -> Result<Interval, Failure> {
    let options = Options::default();
    let situation = Situation::from_session(
        &who.club,
        physics,
        seen.conditions,
        &seen.reading,
        &seen.tendency,
        who.goal,
        learned.clone(),
        200,
        options.seed,
    )?;
    let (_, row) = what_if(&situation, setting, &options)?;
    Ok(row.offline_change)
}
