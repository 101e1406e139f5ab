//! Refit for a season.

mod season_log;

use super::Failure;
use super::context::{Context, model};
use crate::bench::Bench;
use crate::bench::store::{Model as StoredModel, SessionFilter};
use crate::club::FEATURES;
use crate::correction::{
    FitOptions, GroundGradient, Model, Season, SessionSummary, fit_scored, ground_gradient, worths,
};
use crate::flight::Conditions;
use crate::hand::Hand;
use crate::impact::{Delivery, Striker};
use crate::physics::Physics;
use crate::report::{LearnedReport, LeverWorth, lever_worths};
use clap::Args;
use rayon::prelude::*;
use season_log::{Builds, Reader, summaries};
use std::cmp::Reverse;
use std::collections::HashMap;

/// Learn from a season's sessions what each lever does, for whom, and whether that beats physics.
///
/// Fits the correction to all logged sessions of the season, with the latest earlier season's model,
/// widened, as prior, and files it as a new version. Old versions stay usable. What a prior has learned
/// from is not read again, so that no session counts twice.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  trimtab refit --season 2026 --from 2026-03-01 --to 2026-10-31")]
pub(super) struct Refit {
    /// Name of the season.
    #[arg(long, value_name = "NAME")]
    season: String,
    /// First day [default: the day after the last one that the prior learned from; without a prior,
    /// all].
    #[arg(long, value_name = "YYYY-MM-DD")]
    from: Option<jiff::civil::Date>,
    /// Last day [default: all].
    #[arg(long, value_name = "YYYY-MM-DD")]
    to: Option<jiff::civil::Date>,
    /// Model that serves as prior [default: the latest of another season that began before --from, or
    /// --to, and that this one did not teach].
    #[arg(long, value_name = "VERSION", conflicts_with = "no_prior")]
    prior: Option<i64>,
    /// Start from bare physics.
    #[arg(long)]
    no_prior: bool,
    /// By what factor the prior model's covariance is widened.
    #[arg(long, value_name = "FACTOR", default_value_t = 1.5)]
    widening: f64,
    /// Players with a head of whom it tells what each lever does, those with the most sessions
    /// first. The fit is that of all.
    #[arg(long, value_name = "N", default_value_t = 60)]
    tell: usize,
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
        let prior = self.prior(&bench)?;
        let taught = prior.as_ref().map(|m| learned_to(&bench, m)).transpose()?;
        let learned_to = taught.as_ref().and_then(|day| day.parse().ok());
        let after = |day: jiff::civil::Date| day.tomorrow().ok();
        let filter = SessionFilter {
            from: self.from.or_else(|| learned_to.and_then(after)),
            to: self.to,
            ..SessionFilter::default()
        };
        let builds = Builds::new(&physics);
        let summaries = summaries(&bench, &filter, &builds)?;
        let by_prior = match (&prior, &taught, self.from) {
            (Some(m), Some(day), None) => format!(
                "model {}, the prior, has learned up to {day}; --no-prior fits all without it",
                m.version
            ),
            _ => String::new(),
        };
        if let (true, Some(days)) = (summaries.is_empty(), days(&bench)?) {
            let why = match by_prior.is_empty() {
                true => "no session to learn from between --from and --to".to_string(),
                false => format!("no session to learn from: {by_prior}"),
            };
            return Err(Failure::input(format!("{why}; {days}")));
        }
        if !by_prior.is_empty() {
            let until = SessionFilter {
                to: learned_to,
                ..SessionFilter::default()
            };
            let count = bench.session_ids(&until)?.len();
            c.note(&format!(
                "{count} earlier sessions are not read: {by_prior}"
            ));
        }
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
        let door = bench.door();
        let (scored, played) = rayon::join(
            || fit_scored(&summaries, prior.as_ref(), season, version, &options),
            || -> Result<(Vec<Played>, Vec<GroundGradient>), Failure> {
                let pairs = pairs(&door.open()?, &builds, &summaries)?;
                let gradient = |p: &Played| p.gradient(&physics);
                let gradients = pairs.par_iter().map(gradient).collect();
                Ok((pairs, gradients))
            },
        );
        let ((pairs, gradients), mut scored) = (played?, scored?);
        let names = pairs.iter().map(Played::names);
        let gradients: HashMap<_, _> = names.zip(gradients).collect();
        scored.score_ground(|player, head| gradients.get(&(player, head)).copied());
        let fitted_model = scored.model;
        let first = &fitted_model.data.first_date;
        if let (Some(m), Some(day)) = (&prior, taught.filter(|day| day >= first)) {
            c.note(&format!(
                "model {} learned from sessions up to {day}, by itself or by its prior: those of them \
                 that are read here count twice; say --no-prior, or --from a later day",
                m.version
            ));
        }
        let data = &fitted_model.data;
        let of_year = |day: &str| day.starts_with(self.season.as_str());
        let is_year = self.season.len() == 4 && self.season.parse::<u16>().is_ok();
        if is_year && !(of_year(&data.first_date) && of_year(&data.last_date)) {
            c.note(&format!(
                "season {} is a name: it holds sessions of {} to {}; say --from and --to for others",
                self.season, data.first_date, data.last_date
            ));
        }
        let told = told(&pairs, self.tell);
        let mut report = LearnedReport::new(
            &fitted_model,
            prior.as_ref(),
            levers(&told, &fitted_model, prior.as_ref(), &physics),
            pairs.len(),
            |player| {
                let of = pairs.iter().find(|p| p.player == player);
                of.map_or(Hand::Right, |p| p.hand)
            },
        );
        if self.dry_run {
            report.filed = false;
            return c.show(&report);
        }
        let body = serde_json::to_value(&fitted_model)
            .map_err(|e| Failure::input(format!("the model cannot be filed: {e}")))?;
        match filed_before(&bench, &body)? {
            Some(version) => {
                c.note(&format!(
                    "model {version} says so already; nothing was filed"
                ));
                report.model_version = version;
            }
            None => {
                bench.add_model(&self.season, &body, &c.now)?;
            }
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
        let all = bench.models()?;
        let taught_by_this = |m: &&StoredModel| {
            let mut at = Some(*m);
            while let Some(m) = at {
                if m.season == self.season {
                    return true;
                }
                let prior = m.body["season"]["prior_version"].as_i64();
                at = all
                    .iter()
                    .find(|p| Some(p.version) == prior && p.version < m.version);
            }
            false
        };
        // One that learned from later days only is of no earlier season.
        let earlier = |m: &&StoredModel| {
            let began = m.body["data"]["first_date"].as_str().unwrap_or_default();
            (self.from.or(self.to)).is_none_or(|day| *began < *day.to_string())
        };
        match (all.iter().rev()).find(|m| !taught_by_this(m) && earlier(m)) {
            Some(m) => model(bench, Some(m.version)),
            None => Ok(None),
        }
    }
}

