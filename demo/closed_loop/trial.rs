//! The trial: the same players, the same shots, and each policy's change judged by the truth.

use crate::club::{Expected, TrueClub};
use crate::device::{self, Day};
use crate::draws::{Draws, Swing, even_swings};
use crate::season::{self, Taught};
use crate::truth::{Player, TAILS, World};
use rayon::prelude::*;
use statrs::distribution::{ContinuousCDF, Normal};
use trimtab::club::Club;
use trimtab::correction::{Local, Z80};
use trimtab::delivery::{SessionReading, read_session};
use trimtab::flight::Conditions;
use trimtab::head::{Head, Setting, SettingError};
use trimtab::physics::Physics;
use trimtab::priors;
use trimtab::proposal::{
    Answer, Catalogue, Goal, Options, Proposal, Situation, Window, candidates, propose,
};
use trimtab::quantity::Measured;
use trimtab::tendency::{Tendency, tendency};
use trimtab::units::{DEG, INCH, YARD};
use trimtab::workshop::Part;

/// Shots before the proposal.
pub const SHOTS: [usize; 3] = [12, 30, 60];
/// Shots that a player hits at most, and gives another time if asked for.
const MOST: usize = 2 * SHOTS[2];
/// Swings that stand for a player in truth.
const SWINGS: usize = 512;
/// Swings by which the best setting is looked for, and settings that are looked at again.
const COARSE: usize = 64;
/// See [`COARSE`].
const AGAIN: usize = 24;
/// A miss at which the rule of thumb acts, m: what proposals take as worth a change, in the middle.
const RULE_ACTS: f64 = 4.0 * YARD;
/// Apex against carry below which a player's ball is too low, and what is wanted then.
const LOW: [f64; 2] = [0.085, 0.11];

/// How the trial is run.
#[derive(Debug, Clone, Copy)]
pub struct Plan {
    /// Number of players.
    pub players: usize,
    /// Seed of all draws.
    pub seed: u64,
    /// Deliveries that stand for a player in a proposal.
    pub deliveries: usize,
    /// Positions tried on a track.
    pub track_positions: usize,
    /// Most levers changed at once.
    pub levers: usize,
    /// Factor on what a day adds to a player's form and to the device.
    pub day: f64,
    /// Visits of a player in the season before.
    pub visits: usize,
    /// Numbers of shots, of [`SHOTS`].
    pub shots: [bool; 3],
}

/// What is done to the club.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Policy {
    /// Nothing.
    Nothing,
    /// One step of the weight, one of the sleeve.
    RuleOfThumb,
    /// Proposals without a correction.
    Unlearned,
    /// Proposals with a correction fitted to a season.
    Learned,
    /// The same, with the season's shots with the same club as further evidence of the player.
    AllDays,
    /// The setting of the smallest expected mean offline, the answer to the levers known, but of the
    /// player only what was seen: what no proposal from these shots alone can much surpass.
    SeenOnly,
    /// The setting of the smallest expected loss, the truth known.
    LeastLoss,
    /// The setting of the smallest mean offline, the truth known.
    AllKnowing,
}

/// All policies, in the order of the table.
pub const POLICIES: [Policy; 8] = [
    Policy::Nothing,
    Policy::RuleOfThumb,
    Policy::Unlearned,
    Policy::Learned,
    Policy::AllDays,
    Policy::SeenOnly,
    Policy::LeastLoss,
    Policy::AllKnowing,
];

/// A row as it was shown, and whether it would have helped.
#[derive(Debug, Clone, Copy)]
pub struct Stated {
    /// Stated probability that the expected loss becomes smaller.
    pub helps: f64,
    /// Whether it does.
    pub helped: bool,
    /// Its rank, from 0.
    pub rank: usize,
    /// Predicted change of mean offline, m.
    pub predicted: f64,
    /// Stated standard deviation of that, m.
    pub predicted_sd: f64,
    /// True change, m.
    pub true_change: f64,
}

/// What a policy made of a player.
#[derive(Debug, Clone)]
pub struct Outcome {
    /// What the ball does afterwards.
    pub after: Expected,
    /// True expected loss, m.
    pub loss: f64,
    /// Shots spent.
    pub spent: usize,
    /// Answer, if there was a proposal.
    pub answer: Option<Answer>,
    /// Mean offline before the change as it was seen, and its standard error, m.
    pub seen: [f64; 2],
    /// Rows that were shown.
    pub rows: Vec<Stated>,
    /// The setting.
    pub setting: Setting,
}

