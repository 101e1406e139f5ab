//! Which sessions are held against those after a change.

use super::Failure;
use super::context::Fitted;
use super::filed::{texts_in, time};
use super::followed::followed;
use super::visit::{sessions, visit};
use crate::bench::store::{Proposal, SessionFilter, SessionInfo, SessionRecord};
use crate::bench::{Bench, ErrorKind};

/// So many shots of the day of the sessions after are before by themselves: their mean is surer than
/// one of any number of shots of another day, for spreads of offline up to 11 m. By what is believed
/// before any data a day moves a driver's ball by 3.6 m (launch direction 0.5 deg, spin axis 1.5 deg,
/// correlated by half), which comes in twice: s²/5 < 2 (3.6 m)².
const ENOUGH: usize = 5;

/// The sessions of that name, none of a later day than those after.
pub(super) fn before_named(
    bench: &Bench,
    build: &str,
    after: &[SessionRecord],
    names: &[String],
) -> Result<Vec<SessionRecord>, Failure> {
    let named = sessions(bench, build, names)?;
    let first = after.iter().min_by_key(|s| s.info.date);
    let late = |s: &&SessionRecord| first.is_some_and(|f| s.info.date > f.info.date);
    match (named.iter().find(late), first) {
        (Some(late), Some(first)) => Err(Failure::usage(format!(
            "session '{}' of {} is later than '{}' of {}: what is before must not be later than \
             what is after",
            late.info.name, late.info.date, first.info.name, first.info.date
        ))),
        _ => Ok(named),
    }
}

/// The sessions with the build before of the day of those after; if these are fewer than [`ENOUGH`]
/// shots, with those that the proposal rests on and those in the same air and wind that were logged
/// since; if there are none, those of the latest day with the build before.
///
/// A day has an effect of its own ([`crate::correction`], visit), which the comparison does not
/// weigh: blocks of one day share it, so that it drops out. The shots that led to a proposal are
/// also those that looked worst; fresh ones do not regress to the mean.
pub(super) fn before_of(
    bench: &Bench,
    build: &str,
    new: &Fitted,
    after: &[SessionRecord],
    proposal: Option<i64>,
) -> Result<Vec<SessionRecord>, Failure> {
    let Some(first) = after.iter().min_by_key(|s| s.info.date) else {
        return Ok(Vec::new());
    };
    let day = first.info.date;
    let filter = SessionFilter {
        build: Some(build.into()),
        ..SessionFilter::default()
    };
    let mut all = bench.sessions(&filter)?;
    all.retain(|s| s.date <= day);
    all.sort_by_key(|s| (s.date, s.id));
    let alike = |s: &SessionInfo| s.meta.conditions() == first.info.meta.conditions();
    let that_day = |s: &SessionInfo| s.date == day;
    let names_of = |picked: &dyn Fn(&SessionInfo) -> bool| -> Vec<String> {
        let picked = all.iter().filter(|s| picked(s));
        picked.map(|s| s.name.clone()).collect()
    };
    let mut names = names_of(&that_day);
    if !names.is_empty() {
        let blocks = sessions(bench, build, &names)?;
        if blocks.iter().map(|b| b.shots.len()).sum::<usize>() >= ENOUGH {
            return Ok(blocks);
        }
    }
    let proposal = match proposal {
        Some(id) => Some(bench.proposal(id)?),
        None => followed(bench, new, build)?.map(|(p, _)| p),
    };
    if let Some(p) = proposal {
        let rests_on = texts_in(&p.body["sessions"]);
        let used = |s: &SessionInfo| rests_on.contains(&s.name);
        let last = all.iter().filter(|s| used(s)).map(|s| s.date).max();
        let fresh = |s: &SessionInfo| alike(s) && Some(s.date) >= last && logged_since(s, &p);
        names = names_of(&|s| that_day(s) || used(s) || fresh(s));
    }
    if names.is_empty() {
        names = visit(&all);
    }
    if names.is_empty() {
        return Err(Failure::new(
            ErrorKind::NotFound,
            format!(
                "no session with build '{build}' of {day} or earlier is logged, to hold '{}' against",
                first.info.name
            ),
        ));
    }
    sessions(bench, build, &names)
}

/// Whether a session came into the bench after a proposal was made.
fn logged_since(session: &SessionInfo, proposal: &Proposal) -> bool {
    time(&session.created_at) > time(&proposal.created_at)
}
