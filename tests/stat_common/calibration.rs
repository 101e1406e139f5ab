//! Are the intervals what they say? Seasons whose truth is known.
//!
//! Simulation-based calibration: components, effects and sessions are drawn from the model's own
//! prior, the season is fitted, and the rank of each true value among draws of its posterior must be
//! uniform. Source: S. Talts, M. Betancourt, D. Simpson, A. Vehtari, A. Gelman 2018, *Validating
//! Bayesian inference algorithms with simulation-based calibration*, arXiv:1804.06788.
//!
//! And the coverage of intervals on seasons that the model does not hold for.

use super::season::SIZE;
use super::{Noise, build, driver, mean_se};
use rayon::prelude::*;
use std::collections::HashMap;
use trimtab::club::{Club, features};
use trimtab::constants::ImpactConstants;
use trimtab::correction::{
    FitOptions, Model, Season, SessionSummary, fit, ground_gradient, responses, summarise,
};
use trimtab::delivery::Vector7;
use trimtab::flight::{AeroSet, Conditions};
use trimtab::impact::Delivery;
use trimtab::launch::Launch;
use trimtab::physics::Physics;
use trimtab::priors;
use trimtab::quantity::{Measured, Quantity};

/// Draws of a posterior among which a truth is ranked.
const DRAWS: usize = 99;
const PLAYERS: usize = 6;
const HEADS: usize = 3;
const SESSIONS: usize = 90;
const LEVERS: [usize; 3] = [0, 3, 4];

/// What is ranked.
pub const QUANTITIES: [&str; 3] = ["known player", "unknown player", "session to come"];

/// How the truth differs from the model.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum World {
    /// Not at all.
    Model,
    /// Means of sessions have t noise with three degrees of freedom.
    HeavyTails,
    /// A player's own effects are drawn again in June.
    Changed,
}

/// A truth: its place in the posterior, in standard deviations from the mean.
#[derive(Debug, Clone, Copy)]
pub struct Placed {
    /// Index into [`QUANTITIES`].
    pub quantity: usize,
    pub response: usize,
    pub z: f64,
    /// Posterior draws below the truth.
    pub rank: usize,
}

fn components(noise: &mut Noise, guess: f64) -> f64 {
    // The weak prior: a variance as if from four observations of the guess.
    let chi2: f64 = (0..4).map(|_| noise.normal().powi(2)).sum();
    guess * (4.0 / chi2).sqrt()
}

/// One season from the prior of response `r`, and its truths.
struct Drawn {
    shared: [f64; 7],
    player: Vec<[f64; 7]>,
    late: Vec<[f64; 7]>,
    head: Vec<[f64; 7]>,
    pair: HashMap<(usize, usize), ([f64; 7], f64)>,
    visit_sd: f64,
    session_sd: f64,
    shot_sd: f64,
    factors: [f64; 3],
}

const VISIT: [f64; 5] = [0.4, 0.5, 1.5, 120.0, 0.008];
const SESSION: [f64; 5] = [0.2, 0.25, 0.7, 60.0, 0.004];
const INTERCEPT: [f64; 5] = [20.0, 10.0, 40.0, 6000.0, 1.0];

fn effects(r: usize, factor: f64, noise: &mut Noise) -> [f64; 7] {
    priors::response()[r].map(|s| s * factor * noise.normal())
}

impl Drawn {
    fn new(r: usize, world: World, noise: &mut Noise) -> Drawn {
        let factors = [0.7, 0.7, 0.35].map(|g| components(noise, g));
        let player: Vec<[f64; 7]> = (0..PLAYERS)
            .map(|_| effects(r, factors[0], noise))
            .collect();
        let mut late = player.clone();
        if world == World::Changed {
            late[0] = effects(r, factors[0], noise);
        }
        let shared = effects(r, 1.0, noise);
        let head = (0..HEADS).map(|_| effects(r, factors[1], noise)).collect();
        let mut pair = HashMap::new();
        for p in 0..PLAYERS {
            for h in 0..HEADS {
                let own = effects(r, factors[2], noise);
                pair.insert((p, h), (own, INTERCEPT[r] * noise.normal()));
            }
        }
        Drawn {
            shared,
            player,
            late,
            head,
            pair,
            visit_sd: components(noise, VISIT[r]),
            session_sd: components(noise, SESSION[r]),
            shot_sd: components(noise, 4.0 * VISIT[r]),
            factors,
        }
    }