/// One player's part in the trial.
#[derive(Debug, Clone)]
pub struct Case {
    /// The player.
    pub player: Player,
    /// Before any change.
    pub before: Expected,
    /// What the player wants.
    pub goal: Goal,
    /// `[shots][policy]`; empty for a number of shots that was left out.
    pub outcomes: Vec<Vec<Outcome>>,
}

/// The heads of the demo that are drivers with a weight that slides from heel to toe or a zone of
/// hot melt on each side.
pub fn heads() -> Vec<Head> {
    use trimtab::bench::describe::{Source, read_head};
    [
        include_str!("../heads/ternwick-a.toml"),
        include_str!("../heads/ternwick-b.toml"),
        include_str!("../heads/plovermere.toml"),
        include_str!("../heads/sallowreed.toml"),
        include_str!("../heads/heronbeck.toml"),
    ]
    .into_iter()
    .map(|text| {
        read_head(&Source { name: "head", text })
            .expect("the demo's heads are good")
            .1
    })
    .collect()
}

/// A driver of 45 in at the head's reference.
pub fn build(head: &Head) -> Club {
    let part = |mass, balance: f64| Part {
        mass,
        balance: balance * INCH,
    };
    Club {
        head: head.clone(),
        setting: head.reference.clone(),
        length: 45.0 * INCH,
        parts: vec![part(0.058, 22.6), part(0.050, 4.4), part(0.004, 9.0)],
    }
}

/// Runs the trial; `done` is told of each player.
///
/// # Errors
/// If a setting is not one that its head has.
pub fn run(plan: &Plan, done: impl Fn() + Sync) -> Result<Vec<Case>, SettingError> {
    let (world, heads) = (World::new(), heads());
    let clubs: Vec<Club> = heads.iter().map(build).collect();
    let players: Vec<Player> = (0..plan.players)
        .map(|i| Player::draw(i, plan.seed, &heads))
        .collect();
    let physics = Physics::default();
    let learned = season::taught(&world, &players, &clubs, &physics, plan)?;
    let swings = even_swings(SWINGS, TAILS);
    let job = |(number, player): (usize, &Player)| {
        let fitting = Fitting {
            world: &world,
            player,
            club: &clubs[player.head],
            physics: &physics,
            plan,
            swings: &swings,
        };
        let case = fitting.case(number, &learned[number]);
        done();
        case
    };
    players.par_iter().enumerate().map(job).collect()
}

/// One player with a club.
struct Fitting<'a> {
    world: &'a World,
    player: &'a Player,
    club: &'a Club,
    physics: &'a Physics,
    plan: &'a Plan,
    swings: &'a [Swing],
}

