//! Refit for a season.

use super::Failure;
use super::context::{Context, fitted, model};
use crate::bench::Bench;
use crate::bench::store::{SessionFilter, SessionInfo};
use crate::club::FEATURES;
use crate::correction::{FitOptions, Model, Season, SessionSummary, fit, summarise, worths};
use crate::physics::Physics;
use crate::quantity::Measured;
use crate::report::{LearnedReport, LeverWorth, lever_worths};
use clap::Args;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::collections::BTreeMap;
use std::time::{Duration, Instant};

/// Learn from a season's sessions what each lever does, for whom, and whether that beats physics.
///
/// Fits the correction to all logged sessions of the season, with the latest earlier season's model,
/// widened, as prior, and files it as a new version. Old versions stay usable.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  trimtab refit --season 2026 --from 2026-03-01 --to 2026-10-31")]
pub(super) struct Refit {
    /// Name of the season.
    #[arg(long, value_name = "NAME")]
    season: String,
    /// First day [default: all].
    #[arg(long, value_name = "YYYY-MM-DD")]
    from: Option<jiff::civil::Date>,
    /// Last day [default: all].
    #[arg(long, value_name = "YYYY-MM-DD")]
    to: Option<jiff::civil::Date>,
    /// Model that serves as prior [default: the latest of another season].
    #[arg(long, value_name = "VERSION", conflicts_with = "no_prior")]
    prior: Option<i64>,
    /// Start from bare physics.
    #[arg(long)]
    no_prior: bool,
    /// By what factor the prior model's covariance is widened.
    #[arg(long, value_name = "FACTOR", default_value_t = 1.5)]
    widening: f64,
    /// Do not file the model in the bench.
    #[arg(long)]
    dry_run: bool,
}

impl Refit {
    pub fn run(self, c: &mut Context<'_, '_>) -> Result<(), Failure> {
        if self.season.trim().is_empty() {
            return Err(Failure::usage("--season: give it a name, such as 2026"));
        }
        if let (Some(from), Some(to)) = (self.from, self.to) {
            if from > to {
                return Err(Failure::usage(format!("--from {from} is after --to {to}")));
            }
        }
        let mut bench = c.open()?;
        let physics = c.physics()?;
        let filter = SessionFilter {
            from: self.from,
            to: self.to,
            ..SessionFilter::default()
        };
        let summaries = summaries(&bench, &filter, &physics)?;
        let prior = self.prior(&bench)?;
        let season = Season {
            name: self.season.clone(),
            fitted_at: c.now.clone(),
            prior_version: prior.as_ref().map(|m| m.version),
        };
        let next = bench.models()?.last().map_or(1, |m| m.version + 1);
        let version = u32::try_from(next).unwrap_or(u32::MAX);
        let options = FitOptions {
            widening: self.widening,
            ..FitOptions::default()
        };
        let fitted_model = fit(&summaries, prior.as_ref(), season, version, &options)?;
        let report = LearnedReport::new(
            &fitted_model,
            levers(&bench, &fitted_model, &summaries, &physics)?,
        );
        if !self.dry_run {
            let body = serde_json::to_value(&fitted_model)
                .map_err(|e| Failure::input(format!("the model cannot be filed: {e}")))?;
            bench.add_model(&self.season, &body, &c.now)?;
        }
        c.show(&report)
    }

    fn prior(&self, bench: &Bench) -> Result<Option<Model>, Failure> {
        if self.no_prior {
            return Ok(None);
        }
        if let Some(v) = self.prior {
            return model(bench, Some(v));
        }
        let earlier = bench
            .models()?
            .into_iter()
            .rev()
            .find(|m| m.season != self.season);
        match earlier {
            Some(m) => model(bench, Some(m.version)),
            None => Ok(None),
        }
    }
}

/// Streams the log, session by session: at any time one session's shots are in memory.
fn summaries(
    bench: &Bench,
    filter: &SessionFilter,
    physics: &Physics,
) -> Result<Vec<SessionSummary>, Failure> {
    let mut clubs = BTreeMap::new();
    let total = bench.sessions(filter)?.len() as u64;
    let progress = Progress::new(total);
    let mut out = Vec::new();
    let mut shots: Vec<Measured> = Vec::new();
    let mut current: Option<SessionInfo> = None;
    let mut failed: Option<Failure> = None;
    let mut close = |info: &SessionInfo, shots: &[Measured]| -> Result<(), Failure> {
        if !clubs.contains_key(&info.build) {
            clubs.insert(info.build.clone(), fitted(bench, Some(&info.build), None)?);
        }
        let who = &clubs[&info.build];
        out.push(summarise(
            [&info.name, &info.player, &info.head],
            &info.date.to_string(),
            shots,
            &who.club,
            &who.prior,
            physics,
            &info.hand.turn(info.meta.conditions()),
        )?);
        progress.step();
        Ok(())
    };
    bench.each_shot(filter, |info, _, measured| {
        if failed.is_some() {
            return;
        }
        if current.as_ref().is_none_or(|c| c.id != info.id) {
            if let Some(done) = &current {
                failed = close(done, &shots).err();
            }
            shots.clear();
            current = Some(info.clone());
        }
        shots.push(info.hand.turn(*measured));
    })?;
    if let Some(f) = failed {
        return Err(f);
    }
    if let Some(done) = &current {
        close(done, &shots)?;
    }
    Ok(out)
}

/// A bar that shows itself only when the work takes more than a second, on a terminal.
struct Progress {
    bar: ProgressBar,
    since: Instant,
}

impl Progress {
    fn new(total: u64) -> Progress {
        let bar = ProgressBar::with_draw_target(Some(total), ProgressDrawTarget::hidden());
        if let Ok(style) =
            ProgressStyle::with_template("{wide_bar} {pos}/{len} sessions, {eta} left")
        {
            bar.set_style(style);
        }
        Progress {
            bar,
            since: Instant::now(),
        }
    }

    fn step(&self) {
        if self.bar.is_hidden() && self.since.elapsed() > Duration::from_secs(1) {
            self.bar.set_draw_target(ProgressDrawTarget::stderr());
        }
        self.bar.inc(1);
    }
}

/// What each lever is worth to each player on each head of the season.
fn levers(
    bench: &Bench,
    model: &Model,
    summaries: &[SessionSummary],
    physics: &Physics,
) -> Result<Vec<LeverWorth>, Failure> {
    let mut pairs: BTreeMap<(String, String), [bool; FEATURES.len()]> = BTreeMap::new();
    for s in summaries {
        let seen = pairs.entry((s.player.clone(), s.head.clone())).or_default();
        for (f, v) in s.features.iter().enumerate() {
            seen[f] |= v.abs() > 1e-9;
        }
    }
    let mut out = Vec::new();
    for ((player, head), seen) in &pairs {
        let of_player = bench.builds_of(player, None)?;
        let mut who = None;
        for name in of_player.iter().rev() {
            let f = fitted(bench, Some(name), None)?;
            if f.build.head == *head {
                who = Some(f);
                break;
            }
        }
        let Some(who) = who else { continue };
        let striker = physics.striker(&who.club.head, &who.club.setting, &who.club.setting)?;
        let delivery = crate::impact::Delivery::from_vector(&who.prior.mean);
        let range = physics.range(&crate::flight::Conditions::default());
        let w = worths(
            &striker,
            &delivery,
            physics,
            &range,
            &model.local(player, head),
        );
        out.extend(lever_worths(player, head, who.hand(), &w, seen));
    }
    Ok(out)
}
