//! Names as a person types them: the beginning is enough if it is only one's.

use super::Failure;
use crate::bench::store::SessionFilter;
use crate::bench::{Bench, ErrorKind};

/// What has a name in the bench.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Named {
    Player,
    Head,
    Build,
    Session,
}

/// The full name of what somebody means by a name, or by the beginning of one, capitals aside. A
/// name that is nobody's comes back as it is: whoever looks it up knows best what to say.
///
/// # Errors
/// Not found, if it is the beginning of several.
pub(super) fn full_name(bench: &Bench, what: Named, said: &str) -> Result<String, Failure> {
    let described = |all: Vec<crate::bench::store::Described>| all.into_iter().map(|d| d.name);
    let all: Vec<String> = match what {
        Named::Player => described(bench.players()?).collect(),
        Named::Head => described(bench.heads()?).collect(),
        Named::Build => described(bench.builds()?).collect(),
        Named::Session => {
            let filter = SessionFilter {
                withdrawn: true,
                ..SessionFilter::default()
            };
            let all = bench.sessions(&filter)?;
            if let Some(by_id) = all.iter().find(|s| s.id.to_string() == said) {
                return Ok(by_id.name.clone());
            }
            all.into_iter().map(|s| s.name).collect()
        }
    };
    let plain = said.to_lowercase();
    if said.is_empty() || all.iter().any(|n| n == said) {
        return Ok(said.to_string());
    }
    let begins = |n: &&String| n.to_lowercase().starts_with(&plain);
    let meant: Vec<&String> = match all.iter().find(|n| n.to_lowercase() == plain) {
        Some(same) => vec![same],
        None => all.iter().filter(begins).collect(),
    };
    match meant[..] {
        [] => Ok(said.to_string()),
        [one] => Ok(one.clone()),
        _ => {
            let list: Vec<&str> = meant.iter().take(10).map(|n| n.as_str()).collect();
            let more = match meant.len() - list.len() {
                0 => String::new(),
                n => format!(" and {n} more"),
            };
            let what = format!("{what:?}").to_lowercase();
            let why = format!(
                "no {what} '{said}': it is the beginning of {}{more}; write more of it",
                list.join(", ")
            );
            Err(Failure::new(ErrorKind::NotFound, why))
        }
    }
}