    fn mean(&self, p: usize, h: usize, x: &[f64; 7], late: bool) -> f64 {
        let player = if late { &self.late[p] } else { &self.player[p] };
        let (own, a) = &self.pair[&(p, h)];
        let effect = |f: usize| x[f] * (self.shared[f] + player[f] + self.head[h][f] + own[f]);
        a + (0..7).map(effect).sum::<f64>()
    }

    /// Noise of a session's mean with unit scale.
    fn noise(world: World, noise: &mut Noise) -> f64 {
        let z = noise.normal();
        if world != World::HeavyTails {
            return z;
        }
        let chi2: f64 = (0..3).map(|_| noise.normal().powi(2)).sum();
        z / (chi2 / 3.0).sqrt()
    }
}

/// A season of the model's own kind, fitted, and where its truths lie.
pub fn season(seed: u64, world: World) -> Vec<Placed> {
    let mut noise = Noise::new(seed);
    let drawn: Vec<Drawn> = (0..5).map(|r| Drawn::new(r, world, &mut noise)).collect();
    let x = |noise: &mut Noise| {
        let mut x = [0.0; 7];
        for f in LEVERS {
            x[f] = SIZE[f] * (noise.below(5) as f64 - 2.0) / 2.0;
        }
        x
    };
    let mut sessions = Vec::new();
    let mut day = (0, 0, [0.0; 5]);
    for j in 0..SESSIONS {
        if j % 5 % 2 == 0 {
            let v = std::array::from_fn(|r| drawn[r].visit_sd * noise.normal());
            day = (noise.below(PLAYERS), noise.below(HEADS), v);
        }
        let (p, h, v) = day;
        let features = x(&mut noise);
        let n = 8 + noise.below(20);
        let date = 1 + j * 240 / SESSIONS;
        let mut s = SessionSummary {
            session: format!("s{j:03}"),
            date: format!("2026-{:02}-{:02}", 3 + date / 30, 1 + date % 30),
            player: format!("player {p}"),
            head: format!("head {h}"),
            features,
            shots: n,
            count: [n as f64; 5],
            mean: [0.0; 5],
            variance: [0.0; 5],
        };
        // Sessions of one visit are of one day.
        if let Some(last) = sessions.last() {
            let last: &SessionSummary = last;
            if j % 5 % 2 == 1 {
                s.date.clone_from(&last.date);
            }
        }
        for r in 0..5 {
            let d = &drawn[r];
            let own = (d.session_sd.powi(2) + d.shot_sd.powi(2) / n as f64).sqrt();
            let late = s.date.as_str() >= "2026-06-15";
            s.mean[r] =
                d.mean(p, h, &features, late) + v[r] + own * Drawn::noise(world, &mut noise);
            let chi2: f64 = (1..n).map(|_| noise.normal().powi(2)).sum();
            s.variance[r] = d.shot_sd.powi(2) * chi2 / (n - 1) as f64;
        }
        sessions.push(s);
    }
    let options = FitOptions {
        heavy_tails: true,
        ..FitOptions::default()
    };
    let model = fit(&sessions, None, Season::default(), 1, &options).expect("a fit");
    place(
        &model,
        &drawn,
        &sessions,
        world,
        &mut noise,
        x(&mut Noise::new(seed ^ 77)),
    )
}

