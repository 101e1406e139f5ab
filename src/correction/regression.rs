//! One response from start to end: search, coefficients, rivals, scores.

use super::components::{COMPONENT_WEIGHT, Found, Problem, VISIT_SD, start};
use super::drift::drift;
use super::fit::{Effects, FitError, FitOptions};
use super::held_out::{forward, left_out};
use super::model::{Components, Drift, Model, Posterior};
use super::prior::Prior;
use super::rows::{Layout, Rows};
use super::score::HeldOut;
use super::{RESPONSES, SessionSummary, V7};

/// Step in a logarithm after which a rival's components are settled well enough to be scored.
const RIVAL_SETTLED: f64 = 0.1;

/// Which features data speak of.
pub(super) type Seen = [bool; 7];

/// A model that a response is measured against.
pub(super) type Rival = (Problem, Found);

/// One response, fitted, and measured against its rivals.
pub(super) struct Regression {
    pub r: usize,
    pub problem: Problem,
    pub found: Found,
    /// Components of bare physics and of the model without players.
    pub rivals: [Components; 2],
    pub left_out: Vec<HeldOut>,
    pub forward: Vec<HeldOut>,
    /// Prior standard deviations of shared, player, head and pair effects, marginally.
    pub before: Marginal,
    /// Shared, by player, head, pair.
    pub seen: [Vec<Seen>; 4],
    pub drift: Vec<Drift>,
    pub inflation: f64,
    pub log_sd: Components,
    /// Share of noise in held-out errors.
    pub noise_share: f64,
}

/// Standard deviations of the parts.
pub(super) struct Marginal {
    pub shared: V7,
    pub groups: [Vec<V7>; 3],
}

/// Pooled variance from shot to shot, with a guess of four times a day's spread.
fn shot_variance(r: usize, sessions: &[&SessionSummary]) -> f64 {
    let usual = VISIT_SD[r] * 4.0;
    let (mut freedom, mut squares) = (COMPONENT_WEIGHT, COMPONENT_WEIGHT * usual * usual);
    for s in sessions.iter().filter(|s| s.count[r] > 0.0) {
        let dof = (s.count[r] - 1.0).max(0.0);
        freedom += dof;
        squares += dof * s.variance[r];
    }
    squares / freedom
}

/// A response whose components have been found.
pub(super) struct Searched<'a> {
    problem: Problem,
    found: Found,
    /// Where the search began, but for what an earlier season says.
    guess: Components,
    /// Most steps of a search.
    steps: usize,
    last: Option<&'a Posterior>,
}

impl<'a> Searched<'a> {
    pub fn new(
        r: usize,
        layout: &Layout<'_>,
        past: Option<&'a Model>,
        options: &FitOptions,
    ) -> Result<Searched<'a>, FitError> {
        let last = past.and_then(|m| m.responses.get(r));
        let rows = Rows::new(r, layout, |_| true);
        let prior = Prior::new(r, layout, last.map(|l| &l.posterior), options.widening);
        let shot_sd = shot_variance(r, &layout.sessions).sqrt();
        let fixed = options.fixed.map(|all| all[r]);
        let from = fixed.unwrap_or_else(|| match last {
            Some(l) => Components {
                shot_sd,
                ..l.components
            },
            None => start(r, shot_sd),
        });
        let problem = Problem {
            r,
            rows,
            effects: options.effects,
            prior,
        };
        let steps = if fixed.is_some() {
            0
        } else {
            options.max_iterations
        };
        let from = positive(r, from, steps);
        let mut found = if options.heavy_tails {
            problem.find(from, steps)?
        } else {
            problem.find_with(from, steps, 0.0, &vec![1.0; problem.rows.y.len()])?
        };
        let state = &mut found.state;
        state.solution = state
            .arrow
            .least_squares(&state.right)
            .ok_or_else(|| FitError::Singular(RESPONSES[r].into()))?;
        Ok(Searched {
            problem,
            found,
            guess: start(r, shot_sd),
            steps,
            last: last.map(|l| &l.posterior),
        })
    }

    /// The rest: rivals, and what they and the response foretell.
    pub fn finish(self, layout: &Layout<'_>) -> Result<Regression, FitError> {
        let Searched {
            problem,
            found,
            guess,
            steps,
            last,
        } = self;
        let r = problem.r;
        // From the components found; of effects that are absent, from the guess, which is the mode.
        let rival = |problem: Problem| -> Result<Rival, FitError> {
            let (c, e) = (found.state.components, problem.effects);
            let or_guess = |present: bool, c: f64, guess: f64| if present { c } else { guess };
            let c = Components {
                player_factor: or_guess(e.players, c.player_factor, guess.player_factor),
                head_factor: or_guess(e.heads, c.head_factor, guess.head_factor),
                build_factor: or_guess(e.builds, c.build_factor, guess.build_factor),
                ..c
            };
            let found = problem.find_with(c, steps, RIVAL_SETTLED, &found.weights)?;
            Ok((problem, found))
        };
        let bare_rows = problem.rows.without_levers();
        let bare = || {
            rival(Problem {
                r,
                prior: Prior::bare(r, &bare_rows),
                rows: bare_rows,
                effects: Effects {
                    players: false,
                    heads: false,
                    builds: false,
                },
            })
        };
        let pooled = || {
            rival(Problem {
                effects: Effects {
                    players: false,
                    builds: false,
                    ..problem.effects
                },
                ..problem.clone()
            })
        };
        let inflation = || match steps {
            0 => Ok(1.0),
            _ => problem.inflation(&found),
        };
        let ((bare, pooled), inflation) = rayon::join(|| rayon::join(bare, pooled), inflation);
        let rivals = [bare?, pooled?];
        let mut out = Regression {
            before: before(&problem, &found)?,
            seen: seen(&problem.rows, last, layout),
            drift: drift(r, layout, &problem, &found),
            inflation: inflation?,
            log_sd: match steps {
                0 => Components::default(),
                _ => problem.log_sd(&found),
            },
            noise_share: problem.noise_share(&found),
            left_out: vec![],
            forward: vec![],
            rivals: rivals.each_ref().map(|(_, found)| found.state.components),
            r,
            problem,
            found,
        };
        out.left_out = left_out(&out, &rivals, layout);
        out.forward = forward(&out, &rivals, layout)?;
        Ok(out)
    }
}

