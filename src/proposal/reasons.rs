//! Why a setting works: its effect in shares that add up to the whole.
//!
//! A change of setting does several things at once. Each [`Reason`] gets its Shapley value: its
//! contribution averaged over all orders in which the things could have been changed one after the
//! other, so that no order is preferred and nothing is left over (L. S. Shapley 1953, *A value for
//! n-person games*, Contributions to the Theory of Games II, 307-317).

use super::predict::{Predictor, Scratch};
use crate::head::{Setting, SettingError};
use crate::impact::Inherit;
use crate::tendency::Ground;
use serde::Serialize;

/// One of the things that a change of setting does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Reason {
    /// CG and inertia: how the head twists about its CG, and what the ball's spin takes from it.
    GearEffect,
    /// Where the face looks at the same hands.
    FaceAngle,
    /// Its loft.
    Loft,
    /// Its lie.
    Lie,
    /// Mass of the head, and the head speed that answers to it.
    MassAndSpeed,
    /// What the learned correction adds.
    Learned,
}

impl Reason {
    /// All of them.
    pub const ALL: [Reason; 6] = [
        Reason::GearEffect,
        Reason::FaceAngle,
        Reason::Loft,
        Reason::Lie,
        Reason::MassAndSpeed,
        Reason::Learned,
    ];
}

impl std::fmt::Display for Reason {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Reason::GearEffect => "CG and gear effect",
            Reason::FaceAngle => "face angle",
            Reason::Loft => "loft",
            Reason::Lie => "lie",
            Reason::MassAndSpeed => "mass and speed",
            Reason::Learned => "learned response",
        })
    }
}

/// What each reason does on average to start, curve, carry and apex, m; in the order of
/// [`Reason::ALL`].
pub type Reasons = [Ground; 6];

const N: usize = Reason::ALL.len();

impl Predictor<'_> {
    /// Shares of the effect of a setting.
    pub fn reasons(&self, setting: &Setting) -> Result<Reasons, SettingError> {
        let s = self.situation;
        let club = s.club;
        let base = self
            .physics
            .striker(&club.head, &club.setting, &club.setting)?;
        let changed = self.physics.striker(&club.head, setting, &club.setting)?;
        let effect = self.effect(setting).mean;
        let d = base.differs(&changed);
        let differs = [
            d.cg_and_inertia,
            d.face,
            d.loft,
            d.lie,
            d.mass,
            effect != [0.0; 5],
        ];
        // What does not change has no share: the others play among themselves.
        let players: Vec<usize> = (0..N).filter(|&i| differs[i]).collect();
        let mut scratch = Scratch::default();
        let outcomes: Vec<Ground> = (0..1_usize << players.len())
            .map(|coalition| {
                let has = |i: usize| {
                    let place = players.iter().position(|&p| p == i);
                    place.is_some_and(|k| coalition >> k & 1 == 1)
                };
                let striker = base.inheriting(
                    &changed,
                    &Inherit {
                        cg_and_inertia: has(0),
                        face: has(1),
                        loft: has(2),
                        lie: has(3),
                        mass: has(4),
                    },
                );
                let learned = f64::from(u8::from(has(5)));
                let added = std::array::from_fn(|r| s.offset[r] + learned * effect[r]);
                self.fly(&striker, &added, &mut scratch);
                scratch.summarise().ground
            })
            .collect();
        let mut out = [Ground::zeros(); N];
        for (k, i) in players.into_iter().enumerate() {
            out[i] = shapley(&outcomes, k);
        }
        Ok(out)
    }
}

/// Shapley value of player `i`, given the outcome of each coalition by its bits.
fn shapley(outcomes: &[Ground], i: usize) -> Ground {
    let players = outcomes.len().ilog2() as usize;
    let bit = 1 << i;
    (0..outcomes.len())
        .filter(|c| c & bit == 0)
        .map(|c| (outcomes[c | bit] - outcomes[c]) * weight(players, c.count_ones() as usize))
        .sum()
}

/// `k! (n - k - 1)! / n!`: the share of orders of `n` in which one comes right after `k` given
/// others.
fn weight(n: usize, k: usize) -> f64 {
    let factorial = |n: usize| (1..=n).product::<usize>() as f64;
    factorial(k) * factorial(n - k - 1) / factorial(n)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The glove game: one left glove (player 0), two right gloves (1 and 2), a pair is worth one:
    /// 2/3, 1/6, 1/6 (A. E. Roth 1988, *The Shapley Value*, introduction; from memory). The fourth
    /// player owns nothing.
    #[test]
    fn ref_glove_game() {
        let outcomes: Vec<Ground> = (0..1_usize << 4)
            .map(|c| {
                let pair = c & 1 == 1 && c & 0b110 != 0;
                Ground::repeat(f64::from(u8::from(pair)))
            })
            .collect();
        let want = [2.0 / 3.0, 1.0 / 6.0, 1.0 / 6.0, 0.0];
        for (i, w) in want.into_iter().enumerate() {
            assert!((shapley(&outcomes, i).x - w).abs() < 1e-12, "{i}");
        }
        // The weights of all coalitions without a player are those of a mean.
        let all: f64 = (0..1_u32 << 5)
            .map(|c| weight(6, c.count_ones() as usize))
            .sum();
        assert!((all - 1.0).abs() < 1e-12, "{all}");
    }
}
