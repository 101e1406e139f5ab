//! Refit for a season.

use super::Failure;
use super::context::{Context, fitted, model};
use crate::bench::Bench;
use crate::bench::store::{SessionFilter, SessionInfo};
use crate::club::FEATURES;
use crate::correction::{
    FitOptions, GroundGradient, Model, Season, SessionSummary, fit_scored, ground_gradient,
    summarise, worths,
};
use crate::flight::Conditions;
use crate::hand::Hand;
use crate::head::SettingError;
use crate::impact::{Delivery, Striker};
use crate::physics::Physics;
use crate::quantity::Measured;
use crate::report::{LearnedReport, LeverWorth, lever_worths};
use clap::Args;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use rayon::prelude::*;
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
        let mut scored = fit_scored(&summaries, prior.as_ref(), season, version, &options)?;
        let pairs = pairs(&bench, &summaries, &physics)?;
        let gradients: BTreeMap<(&str, &str), GroundGradient> = (pairs.iter())
            .map(|p| ((p.player.as_str(), p.head.as_str()), p.gradient(&physics)))
            .collect();
        scored.score_ground(|player, head| gradients.get(&(player, head)).copied());
        let fitted_model = scored.model;
        let report = LearnedReport::new(
            &fitted_model,
            levers(&pairs, &fitted_model, prior.as_ref(), &physics),
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

/// Shots that are held in memory at most before they are boiled down, give or take a session.
const AT_ONCE: usize = 8192;

/// A session as it comes from the log.
struct Logged {
    info: SessionInfo,
    shots: Vec<Measured>,
}

/// Streams the log, session by session: a few thousand shots are in memory at any time, and the
/// sessions among them are boiled down side by side.
fn summaries(
    bench: &Bench,
    filter: &SessionFilter,
    physics: &Physics,
) -> Result<Vec<SessionSummary>, Failure> {
    let mut clubs = BTreeMap::new();
    let total = bench.sessions(filter)?.len() as u64;
    let progress = Progress::new(total);
    let mut out = Vec::new();
    let mut batch: Vec<Logged> = Vec::new();
    let mut held = 0;
    let mut failed: Option<Failure> = None;
    let mut close = |batch: &mut Vec<Logged>| -> Result<(), Failure> {
        for s in batch.iter() {
            if !clubs.contains_key(&s.info.build) {
                let who = fitted(bench, Some(&s.info.build), None)?;
                clubs.insert(s.info.build.clone(), who);
            }
        }
        let done = batch
            .par_iter()
            .map(|Logged { info, shots }| {
                let who = &clubs[&info.build];
                summarise(
                    [&info.name, &info.player, &info.head],
                    &info.date.to_string(),
                    shots,
                    &who.club,
                    &who.prior,
                    physics,
                    &info.hand.turn(info.meta.conditions()),
                )
            })
            .collect::<Result<Vec<SessionSummary>, SettingError>>()?;
        progress.step(done.len() as u64);
        out.extend(done);
        batch.clear();
        Ok(())
    };
    bench.each_shot(filter, |info, _, measured| {
        if failed.is_some() {
            return;
        }
        if batch.last().is_none_or(|s| s.info.id != info.id) {
            if held >= AT_ONCE {
                failed = close(&mut batch).err();
                held = 0;
            }
            batch.push(Logged {
                info: info.clone(),
                shots: Vec::new(),
            });
        }
        if let Some(last) = batch.last_mut() {
            last.shots.push(info.hand.turn(*measured));
            held += 1;
        }
    })?;
    if let Some(f) = failed {
        return Err(f);
    }
    close(&mut batch)?;
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

    fn step(&self, sessions: u64) {
        if self.bar.is_hidden() && self.since.elapsed() > Duration::from_secs(1) {
            self.bar.set_draw_target(ProgressDrawTarget::stderr());
        }
        self.bar.inc(sessions);
    }
}

/// A player with a head of the season, with the latest build of the two.
struct Played {
    player: String,
    head: String,
    hand: Hand,
    striker: Striker,
    delivery: Delivery,
    /// Which features the log has varied.
    seen: [bool; FEATURES.len()],
}

impl Played {
    fn gradient(&self, physics: &Physics) -> GroundGradient {
        let range = physics.range(&Conditions::default());
        ground_gradient(&self.striker, &self.delivery, physics, &range)
    }
}

fn pairs(
    bench: &Bench,
    summaries: &[SessionSummary],
    physics: &Physics,
) -> Result<Vec<Played>, Failure> {
    let mut pairs: BTreeMap<(String, String), [bool; FEATURES.len()]> = BTreeMap::new();
    for s in summaries {
        let seen = pairs.entry((s.player.clone(), s.head.clone())).or_default();
        for (f, v) in s.features.iter().enumerate() {
            seen[f] |= v.abs() > 1e-9;
        }
    }
    let mut out = Vec::new();
    for ((player, head), seen) in pairs {
        let of_player = bench.builds_of(&player, None)?;
        let mut who = None;
        for name in of_player.iter().rev() {
            let f = fitted(bench, Some(name), None)?;
            if f.build.head == head {
                who = Some(f);
                break;
            }
        }
        let Some(who) = who else { continue };
        out.push(Played {
            hand: who.hand(),
            striker: physics.striker(&who.club.head, &who.club.setting, &who.club.setting)?,
            delivery: Delivery::from_vector(&who.prior.mean),
            player,
            head,
            seen,
        });
    }
    Ok(out)
}

/// What each lever is worth to each player on each head of the season, and was by the model before.
fn levers(
    pairs: &[Played],
    model: &Model,
    last: Option<&Model>,
    physics: &Physics,
) -> Vec<LeverWorth> {
    let (now, then) = (model.learned(), last.map(Model::learned));
    let range = physics.range(&Conditions::default());
    pairs
        .par_iter()
        .flat_map_iter(|p| {
            let at = |m: &crate::correction::Learned| {
                let local = m.local(&p.player, &p.head);
                worths(&p.striker, &p.delivery, physics, &range, &local)
            };
            let before = then.as_ref().map(at);
            lever_worths(
                &p.player,
                &p.head,
                p.hand,
                &at(&now),
                before.as_ref(),
                &p.seen,
            )
        })
        .collect()
}