/// Components to start a search from: it walks in their logarithms.
fn positive(r: usize, c: Components, steps: usize) -> Components {
    if steps == 0 {
        return c;
    }
    let guess = start(r, c.shot_sd);
    let or = |v: f64, g: f64| if v > 1e-6 * g { v } else { g };
    Components {
        shot_sd: c.shot_sd,
        visit_sd: or(c.visit_sd, guess.visit_sd),
        session_sd: or(c.session_sd, guess.session_sd),
        player_factor: or(c.player_factor, guess.player_factor),
        head_factor: or(c.head_factor, guess.head_factor),
        build_factor: or(c.build_factor, guess.build_factor),
    }
}

/// Marginal standard deviations before this season's sessions: with what earlier seasons say.
fn before(problem: &Problem, found: &Found) -> Result<Marginal, FitError> {
    let sd = &found.state.arrow.prior;
    if problem.prior.earlier.iter().all(Option::is_none) {
        return Ok(Marginal {
            shared: sd.shared,
            groups: [sd.players.clone(), sd.heads.clone(), sd.pairs.clone()],
        });
    }
    let mut none = problem.rows.clone();
    none.clear();
    let s = (problem.given(&none, found.state.components, &[])?.arrow).spread();
    let each = |sd: &[V7], var: &[V7]| -> Vec<V7> {
        (sd.iter().zip(var))
            .map(|(k, v)| k.component_mul(&v.map(f64::sqrt)))
            .collect()
    };
    Ok(Marginal {
        shared: sd.shared.component_mul(&s.shared.map(f64::sqrt)),
        groups: [
            each(&sd.players, &s.players),
            each(&sd.heads, &s.heads),
            each(&sd.pairs, &s.pairs),
        ],
    })
}

/// Features that data speak of, this season's or an earlier one's: shared, by player, head, pair.
fn seen(rows: &Rows, past: Option<&Posterior>, layout: &Layout<'_>) -> [Vec<Seen>; 4] {
    let mut out = [
        vec![[false; 7]; 1],
        vec![[false; 7]; rows.players],
        vec![[false; 7]; rows.heads],
        vec![[false; 7]; rows.pairs.len()],
    ];
    for (q, pair) in rows.pairs.iter().enumerate() {
        let places = [0, pair.player, pair.head, q];
        for x in &rows.x[pair.rows.clone()] {
            for (group, at) in out.iter_mut().zip(places) {
                for f in 0..7 {
                    group[at][f] |= x[f].abs() > 1e-9;
                }
            }
        }
    }
    let Some(past) = past else { return out };
    let old = |seen: &mut Seen, sd: &[f64; 7]| {
        for f in 0..7 {
            seen[f] |= sd[f] > 0.0;
        }
    };
    old(&mut out[0][0], &past.shared_prior_sd);
    for (kind, names, groups) in [
        (1, &layout.players, &past.players),
        (2, &layout.heads, &past.heads),
    ] {
        for g in groups {
            if let Ok(at) = names.binary_search(&g.name) {
                old(&mut out[kind][at], &g.prior_sd);
            }
        }
    }
    for p in &past.pairs {
        let find = |names: &[String], name: &String| names.binary_search(name).ok();
        let key = find(&layout.players, &p.player).zip(find(&layout.heads, &p.head));
        if let Some(q) = key.and_then(|k| layout.pairs.binary_search(&k).ok()) {
            old(&mut out[3][q], &p.prior_sd);
        }
    }
    out
}