impl Fitting<'_> {
    fn truth(&self, setting: &Setting, swings: usize) -> Result<Expected, SettingError> {
        let club = TrueClub::new(self.world, self.player, &self.club.head, setting)?;
        Ok(club.expected(&self.swings[..swings]))
    }

    fn catalogue(&self) -> Catalogue {
        Catalogue {
            track_positions: self.plan.track_positions,
            levers: self.plan.levers,
            ..Catalogue::default()
        }
    }

    fn case(&self, number: usize, learned: &Taught) -> Result<Case, SettingError> {
        let before = self.truth(&self.club.setting, SWINGS)?;
        let low = before.ground[3] < LOW[0] * before.ground[2];
        let goal = Goal {
            apex: low.then(|| Window::at(LOW[1] * before.ground[2])),
            ..Goal::default()
        };
        let mut z = Draws::new(self.plan.seed, number as u64, 1);
        let day = Day::draw(&mut z, self.plan.day);
        let now = TrueClub::new(self.world, self.player, &self.club.head, &self.club.setting)?;
        let shots = device::session(&now, self.player, &day, MOST, &mut z);
        let carry = before.ground[2];
        let all = candidates(&self.club.head, &self.club.setting, &self.catalogue());
        let coarse: Vec<Expected> = all
            .iter()
            .map(|s| self.truth(s, COARSE))
            .collect::<Result<_, _>>()?;
        let best = self.best(&all, &coarse, |e| e.offline().abs())?;
        let least = self.best(&all, &coarse, |e| e.loss(&goal, carry))?;
        let mut outcomes = Vec::new();
        for (n, wanted) in SHOTS.into_iter().zip(self.plan.shots) {
            let mut by_policy = Vec::new();
            for policy in POLICIES.into_iter().filter(|_| wanted) {
                let (setting, spent, proposal) = match policy {
                    Policy::Nothing => (self.club.setting.clone(), 0, None),
                    Policy::SeenOnly => {
                        let read = self.read(&shots[..n], &[], &goal)?;
                        let seen = read.map_or([0.0; 2], |(_, _, t)| {
                            let half_width = t.offline_miss.half_width;
                            [t.offline.mean - before.offline(), half_width / Z80]
                        });
                        (self.careful(&all, &coarse, &before, seen)?, n, None)
                    }
                    Policy::LeastLoss => (least.clone(), 0, None),
                    Policy::AllKnowing => (best.clone(), 0, None),
                    Policy::RuleOfThumb => (self.rule(&shots[..n], &goal)?, n, None),
                    Policy::Unlearned => {
                        self.proposed(&shots, n, &goal, Local::unlearned(), &[])?
                    }
                    Policy::Learned => {
                        self.proposed(&shots, n, &goal, learned.correction.clone(), &[])?
                    }
                    Policy::AllDays => {
                        let correction = learned.correction.clone();
                        self.proposed(&shots, n, &goal, correction, &learned.shots)?
                    }
                };
                let after = self.truth(&setting, SWINGS)?;
                let rows = match &proposal {
                    Some(p) => self.stated(p, &before, &goal)?,
                    None => Vec::new(),
                };
                by_policy.push(Outcome {
                    loss: after.loss(&goal, carry),
                    seen: proposal.as_ref().map_or([f64::NAN; 2], |p| {
                        let o = &p.now.offline;
                        [o.mean, 0.5 * (o.high - o.low) / Z80]
                    }),
                    answer: proposal.map(|p| p.answer),
                    after,
                    spent,
                    rows,
                    setting,
                });
            }
            outcomes.push(by_policy);
        }
        Ok(Case {
            player: self.player.clone(),
            before,
            goal,
            outcomes,
        })
    }

    /// The setting that costs least, the truth known: the best of the coarse ones, looked at again.
    fn best(
        &self,
        all: &[Setting],
        coarse: &[Expected],
        cost: impl Fn(&Expected) -> f64,
    ) -> Result<Setting, SettingError> {
        let mut order: Vec<usize> = (0..all.len()).collect();
        order.sort_by(|&a, &b| cost(&coarse[a]).total_cmp(&cost(&coarse[b])));
        order.truncate(AGAIN);
        let mut best = (f64::INFINITY, 0);
        for i in std::iter::once(0).chain(order) {
            let c = cost(&self.truth(&all[i], SWINGS)?);
            if c < best.0 {
                best = (c, i);
            }
        }
        Ok(all[best.1].clone())
    }

    /// The setting that costs least if the mean offline is that of the truth and an error, of which its
    /// standard deviation is known and not more: twice its distance, and what a proposal pays for the
    /// probability of making it worse.
    fn careful(
        &self,
        all: &[Setting],
        coarse: &[Expected],
        before: &Expected,
        [error, sd]: [f64; 2],
    ) -> Result<Setting, SettingError> {
        let o = Options::default();
        let worth = o.worth * before.ground[2];
        let normal = Normal::standard();
        let quantile = |i: u32| normal.inverse_cdf((f64::from(i) + 0.5) / 25.0);
        let could_be: Vec<f64> = (0..25).map(|i| error + sd * quantile(i)).collect();
        self.best(all, coarse, |e| {
            let cost = could_be.iter().map(|by| {
                let [now, then] = [before, e].map(|e| (e.offline() + by).abs());
                2.0 * then
                    + if then > now + 0.25 * worth {
                        o.harm * worth
                    } else {
                        0.0
                    }
            });
            cost.sum()
        })
    }

    /// One step of the weight toward the heel for a ball that ends right, toward the toe for one
    /// that ends left; the sleeve up a step when it is too low. A step is half of the way from the
    /// middle to the end of the track, or a squeeze of hot melt where nothing slides sideways.
    fn rule(&self, shots: &[Measured], goal: &Goal) -> Result<Setting, SettingError> {
        let mut s = self.club.setting.clone();
        let Some((_, _, t)) = self.read(shots, &[], goal)? else {
            return Ok(s);
        };
        let head = &self.club.head;
        let heel = t.offline.mean > 0.0;
        if t.offline.mean.abs() > RULE_ACTS {
            let across = |t: &trimtab::head::Track| {
                let v = t.point(1.0) - t.point(0.0);
                v.x.abs() > v.y.abs()
            };
            let zone = if heel { "heel" } else { "toe" };
            if let Some(i) = head.tracks.iter().position(across) {
                s.tracks[i].position += if heel { -STEP } else { STEP };
            } else if let Some(i) = head.zones.iter().position(|z| z.name == zone) {
                s.zones[i] += trimtab::workshop::SQUEEZE;
            }
        }
        if let (true, Some(sleeve)) = (goal.apex.is_some(), &head.sleeve) {
            // The neighbour nearest to 90 deg, the most loft.
            let from_top = |p: usize| (sleeve.positions[p] - 90.0 * DEG).abs();
            let count = sleeve.positions.len();
            s.clock = [
                s.clock,
                (s.clock + 1) % count,
                (s.clock + count - 1) % count,
            ]
            .into_iter()
            .min_by(|&a, &b| from_top(a).total_cmp(&from_top(b)))
            .unwrap_or(s.clock);
        }
        Ok(s)
    }

    /// Session and tendency of shots with the club as it is, with those of other days that show one
    /// swing with them; and the physics with a ball that flies as it was shown.
    fn read(
        &self,
        shots: &[Measured],
        other_days: &[Vec<Measured>],
        goal: &Goal,
    ) -> Result<Option<(Physics, SessionReading, Tendency)>, SettingError> {
        let (prior, still) = (priors::player(&self.club.head), Conditions::default());
        let days: Vec<Vec<Measured>> = std::iter::once(shots)
            .chain(other_days.iter().map(Vec::as_slice))
            .map(|day| day.iter().map(|m| self.player.hand.turn(*m)).collect())
            .collect();
        let shown = self.physics.as_shown(days.iter().map(|d| (still, &d[..])));
        let physics = shown.map_or_else(|| self.physics.clone(), |(physics, _)| physics);
        let read = |day: &Vec<Measured>| read_session(day, self.club, &prior, &physics, &still);
        let summary = |reading: &SessionReading| tendency(reading, self.club.head.kind, &goal.aim);
        let mut reading = read(&days[0])?;
        let latest = summary(&reading);
        for (i, day) in days.iter().enumerate().skip(1) {
            let other = read(day)?;
            let both = latest.as_ref().zip(summary(&other));
            if both.is_some_and(|(latest, other)| latest.is_of_one_swing_with(&other)) {
                let offset = reading.shots.len() + reading.empty.len();
                reading = reading.joined(other, offset, i);
            }
        }
        let t = summary(&reading);
        Ok(t.map(|t| (physics, reading, t)))
    }

    /// What the first row makes of the club. If it is too early, the player hits what is asked for,
    /// up to as many again; if it then still is, nothing is changed.
    fn proposed(
        &self,
        shots: &[Measured],
        n: usize,
        goal: &Goal,
        correction: Local,
        other_days: &[Vec<Measured>],
    ) -> Result<(Setting, usize, Option<Proposal>), SettingError> {
        let now = self.club.setting.clone();
        let (mut spent, mut asked) = (n, false);
        loop {
            let Some((physics, reading, t)) = self.read(&shots[..spent], other_days, goal)? else {
                return Ok((now, spent, None));
            };
            let Ok(situation) = Situation::from_session(
                self.club,
                &physics,
                Conditions::default(),
                &reading,
                &t,
                *goal,
                correction.clone(),
                self.plan.deliveries,
                1,
            ) else {
                return Ok((now, spent, None));
            };
            let options = Options {
                catalogue: self.catalogue(),
                ..Options::default()
            };
            let p = propose(&situation, &options)?;
            if let (Answer::TooFew { more, .. }, false) = (&p.answer, asked) {
                spent = (n + more).min(2 * n);
                asked = true;
                continue;
            }
            let setting = match (&p.answer, p.rows.first()) {
                (Answer::Change | Answer::NotTheClub { .. }, Some(row)) => row.setting.clone(),
                _ => now,
            };
            return Ok((setting, spent, Some(p)));
        }
    }

    fn stated(
        &self,
        p: &Proposal,
        before: &Expected,
        goal: &Goal,
    ) -> Result<Vec<Stated>, SettingError> {
        let carry = before.ground[2];
        let loss = before.loss(goal, carry);
        p.rows
            .iter()
            .enumerate()
            .map(|(rank, row)| {
                let after = self.truth(&row.setting, SWINGS)?;
                let c = &row.offline_change;
                Ok(Stated {
                    helps: row.helps,
                    helped: after.loss(goal, carry) < loss,
                    rank,
                    predicted: c.mean,
                    predicted_sd: 0.5 * (c.high - c.low) / Z80,
                    true_change: after.offline() - before.offline(),
                })
            })
            .collect()
    }
}

/// The rule of thumb's step on a track, as a share of it.
const STEP: f64 = 0.25;
