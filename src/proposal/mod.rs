//! Proposals: every setting that the club really has, predicted and ranked.
//!
//! A [`Situation`] holds the club, a cloud of deliveries that stands for the player, and what is
//! not known. [`propose`] enumerates the settings, pushes the same cloud through each (common
//! random numbers), adds the learned correction, flies every ball, and ranks by expected loss plus
//! the effort of the change. Before that it asks whether there is a miss at all; see [`Answer`].

mod candidates;
mod choose;
mod estimate;
mod levers;
mod loss;
mod mount;
mod predict;
mod reasons;
mod row;
mod screen;
mod search;
mod situation;
mod steps;
mod stock;
mod surrogate;
mod weigh;
mod words;

pub use candidates::{Catalogue, candidate_count, candidates};
pub use levers::Undo;
pub use loss::{Goal, LossParts, METRE_OFF, Weights, Window};
pub use mount::Mount;
pub use predict::{Interval, Outcome, Prediction};
pub use reasons::{Reason, Reasons};
pub use row::Row;
pub use search::{Answer, Options, Proposal, propose, what_if};
pub use situation::{Evidence, Situation, SituationError};
pub use steps::{RULES_CAUTION, Step, steps};
pub use stock::{Part, Stock};
pub use words::{RARE, Taken, Words};