/// The version of the latest model, if it says the same. An earlier one that does is not in use any
/// more: after a session was withdrawn, say, a refit must come after the model that learned from it.
fn filed_before(bench: &Bench, body: &serde_json::Value) -> Result<Option<u32>, Failure> {
    let said = |body: &serde_json::Value| {
        let mut said = body.clone();
        said["version"].take();
        said["season"]["fitted_at"].take();
        said
    };
    let latest = bench.latest_model()?;
    let same = latest.filter(|m| said(&m.body) == said(body));
    Ok(same.and_then(|m| u32::try_from(m.version).ok()))
}

/// The last day from which a model or the priors behind it have learned.
fn learned_to(bench: &Bench, model: &Model) -> Result<String, Failure> {
    let all = bench.models()?;
    let mut last = model.data.last_date.clone();
    let mut at = model.season.prior_version;
    while let Some(m) = all.iter().find(|m| Some(m.version) == at.map(i64::from)) {
        let day = m.body["data"]["last_date"].as_str().unwrap_or_default();
        last = last.max(day.to_string());
        let before = m.body["season"]["prior_version"].as_u64();
        let before = before.and_then(|v| u32::try_from(v).ok());
        // A prior is always an earlier version.
        at = before.filter(|v| Some(*v) < at);
    }
    Ok(last)
}

/// How many sessions the log holds, and from when to when.
fn days(bench: &Bench) -> Result<Option<String>, Failure> {
    let all = bench.sessions(&SessionFilter::default())?;
    let dates = || all.iter().map(|s| s.date);
    Ok(dates()
        .min()
        .zip(dates().max())
        .map(|(first, last)| format!("the log holds {}, {first} to {last}", all.len())))
}

/// A player with a head of the season, with the latest build of the two.
struct Played {
    player: String,
    head: String,
    hand: Hand,
    striker: Striker,
    delivery: Delivery,
    sessions: usize,
    /// Which features the log has varied.
    seen: [bool; FEATURES.len()],
}

impl Played {
    fn names(&self) -> (&str, &str) {
        (&self.player, &self.head)
    }

    fn gradient(&self, physics: &Physics) -> GroundGradient {
        let range = physics.range(&Conditions::default());
        ground_gradient(&self.striker, &self.delivery, physics, &range)
    }
}

fn pairs(
    bench: &Bench,
    builds: &Builds<'_>,
    summaries: &[SessionSummary],
) -> Result<Vec<Played>, Failure> {
    type Moved<'s> = (usize, [bool; FEATURES.len()], &'s SessionSummary);
    let mut pairs: HashMap<(&str, &str), Moved<'_>> = HashMap::new();
    for s in summaries {
        let pair = pairs.entry((&s.player, &s.head));
        let (sessions, seen, first) = pair.or_insert((0, Default::default(), s));
        *sessions += 1;
        for (f, v) in s.features.iter().enumerate() {
            seen[f] |= (v - first.features[f]).abs() > 1e-6;
        }
    }
    let mut pairs: Vec<_> = pairs.into_iter().collect();
    pairs.sort_unstable_by_key(|(names, _)| *names);
    let (mut reader, mut out) = (Reader::new(bench, builds), Vec::new());
    for ((player, head), (sessions, seen, _)) in pairs {
        let Some(latest) = bench.latest_with(player, head)? else {
            continue;
        };
        let build = reader.build(&latest)?;
        let (striker, prior) = build.club.club();
        out.push(Played {
            hand: build.hand,
            striker: striker.clone(),
            delivery: Delivery::from_vector(&prior.mean),
            player: player.to_string(),
            head: head.to_string(),
            sessions,
            seen,
        });
    }
    Ok(out)
}

/// Those with the most sessions, in the order in which they came.
fn told(pairs: &[Played], most: usize) -> Vec<&Played> {
    let mut order: Vec<usize> = (0..pairs.len()).collect();
    order.sort_by_key(|&i| Reverse(pairs[i].sessions));
    order.truncate(most);
    order.sort_unstable();
    order.into_iter().map(|i| &pairs[i]).collect()
}

/// What each lever is worth to each player on each head of the season, and was by the model before.
fn levers(
    pairs: &[&Played],
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
                let local = m.local_of_all(&p.player, &p.head);
                worths(&p.striker, &p.delivery, physics, &range, &local)
            };
            let known = last.map(|m| m.knows(&p.player, &p.head));
            let before = then.as_ref().map(at).zip(known);
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
