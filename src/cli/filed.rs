//! What filed proposals and verdicts say of sessions.

use super::Failure;
use crate::bench::Bench;
use crate::bench::store::SessionFilter;
use jiff::Timestamp;
use serde_json::Value;

/// The texts in a list of a filed document.
pub(super) fn texts_in(list: &Value) -> Vec<String> {
    let names = list.as_array().into_iter().flatten();
    names.filter_map(|n| n.as_str().map(String::from)).collect()
}

/// When something came into the bench.
pub(super) fn time(created_at: &str) -> Option<Timestamp> {
    created_at.parse().ok()
}

/// Names of all sessions that were ever logged with a build.
pub(super) fn ever_logged_with(bench: &Bench, build: &str) -> Result<Vec<String>, Failure> {
    let filter = SessionFilter {
        build: Some(build.into()),
        withdrawn: true,
        ..SessionFilter::default()
    };
    let all = bench.sessions(&filter)?.into_iter();
    Ok(all.map(|s| s.name).collect())
}

/// Whether two lists have a name in common.
pub(super) fn overlap(a: &[String], b: &[String]) -> bool {
    a.iter().any(|n| b.contains(n))
}

/// Names of the sessions that were withdrawn.
pub(super) struct Withdrawn(Vec<String>);

impl Withdrawn {
    pub(super) fn of(bench: &Bench) -> Result<Withdrawn, Failure> {
        let filter = SessionFilter {
            withdrawn: true,
            ..SessionFilter::default()
        };
        let all = bench.sessions(&filter)?.into_iter();
        let withdrawn = all.filter(|s| s.withdrawn_at.is_some());
        Ok(Withdrawn(withdrawn.map(|s| s.name).collect()))
    }

    /// Whether any of them is in lists of sessions, as a filed document has them.
    pub(super) fn any(&self, lists: &[&Value]) -> bool {
        lists.iter().any(|l| overlap(&texts_in(l), &self.0))
    }
}
