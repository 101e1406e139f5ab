//! What is believed of the effects before the sessions of this season.

use super::arrow::{Earlier, PriorSd};
use super::components::INTERCEPT_SD;
use super::fit::Effects;
use super::model::{Components, Group, Posterior, unpack};
use super::rows::{Layout, Rows};
use super::{M7, V7};
use crate::priors;
use std::collections::HashMap;

/// Prior of one response: scales of new effects, and last season's posterior, widened. A standard
/// deviation of zero stands for an effect that is new.
#[derive(Debug, Clone)]
pub(super) struct Prior {
    intercept: f64,
    /// Scale of a shared effect of each feature.
    scale: V7,
    shared: V7,
    players: Vec<V7>,
    heads: Vec<V7>,
    pairs: Vec<V7>,
    /// What earlier seasons say of each pair.
    pub earlier: Vec<Option<Earlier>>,
}

/// 1 for what is new, else 0.
fn is_new(sd: &V7) -> V7 {
    sd.map(|s| f64::from(u8::from(s == 0.0)))
}

impl Prior {
    pub fn new(r: usize, layout: &Layout<'_>, past: Option<&Posterior>, widening: f64) -> Prior {
        let wider = |sd: &[f64; 7]| V7::from(*sd) * widening.sqrt();
        let named = |groups: Option<&Vec<Group>>, names: &[String]| -> Vec<V7> {
            let known: HashMap<&str, V7> = groups
                .into_iter()
                .flatten()
                .map(|g| (g.name.as_str(), wider(&g.prior_sd)))
                .collect();
            let find = |n: &String| known.get(n.as_str()).copied().unwrap_or_default();
            names.iter().map(find).collect()
        };
        let known: HashMap<(&str, &str), _> = past
            .into_iter()
            .flat_map(|p| &p.pairs)
            .map(|p| ((p.player.as_str(), p.head.as_str()), p))
            .collect();
        let old = |&(p, h): &(usize, usize)| {
            let key = (layout.players[p].as_str(), layout.heads[h].as_str());
            known.get(&key).copied()
        };
        Prior {
            intercept: INTERCEPT_SD[r],
            scale: V7::from(priors::response()[r]),
            shared: past.map_or_else(V7::zeros, |p| wider(&p.shared_prior_sd)),
            players: named(past.map(|p| &p.players), &layout.players),
            heads: named(past.map(|p| &p.heads), &layout.heads),
            pairs: (layout.pairs.iter())
                .map(|p| old(p).map_or_else(V7::zeros, |o| wider(&o.prior_sd)))
                .collect(),
            earlier: (layout.pairs.iter())
                .map(|p| {
                    let o = old(p)?;
                    let m = unpack(&o.information) / widening;
                    (m != M7::zeros()).then(|| (m, V7::from(o.vector) / widening))
                })
                .collect(),
        }
    }

    /// No effect at all: bare physics.
    pub fn bare(r: usize, rows: &Rows) -> Prior {
        Prior {
            intercept: INTERCEPT_SD[r],
            scale: V7::zeros(),
            shared: V7::zeros(),
            players: vec![V7::zeros(); rows.players],
            heads: vec![V7::zeros(); rows.heads],
            pairs: vec![V7::zeros(); rows.pairs.len()],
            earlier: vec![None; rows.pairs.len()],
        }
    }

    /// Standard deviations for given components.
    pub fn sd(&self, c: &Components, effects: Effects) -> PriorSd {
        let of = |old: &V7, factor: f64| {
            old.zip_map(&self.scale, |o, s| if o > 0.0 { o } else { s * factor })
        };
        let all = |old: &[V7], factor: f64, wanted: bool| {
            let one = |o: &V7| if wanted { of(o, factor) } else { V7::zeros() };
            old.iter().map(one).collect()
        };
        PriorSd {
            intercept: self.intercept,
            shared: of(&self.shared, 1.0),
            players: all(&self.players, c.player_factor, effects.players),
            heads: all(&self.heads, c.head_factor, effects.heads),
            pairs: all(&self.pairs, c.build_factor, effects.builds),
        }
    }

    /// Which effects of players, heads and pairs are new, so that components are estimated from
    /// them.
    pub fn fresh(&self) -> [Vec<V7>; 3] {
        [&self.players, &self.heads, &self.pairs].map(|g| g.iter().map(is_new).collect())
    }
}
