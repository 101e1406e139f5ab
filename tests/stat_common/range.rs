//! Situations as a technician meets them: from words or from a few shots.

use super::{Noise, shots};
use trimtab::club::Club;
use trimtab::correction::Local;
use trimtab::delivery::{SessionReading, Vector7, read_session};
use trimtab::flight::Conditions;
use trimtab::hand::Hand;
use trimtab::miss;
use trimtab::physics::Physics;
use trimtab::priors;
use trimtab::proposal::{Goal, Options, Proposal, Situation, propose};
use trimtab::tendency::{Tendency, tendency};

/// Deliveries that stand for a player.
pub const DRAWS: usize = 200;

/// A club, the physics, and what surrounds them.
pub struct Bay {
    pub club: Club,
    pub physics: Physics,
    pub conditions: Conditions,
}

impl Bay {
    pub fn new(club: Club) -> Bay {
        Bay {
            club,
            physics: Physics::default(),
            conditions: Conditions::default(),
        }
    }

    /// A player who tells of a miss. Wind and words are those of the real world.
    pub fn words(&self, phrase: &str, hand: Hand) -> Situation<'_> {
        let said = miss::parse(phrase, hand).expect("a miss");
        Situation::from_words(
            &self.club,
            &self.physics,
            hand.turn(self.conditions),
            &hand.turn(said),
            &priors::player(&self.club.head),
            Goal::default(),
            Local::unlearned(),
            DRAWS,
            1,
        )
        .expect("a situation")
    }

    pub fn propose_words(&self, phrase: &str, hand: Hand) -> Proposal {
        propose(&self.words(phrase, hand), &all_rows()).expect("a proposal")
    }

    /// Shots of a player who is `off` prior standard deviations from the usual delivery.
    pub fn session(&self, off: [f64; 7], n: usize, spread: f64, seed: u64) -> SessionReading {
        let prior = priors::player(&self.club.head);
        let centre = prior.mean + prior.sd.component_mul(&Vector7::from(off));
        let list = shots(
            &self.club,
            &centre,
            n,
            spread,
            &self.physics,
            &mut Noise::new(seed),
        );
        read_session(&list, &self.club, &prior, &self.physics, &self.conditions)
            .expect("own setting")
    }

    pub fn tendency(&self, s: &SessionReading) -> Tendency {
        tendency(s, self.club.head.kind, &Goal::default().aim).expect("data")
    }

    pub fn shots<'a>(&'a self, s: &SessionReading, t: &Tendency) -> Situation<'a> {
        Situation::from_session(
            &self.club,
            &self.physics,
            self.conditions,
            s,
            t,
            Goal::default(),
            Local::unlearned(),
            DRAWS,
            1,
        )
        .expect("a situation")
    }
}

/// The best of every kind of change, not only the first few.
pub fn all_rows() -> Options {
    Options {
        rows: 10_000,
        every_kind: true,
        ..Options::default()
    }
}
