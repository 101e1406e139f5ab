//! trimtab: from a player's miss to the smallest change of the golf club that cures it.
//!
//! The library computes what a club technician needs: mass properties of a head with its movable
//! weights, what a hosel sleeve does, a three-dimensional impact, ball flight and run, the
//! delivery behind a measured shot, a correction learned from logged sessions, ranked proposals
//! with honest uncertainty, and the check afterwards. Data go one way:
//!
//! ```text
//! bench ──> delivery, tendency ──> head + hosel ──> impact ──> flight ──> proposal ──> report
//! (log)                                               ^                      |
//!   ^                                             correction                 v
//!   └──────────────── sessions, verdicts ───────> (refit by season)        check
//! ```
//!
//! - **core**, pure values in and out: [`head`], [`hosel`], [`impact`], [`flight`], [`air`],
//!   [`delivery`], [`tendency`], [`blame`](mod@blame), [`correction`], [`proposal`], [`plan`],
//!   [`verdict`], [`workshop`], [`rules`], [`miss`];
//! - **edges**: [`bench`](mod@bench) (the log of record, descriptions, import and export), [`report`] (text,
//!   JSON, the job card), [`cli`] (the commands). The core knows none of them.
//!
//! Inside everything is SI and radians, for a right-handed player: x to the right of the target
//! line, y toward the target, z up; in the head x is toe-ward, y out of the face, z up. Left-handed
//! players are mirrored once, at the edge: see [`hand`].
//!
//! # Example
//!
//! A miss in words, a driver with a heel-toe weight and a sleeve, and what to do about it:
//!
//! ```
//! use trimtab::bench::describe::{Source, read_head};
//! use trimtab::club::Club;
//! use trimtab::correction::Local;
//! use trimtab::flight::Conditions;
//! use trimtab::hand::Hand;
//! use trimtab::physics::Physics;
//! use trimtab::proposal::{Answer, Goal, Options, Situation, propose};
//! use trimtab::{miss, priors};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let text = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/demo/heads/sallowreed.toml"));
//! let (_, head) = read_head(&Source { name: "sallowreed.toml", text })?;
//! let club = Club { setting: head.reference.clone(), head, length: 1.143, parts: vec![] };
//!
//! let said = miss::parse("starts 5 right, curves 15 right, carries 240", Hand::Right)?;
//! let physics = Physics::default();
//! let situation = Situation::from_words(
//!     &club, &physics, Conditions::default(), &Hand::Right.turn(said),
//!     &priors::player(&club.head), Goal::default(), Local::unlearned(), 200, 1,
//! )?;
//! let proposal = propose(&situation, &Options::default())?;
//!
//! assert_eq!(proposal.answer, Answer::Change);
//! let best = &proposal.rows[0];
//! assert!(best.steps.iter().any(|s| s.instruction.contains("toward the heel")));
//! assert!(best.offline.mean < proposal.now.offline.mean);
//! # Ok(())
//! # }
//! ```
pub mod adjusted;
pub mod air;
pub mod ball;
pub mod bench;
pub mod blame;
pub mod cli;
pub mod club;
pub mod constants;
pub mod correction;
pub mod delivery;
pub mod flight;
pub mod hand;
pub mod head;
pub mod hosel;
pub mod impact;
pub mod launch;
pub mod miss;
pub mod physics;
pub mod plan;
pub mod priors;
pub mod proposal;
pub mod quantity;
pub mod report;
pub mod robust;
pub mod rules;
pub mod shapley;
pub mod tendency;
pub mod units;
pub mod verdict;
pub mod workshop;
