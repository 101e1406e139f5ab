//! Whether carry and height are those of the ball's launch.

use super::plausible::{Finding, Session, Usual, error, median, warning};
use crate::head::ClubKind;
use crate::quantity::{Measured, Quantity};

/// Carry over the square of the ball speed, s²/m, for balls faster than [`FAST`]: without air it is
/// at most 1/g = 0.102, and a full wedge of 35 m/s comes to 0.075.
const CARRY_RATIO: (f64, f64) = (0.02, 0.09);
/// Ball speed above which the carry tells something, m/s.
const FAST: f64 = 30.0;
/// Units nearer to each other than this cannot be told by the ball speed: the yard and the metre.
const ALIKE: f64 = 1.25;
/// Against what the model flies: quantity, and how far off (as a share) another unit is looked for.
/// Carries of the model are within 3.5 % of usual figures (see the README), and a yard is 9 % short
/// of a metre. Heights of published models differ by a fifth: yards and metres are not told by them.
const FLOWN: [(Quantity, f64); 2] = [(Quantity::Carry, 0.05), (Quantity::Apex, 0.4)];
/// How near another unit must come to what the model flies, as a share: the yard and the metre, and
/// units farther apart.
const NEAR: (f64, f64) = (0.04, 0.25);
/// A carry or height that is so far off, as a share of the model's, is odd in any unit.
const FAR_OFF: [f64; 2] = [0.15, 0.4];

impl Session<'_> {
    /// Carry and height against what the model flies from the same launches.
    pub fn flights(&self, usual: &Usual<'_>) -> Vec<Finding> {
        // The spin of a wedge lies beyond the coefficient tables: its carry tells no yard from a metre.
        let near = match usual.kind {
            Some(ClubKind::Wedge) => 0.0,
            _ => NEAR.0,
        };
        let judge = |(&(q, odd), far): (&(Quantity, f64), &f64)| {
            let pairs = self.shots.iter().zip(usual.flown);
            let ratio = |(s, f): (&Measured, &Measured)| {
                let model = f.get(q).filter(|m| *m > 1.0)?;
                Some(s.get(q)? / model)
            };
            let ratio = median(pairs.filter_map(ratio))?;
            let off = |r: f64| (r - 1.0).abs();
            if off(ratio) <= odd {
                return None;
            }
            let column = self.columns.iter().find(|c| c.quantity == q);
            let name = column.map_or(q.info().name, |c| c.header.as_str());
            let text = format!(
                "{name} is {ratio:.2} of what the model flies from the same launches, in the middle"
            );
            let fits = self
                .others(q)
                .filter(|(_, factor)| {
                    let apart = *factor > ALIKE || *factor < 1.0 / ALIKE;
                    off(ratio * factor) <= if apart { NEAR.1 } else { near }
                })
                .min_by(|a, b| off(ratio * a.1).total_cmp(&off(ratio * b.1)));
            match fits {
                Some((unit, _)) => Some(error(
                    q,
                    format!(
                        "{text}: it looks like {unit}, not {}; or air, wind or ball were not those \
                         that are logged",
                        self.unit(q).0
                    ),
                )),
                None => (off(ratio) > *far).then(|| warning(q, text)),
            }
        };
        FLOWN.iter().zip(&FAR_OFF).filter_map(judge).collect()
    }

    /// Carry against ball speed.
    pub fn carries(&self) -> Option<Finding> {
        use Quantity::{BallSpeed, Carry};
        let pairs: Vec<(f64, f64)> = self
            .shots
            .iter()
            .filter_map(|s| Some((s.get(BallSpeed)?, s.get(Carry)?)))
            .collect();
        let ratio = |ball: f64, carry: f64| {
            let fast = pairs.iter().filter(|p| p.0 * ball > FAST);
            median(fast.map(|p| p.1 * carry / (p.0 * ball).powi(2)))
        };
        let good = |r: f64| (CARRY_RATIO.0..=CARRY_RATIO.1).contains(&r);
        let read = ratio(1.0, 1.0)?;
        if good(read) {
            return None;
        }
        let told = |f: &f64| *f > ALIKE || *f < 1.0 / ALIKE;
        let ball = self
            .others(BallSpeed)
            .filter(|(_, f)| ratio(*f, 1.0).is_some_and(good));
        let ball = ball.map(|(unit, _)| format!("ball_speed in {unit}"));
        let carry = self
            .others(Carry)
            .filter(|(_, f)| told(f) && ratio(1.0, *f).is_some_and(good));
        let fits: Vec<String> = ball
            .chain(carry.map(|(unit, _)| format!("carry in {unit}")))
            .collect();
        let (low, high) = CARRY_RATIO;
        let text = format!(
            "carry / ball_speed² is {read:.3} s²/m in the middle, {low} to {high} is usual"
        );
        Some(match fits.is_empty() {
            true => warning(Carry, text),
            false => error(
                Carry,
                format!("{text}; it would fit with {}", fits.join(" or ")),
            ),
        })
    }
}
