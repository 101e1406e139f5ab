//! The sessions in the order in which the fit walks through them: player, head, day, session. What
//! belongs together then lies together.

use super::model::Model;
use super::{SessionSummary, V7};
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};
use std::ops::Range;

/// All sessions in order, with numbers instead of names.
#[derive(Debug, Clone)]
pub(super) struct Layout<'a> {
    /// Names in order, those of last season's model among them.
    pub players: Vec<String>,
    pub heads: Vec<String>,
    /// Player and head of each pair, in order.
    pub pairs: Vec<(usize, usize)>,
    /// Sessions in order.
    pub sessions: Vec<&'a SessionSummary>,
    /// Pair of each session.
    pub pair: Vec<usize>,
    /// Visit of each session: a player with a head on a day.
    pub visit: Vec<usize>,
    /// Day of each session, counted among those on which there is one.
    pub day: Vec<usize>,
}

fn index(names: &[String], name: &str) -> usize {
    names
        .binary_search_by(|n| n.as_str().cmp(name))
        .expect("the names of all sessions are in the list")
}

fn days(sessions: &[&SessionSummary]) -> Vec<usize> {
    let dates = || sessions.iter().map(|s| s.date.as_str());
    let distinct: HashSet<&str> = dates().collect();
    let mut distinct: Vec<&str> = distinct.into_iter().collect();
    distinct.sort_unstable();
    let number: HashMap<&str, usize> = distinct.into_iter().zip(0..).collect();
    dates().map(|d| number[d]).collect()
}

impl<'a> Layout<'a> {
    /// In a fixed order, whatever order the sessions come in.
    pub fn new(
        sessions: impl IntoIterator<Item = &'a SessionSummary>,
        past: Option<&'a Model>,
    ) -> Layout<'a> {
        let mut by_pair: BTreeMap<(&str, &str), Vec<&SessionSummary>> = BTreeMap::new();
        for s in sessions {
            by_pair.entry((&s.player, &s.head)).or_default().push(s);
        }
        let old = (past.into_iter())
            .flat_map(|m| &m.responses)
            .flat_map(|r| &r.posterior.pairs);
        for p in old {
            by_pair.entry((&p.player, &p.head)).or_default();
        }
        let unique = |names: BTreeSet<&str>| names.into_iter().map(String::from).collect();
        let players: Vec<String> = unique(by_pair.keys().map(|n| n.0).collect());
        let heads: Vec<String> = unique(by_pair.keys().map(|n| n.1).collect());
        let pairs = (by_pair.keys())
            .map(|(p, h)| (index(&players, p), index(&heads, h)))
            .collect();
        let (mut sorted, mut pair, mut visit) = (Vec::new(), Vec::new(), Vec::new());
        let mut visits = 0;
        for (at, mut sessions) in by_pair.into_values().enumerate() {
            sessions.sort_by_key(|s| (&s.date, &s.session));
            for day in sessions.chunk_by(|a, b| a.date == b.date) {
                sorted.extend(day);
                pair.extend(day.iter().map(|_| at));
                visit.extend(day.iter().map(|_| visits));
                visits += 1;
            }
        }
        Layout {
            day: days(&sorted),
            players,
            heads,
            pairs,
            sessions: sorted,
            pair,
            visit,
        }
    }

    /// The day before which there are `k` of so many parts of the sessions.
    pub fn part(&self, k: usize, parts: usize) -> usize {
        let mut days = self.day.clone();
        let at = k * days.len() / parts;
        *days.select_nth_unstable(at).1
    }
}

/// A player with a head: all their visits.
#[derive(Debug, Clone)]
pub(super) struct Pair {
    /// Index into the players.
    pub player: usize,
    /// Index into the heads.
    pub head: usize,
    /// Visits; none if only last season's model knows the two.
    pub visits: Range<usize>,
    /// Rows.
    pub rows: Range<usize>,
}

/// Rows of one response.
#[derive(Debug, Clone)]
pub(super) struct Rows {
    pub players: usize,
    pub heads: usize,
    /// In order of players, then heads; all those of the layout.
    pub pairs: Vec<Pair>,
    /// Rows of each visit.
    pub visits: Vec<Range<usize>>,
    /// Lever features of each session.
    pub x: Vec<V7>,
    /// Mean of the response of each session.
    pub y: Vec<f64>,
    /// Effective number of shots of each session.
    pub n: Vec<f64>,
    /// Which session of the layout it is.
    pub session: Vec<usize>,
}

impl Rows {
    /// Those sessions that measured response `r`, of the days that `keep` wants.
    pub fn new(r: usize, layout: &Layout<'_>, keep: impl Fn(usize) -> bool) -> Rows {
        let wanted = |&j: &usize| keep(layout.day[j]) && layout.sessions[j].count[r] > 0.0;
        let session: Vec<usize> = (0..layout.sessions.len()).filter(wanted).collect();
        let mut visits = Vec::new();
        let mut pairs = Vec::with_capacity(layout.pairs.len());
        let mut at = 0;
        for (q, &(player, head)) in layout.pairs.iter().enumerate() {
            let (first_row, first_visit) = (at, visits.len());
            while at < session.len() && layout.pair[session[at]] == q {
                let day = layout.visit[session[at]];
                let more = session[at..]
                    .iter()
                    .take_while(|j| layout.visit[**j] == day);
                let end = at + more.count();
                visits.push(at..end);
                at = end;
            }
            pairs.push(Pair {
                player,
                head,
                visits: first_visit..visits.len(),
                rows: first_row..at,
            });
        }
        let of = |j: &usize| layout.sessions[*j];
        Rows {
            players: layout.players.len(),
            heads: layout.heads.len(),
            pairs,
            visits,
            x: session.iter().map(|j| V7::from(of(j).features)).collect(),
            y: session.iter().map(|j| of(j).mean[r]).collect(),
            n: session.iter().map(|j| of(j).count[r]).collect(),
            session,
        }
    }

    /// The same pairs without any session.
    pub fn clear(&mut self) {
        for p in &mut self.pairs {
            (p.visits, p.rows) = (0..0, 0..0);
        }
        self.visits.clear();
        self.x.clear();
        self.y.clear();
        self.n.clear();
        self.session.clear();
    }

    /// The same sessions without their levers, on one head: bare physics.
    pub fn without_levers(&self) -> Rows {
        let mut out = self.clone();
        out.x.fill(V7::zeros());
        out.heads = 1;
        for p in &mut out.pairs {
            p.head = 0;
        }
        out
    }
}