fn place(
    model: &Model,
    drawn: &[Drawn],
    sessions: &[SessionSummary],
    world: World,
    noise: &mut Noise,
    x: [f64; 7],
) -> Vec<Placed> {
    let x = if x == [0.0; 7] {
        [1.0, 0.0, 0.0, 2.0, 0.5, 0.0, 0.0]
    } else {
        x
    };
    let learned = model.learned();
    let (p, h) = (0, 0);
    let known = learned.local_of_all("player 0", "head 0").effect(&x);
    let unknown = learned.local_of_all("nobody", "head 0").effect(&x);
    let mut out = Vec::new();
    let mut put = |quantity: usize, response: usize, error: f64, sd: f64, noise: &mut Noise| {
        let rank = (0..DRAWS).filter(|_| sd * noise.normal() < error).count();
        out.push(Placed {
            quantity,
            response,
            z: error / sd,
            rank,
        });
    };
    for (r, d) in drawn.iter().enumerate() {
        let zero = [0.0; 7];
        let truth = d.mean(p, h, &x, true) - d.mean(p, h, &zero, true);
        put(0, r, truth - known.mean[r], known.sd[r], noise);
        // Somebody new on a head that is known.
        let (own, other) = (
            effects(r, d.factors[0], noise),
            effects(r, d.factors[2], noise),
        );
        let truth: f64 = (0..7)
            .map(|f| x[f] * (d.shared[f] + own[f] + d.head[h][f] + other[f]))
            .sum();
        put(1, r, truth - unknown.mean[r], unknown.sd[r], noise);
        // The change of the session mean of a known player on a new day, of ten shots each before
        // and after.
        let c = &model.responses[r].components;
        let scale =
            |shot: f64, session: f64| (2.0 * (session.powi(2) + shot.powi(2) / 10.0)).sqrt();
        let shift = scale(d.shot_sd, d.session_sd) * Drawn::noise(world, noise);
        let truth = d.mean(p, h, &x, true) - d.mean(p, h, &zero, true) + shift;
        let sd = known.sd[r].hypot(scale(c.shot_sd, c.session_sd));
        put(2, r, truth - known.mean[r], sd, noise);
    }
    assert_eq!(sessions.len(), SESSIONS);
    out
}

/// Many seasons, each with its seed.
pub fn seasons(count: usize, world: World) -> Vec<Placed> {
    let all: Vec<Vec<Placed>> = (0..count as u64)
        .into_par_iter()
        .map(|s| season(10_000 + s, world))
        .collect();
    all.into_iter().flatten().collect()
}

/// Ranks in twenty classes against a uniform: chi-squared, of 19 degrees of freedom.
pub fn chi_squared(ranks: &[usize]) -> f64 {
    let mut count = [0.0; 20];
    for r in ranks {
        count[r * 20 / (DRAWS + 1)] += 1.0;
    }
    let expected = ranks.len() as f64 / 20.0;
    count
        .iter()
        .map(|c| (c - expected).powi(2) / expected)
        .sum()
}

/// Share of truths inside the central 50, 80 and 95 % of the posterior, each with its standard
/// error.
pub fn coverage(z: &[f64]) -> [(f64, f64); 3] {
    [0.674_489_750_196, 1.281_551_565_545, 1.959_963_984_540].map(|limit| {
        let inside: Vec<f64> = z
            .iter()
            .map(|z| f64::from(u8::from(z.abs() <= limit)))
            .collect();
        mean_se(&inside)
    })
}

/// The z of one quantity.
pub fn z_of(all: &[Placed], quantity: usize) -> Vec<f64> {
    let mine = all.iter().filter(|p| p.quantity == quantity);
    mine.map(|p| p.z).collect()
}

