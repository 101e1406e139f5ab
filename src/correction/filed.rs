//! What is filed of a fitted response.

use super::model::{
    Coefficient, Components, Flag, Group, PairInformation, Posterior, ResponseModel, Term, pack,
    where_seen,
};
use super::regression::{Regression, Seen};
use super::rows::Layout;
use super::score::Score;
use super::{RESPONSES, V7};
use crate::club::FEATURES;

/// Weight below which a session is named.
const FLAGGED: f64 = 0.5;

impl Regression {
    /// What is filed.
    pub fn model(&self, layout: &Layout<'_>) -> ResponseModel {
        let score = Score::new(&self.left_out);
        let present = |mut c: Components| {
            let e = self.problem.effects;
            for (factor, wanted) in [
                (&mut c.player_factor, e.players),
                (&mut c.head_factor, e.heads),
                (&mut c.build_factor, e.builds),
            ] {
                if !wanted {
                    *factor = 0.0;
                }
            }
            c
        };
        ResponseModel {
            response: RESPONSES[self.r].into(),
            in_use: score.earns_its_place(),
            score,
            forward: Score::new(&self.forward),
            components: present(self.found.state.components),
            components_log_sd: self.log_sd,
            inflation: self.inflation,
            physics_components: self.rivals[0],
            pooled_components: self.rivals[1],
            converged: self.found.converged,
            iterations: self.found.iterations,
            coefficients: self.coefficients(layout),
            posterior: self.posterior(layout),
            flagged: self.flagged(layout),
            drift: self.drift.clone(),
        }
    }

    fn coefficients(&self, layout: &Layout<'_>) -> Vec<Coefficient> {
        let (state, spread) = (&self.found.state, &self.found.insight.spread);
        let (sd, s) = (&state.arrow.prior, &state.solution);
        let mut out = Vec::new();
        let mut add =
            |seen: &Seen, sd: &V7, u: &V7, var: &V7, before: &V7, term: &dyn Fn(String) -> Term| {
                for (f, name) in FEATURES.iter().enumerate() {
                    if seen[f] && sd[f] > 0.0 {
                        out.push(Coefficient {
                            term: term((*name).to_string()),
                            mean: sd[f] * u[f],
                            sd: sd[f] * var[f].max(0.0).sqrt(),
                            prior_sd: before[f],
                        });
                    }
                }
            };
        let [shared, players, heads, pairs] = &self.seen;
        add(
            &shared[0],
            &sd.shared,
            &s.shared,
            &spread.shared,
            &self.before.shared,
            &|feature| Term::Shared { feature },
        );
        let [before_players, before_heads, before_pairs] = &self.before.groups;
        for (p, player) in layout.players.iter().enumerate() {
            add(
                &players[p],
                &sd.players[p],
                &s.players[p],
                &spread.players[p],
                &before_players[p],
                &|feature| Term::Player {
                    player: player.clone(),
                    feature,
                },
            );
        }
        for (h, head) in layout.heads.iter().enumerate() {
            add(
                &heads[h],
                &sd.heads[h],
                &s.heads[h],
                &spread.heads[h],
                &before_heads[h],
                &|feature| Term::Head {
                    head: head.clone(),
                    feature,
                },
            );
        }
        for (q, &(p, h)) in layout.pairs.iter().enumerate() {
            let (player, head) = (&layout.players[p], &layout.heads[h]);
            add(
                &pairs[q],
                &sd.pairs[q],
                &s.pairs[q],
                &spread.pairs[q],
                &before_pairs[q],
                &|feature| Term::Build {
                    player: player.clone(),
                    head: head.clone(),
                    feature,
                },
            );
        }
        for (q, pair) in self.problem.rows.pairs.iter().enumerate() {
            if pair.rows.is_empty() {
                continue;
            }
            out.push(Coefficient {
                term: Term::Intercept {
                    player: layout.players[pair.player].clone(),
                    head: layout.heads[pair.head].clone(),
                },
                mean: s.line[q].0,
                sd: spread.line[q].intercept.max(0.0).sqrt(),
                prior_sd: sd.intercept,
            });
        }
        out
    }

    fn posterior(&self, layout: &Layout<'_>) -> Posterior {
        let state = &self.found.state;
        let sd = &state.arrow.prior;
        let [shared, players, heads, pairs] = &self.seen;
        let groups = |names: &[String], sd: &[V7], seen: &[Seen]| -> Vec<Group> {
            (names.iter().zip(sd).zip(seen))
                .map(|((name, sd), seen)| Group {
                    name: name.clone(),
                    prior_sd: where_seen(sd, seen),
                })
                .collect()
        };
        Posterior {
            shared_prior_sd: where_seen(&sd.shared, &shared[0]),
            players: groups(&layout.players, &sd.players, players),
            heads: groups(&layout.heads, &sd.heads, heads),
            pairs: (state.arrow.information(&state.right).iter().enumerate())
                .map(|(q, (m, h))| PairInformation {
                    player: layout.players[layout.pairs[q].0].clone(),
                    head: layout.heads[layout.pairs[q].1].clone(),
                    prior_sd: where_seen(&sd.pairs[q], &pairs[q]),
                    information: pack(m),
                    vector: (*h).into(),
                })
                .collect(),
        }
    }

    fn flagged(&self, layout: &Layout<'_>) -> Vec<Flag> {
        let rows = &self.problem.rows;
        (self.found.weights.iter().enumerate())
            .filter(|(_, w)| **w < FLAGGED)
            .map(|(j, &weight)| {
                let (error, sd) = self.found.left_out(rows, j);
                Flag {
                    session: layout.sessions[rows.session[j]].session.clone(),
                    error,
                    sd,
                    weight,
                }
            })
            .collect()
    }
}
