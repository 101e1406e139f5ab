//! Seasons of session summaries, simulated from known effects.

use super::Noise;
use std::collections::HashMap;
use trimtab::club::FEATURES;
use trimtab::correction::{Model, SessionSummary};
use trimtab::priors;

/// Session-to-session and shot-to-shot spread of the simulated seasons, by response: what the fit
/// starts from.
pub const SESSION_SD: [f64; 5] = [0.4, 0.5, 1.5, 120.0, 0.008];

/// What to simulate.
#[derive(Clone)]
pub struct Plan {
    pub players: usize,
    pub heads: usize,
    /// How many of the heads each player plays.
    pub heads_each: usize,
    pub sessions: usize,
    /// Indices of the features that are varied.
    pub levers: Vec<usize>,
    /// Factor on the prior scale of all effects; 0 is a season without any.
    pub strength: f64,
    pub seed: u64,
}

/// The truth of one response and feature: shared, by player, by head, by player and head.
pub struct Truth {
    pub shared: f64,
    pub player: Vec<f64>,
    pub head: Vec<f64>,
    pub build: Vec<Vec<f64>>,
}

/// A typical change of each feature: mm, mm, mm, g, deg, deg, deg.
pub const SIZE: [f64; 7] = [3.0, 3.0, 2.0, 6.0, 1.0, 1.0, 0.8];

impl Plan {
    /// A middling season: 8 players, 4 heads, 240 sessions, three levers.
    pub fn usual(seed: u64) -> Plan {
        Plan {
            players: 8,
            heads: 4,
            heads_each: 4,
            sessions: 240,
            levers: vec![0, 3, 4],
            strength: 1.0,
            seed,
        }
    }

    /// Sessions and truths, `[response][lever]` in the order of `levers`.
    ///
    /// Effects are drawn from the model's own prior: shared with the prior's scale, players' and
    /// heads' with 0.7 of it, those of a player on one head with 0.35 of it.
    pub fn simulate(&self) -> (Vec<SessionSummary>, Vec<Vec<Truth>>) {
        let mut noise = Noise::new(self.seed);
        let scale = priors::response();
        let truths: Vec<Vec<Truth>> = (0..5)
            .map(|r| {
                let truth = |&f: &usize| {
                    let s = scale[r][f] * self.strength;
                    let group = |n: usize, factor: f64, noise: &mut Noise| -> Vec<f64> {
                        (0..n).map(|_| factor * s * noise.normal()).collect()
                    };
                    Truth {
                        shared: s * noise.normal(),
                        player: group(self.players, 0.7, &mut noise),
                        head: group(self.heads, 0.7, &mut noise),
                        build: (0..self.players)
                            .map(|_| group(self.heads, 0.35, &mut noise))
                            .collect(),
                    }
                };
                self.levers.iter().map(truth).collect()
            })
            .collect();
        let mut intercepts: HashMap<(usize, usize), [f64; 5]> = HashMap::new();
        let usual = [13.0, 0.0, 0.0, 2700.0, 1.45];
        // Two of three visits hold a session before and one after a change.
        let mut visit = (0, 0, 0, [0.0; 5]);
        let sessions = (0..self.sessions)
            .map(|j| {
                if j % 5 % 2 == 0 {
                    let day = std::array::from_fn(|r| SESSION_SD[r] * noise.normal());
                    let player = noise.below(self.players);
                    let head = (7 * player + noise.below(self.heads_each)) % self.heads;
                    visit = (player, head, j, day);
                }
                let (p, h, first, day) = visit;
                let a = *intercepts.entry((p, h)).or_insert_with(|| {
                    std::array::from_fn(|r| usual[r] + 3.0 * SESSION_SD[r] * noise.normal())
                });
                let mut features = [0.0; FEATURES.len()];
                for &f in &self.levers {
                    features[f] = SIZE[f] * (noise.below(5) as f64 - 2.0) / 2.0;
                }
                let shots = 8 + noise.below(20);
                let mut mean = a;
                for r in 0..5 {
                    for (k, &f) in self.levers.iter().enumerate() {
                        let t = &truths[r][k];
                        mean[r] +=
                            features[f] * (t.shared + t.player[p] + t.head[h] + t.build[p][h]);
                    }
                    let shot = 4.0 * SESSION_SD[r] / (shots as f64).sqrt();
                    mean[r] +=
                        day[r] + 0.5 * SESSION_SD[r] * noise.normal() + shot * noise.normal();
                }
                // The sample variance of normal shots, by the normal approximation of chi-squared.
                let variance = SESSION_SD.map(|s| {
                    let spread = (2.0 / (shots as f64 - 1.0)).sqrt() * noise.normal();
                    16.0 * s * s * (1.0 + spread).max(0.1)
                });
                SessionSummary {
                    session: format!("s{j:04}"),
                    date: format!("2026-{:02}-{:02}", 1 + first % 12, 1 + first % 28),
                    player: format!("player {p}"),
                    head: format!("head {h}"),
                    features,
                    shots,
                    count: [shots as f64; 5],
                    mean,
                    variance,
                }
            })
            .collect();
        (sessions, truths)
    }
}

/// A model as its file would hold it.
pub fn json(m: &Model) -> String {
    serde_json::to_string(m).expect("finite numbers")
}