/// Shots of a world with another impact and another flight: four players with drivers that differ
/// in their levers, summarised and fitted with the library's own physics. Returned is where the true
/// change lies that a new setting makes, in standard deviations: of the five launch responses, and
/// of the place where the ball lands sideways.
pub fn other_physics(seed: u64) -> ([f64; 5], f64) {
    let mut noise = Noise::new(seed);
    let ours = Physics::default();
    let mut impact = ImpactConstants::default();
    for kind in &mut impact.kinds {
        kind.normal -= 0.02 * noise.uniform();
        kind.tangential += 0.1 * (noise.uniform() - 0.3);
    }
    impact.friction *= 0.8 + 0.4 * noise.uniform();
    let theirs = Physics {
        impact,
        aero: AeroSet::named("indoor-range-2001").expect("comes with the library"),
        ..Physics::default()
    };
    let centre = |p: usize| {
        let prior = priors::player(&driver());
        let mut n = Noise::new(seed * 31 + p as u64);
        prior.mean + prior.sd.component_mul(&n.vector()) * 0.5
    };
    let club = |noise: &mut Noise| {
        let mut club = build(driver(), 45.0);
        club.setting.tracks[0].position = noise.uniform();
        club.setting.clock = noise.below(8);
        club
    };
    let air = Conditions::default();
    let sessions: Vec<SessionSummary> = (0..40)
        .map(|j| {
            let p = j / 2 % 4;
            let club = club(&mut noise);
            let list = swung(&club, &centre(p), 16, &theirs, &mut noise);
            let names = [format!("s{j:02}"), format!("player {p}")];
            let date = format!("2026-{:02}-{:02}", 3 + j / 8, 1 + j / 2 % 4);
            summarise(
                [&names[0], &names[1], "head"],
                &date,
                &list,
                &club,
                &priors::player(&club.head),
                &ours,
                &air,
            )
            .expect("a setting")
        })
        .collect();
    let model = fit(
        &sessions,
        None,
        Season::default(),
        1,
        &FitOptions::default(),
    )
    .expect("a fit");
    let (before, after) = (build(driver(), 45.0), club(&mut noise));
    let x = change(&before, &after, &ours);
    let local = model.learned().local_of_all("player 0", "head");
    let effect = local.effect(&x);
    let delivery = Delivery::from_vector(&centre(0));
    let (a, b) = (
        launched(&before, &delivery, &theirs),
        launched(&after, &delivery, &theirs),
    );
    let (c, d) = (
        launched(&before, &delivery, &ours),
        launched(&after, &delivery, &ours),
    );
    let error: [f64; 5] =
        std::array::from_fn(|r| (b.0[r] - a.0[r]) - (d.0[r] - c.0[r]) - effect.mean[r]);
    let striker = ours
        .striker(&before.head, &before.setting, &before.setting)
        .expect("its own");
    let g = ground_gradient(&striker, &delivery, &ours, &ours.range(&air))[0];
    let (mut mean, mut variance) = (d.1 - c.1, 0.0);
    for r in 0..5 {
        mean += g[r] * effect.mean[r];
        for s in 0..5 {
            variance += g[r] * g[s] * effect.covariance[r][s];
        }
    }
    (
        std::array::from_fn(|r| error[r] / effect.sd[r]),
        (b.1 - a.1 - mean) / variance.sqrt(),
    )
}

fn change(before: &Club, after: &Club, physics: &Physics) -> [f64; 7] {
    let of = |c: &Club| features(&c.head, &c.setting, physics.attitude);
    let (a, b) = (of(before), of(after));
    std::array::from_fn(|f| b[f] - a[f])
}

/// The ball of a swing that is given by its delivery at the head's reference: launch and offline.
fn launched(club: &Club, delivery: &Delivery, physics: &Physics) -> ([f64; 5], f64) {
    let (l, speed) = struck(club, delivery, physics);
    let offline = physics.range(&Conditions::default()).fly(&l).offline;
    (responses(&l, speed), offline)
}

/// The same swing with the club at its setting: launch and head speed.
fn struck(club: &Club, delivery: &Delivery, physics: &Physics) -> (Launch, f64) {
    let head = &club.head;
    let striker = |setting| {
        let s = physics.striker(head, setting, &head.reference);
        s.expect("one of its settings")
    };
    let swing = striker(&head.reference).swing(delivery);
    let now = striker(&club.setting);
    let launch = now.strike(&swing, &physics.ball, &physics.impact).launch();
    (launch, now.head_speed(&swing))
}

/// Shots of a player, whose swing is the same whatever the setting.
fn swung(
    club: &Club,
    centre: &Vector7,
    n: usize,
    physics: &Physics,
    noise: &mut Noise,
) -> Vec<Measured> {
    let within = priors::within(club.head.kind);
    (0..n)
        .map(|_| {
            let d = Delivery::from_vector(&(centre + within.component_mul(&noise.vector())));
            let (l, speed) = struck(club, &d, physics);
            Measured::default()
                .with(Quantity::LaunchAngle, l.launch_angle)
                .with(Quantity::LaunchDirection, l.launch_direction)
                .with(Quantity::SpinAxis, l.spin_axis)
                .with(Quantity::SpinRate, l.spin_rate)
                .with(Quantity::BallSpeed, l.ball_speed)
                .with(Quantity::HeadSpeed, speed)
        })
        .collect()
}

/// A table of coverage for people.
pub fn table(name: &str, z: &[f64]) -> String {
    let [a, b, c] = coverage(z);
    let cell = |(share, se): (f64, f64)| format!("{:5.1} ± {:3.1} %", 100.0 * share, 100.0 * se);
    format!("{name:<28} {} {} {}", cell(a), cell(b), cell(c))
}
