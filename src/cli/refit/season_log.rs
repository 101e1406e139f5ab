//! The log of a season: every thread reads sessions and boils them down, one at a time.

use crate::bench::Bench;
use crate::bench::describe::PlayerFile;
use crate::bench::store::SessionFilter;
use crate::cli::Failure;
use crate::correction::{SessionSummary, Summariser};
use crate::hand::Hand;
use crate::head::Head;
use crate::physics::Physics;
use crate::priors;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::collections::HashMap;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// Sessions that a thread takes at a time.
const AT_ONCE: usize = 64;

/// The summaries of all sessions that the filter wants, in the order of the log.
pub fn summaries(
    bench: &Bench,
    filter: &SessionFilter,
    builds: &Builds<'_>,
) -> Result<Vec<SessionSummary>, Failure> {
    let ids = bench.session_ids(filter)?;
    let progress = Progress::new(ids.len() as u64);
    let pieces: Vec<&[i64]> = ids.chunks(AT_ONCE).collect();
    let (door, next) = (bench.door(), AtomicUsize::new(0));
    // Each thread's pieces with their numbers, and where it failed.
    let done = rayon::broadcast(|_| {
        let (mut summaries, mut number) = (Vec::new(), 0);
        let mut read = || -> Result<(), Failure> {
            let bench = door.open()?;
            let mut reader = Reader::new(&bench, builds);
            loop {
                number = next.fetch_add(1, Ordering::Relaxed);
                let Some(piece) = pieces.get(number) else {
                    return Ok(());
                };
                summaries.push((number, reader.summaries(filter, piece)?));
                progress.step(piece.len() as u64);
            }
        };
        let failed = read().err();
        (summaries, failed.map(|e| (number, e)))
    });
    let (mut all, mut failed) = (Vec::new(), Vec::new());
    for (summaries, failure) in done {
        all.extend(summaries);
        failed.extend(failure);
    }
    // Pieces are given out in order: of those that fail, the first one is always among them.
    if let Some((_, e)) = failed.into_iter().min_by_key(|(number, _)| *number) {
        return Err(e);
    }
    all.sort_by_key(|(number, _)| *number);
    let mut in_order = Vec::with_capacity(ids.len());
    in_order.extend(all.into_iter().flat_map(|(_, piece)| piece));
    Ok(in_order)
}

/// The builds of a season, each read by the thread that meets it first.
pub struct Builds<'p> {
    physics: &'p Physics,
    read: Mutex<HashMap<String, Arc<Build<'p>>>>,
}

/// A build made ready for its sessions.
pub struct Build<'p> {
    pub hand: Hand,
    pub club: Summariser<'p>,
}

impl<'p> Builds<'p> {
    pub fn new(physics: &'p Physics) -> Builds<'p> {
        Builds {
            physics,
            read: Mutex::default(),
        }
    }

    fn read(&self) -> MutexGuard<'_, HashMap<String, Arc<Build<'p>>>> {
        self.read.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// A bench as one thread reads it, with the heads and players that it has met.
pub struct Reader<'a, 'p> {
    bench: &'a Bench,
    builds: &'a Builds<'p>,
    heads: HashMap<String, Head>,
    players: HashMap<String, PlayerFile>,
}

impl<'a, 'p> Reader<'a, 'p> {
    pub fn new(bench: &'a Bench, builds: &'a Builds<'p>) -> Reader<'a, 'p> {
        Reader {
            bench,
            builds,
            heads: HashMap::new(),
            players: HashMap::new(),
        }
    }

    pub fn build(&mut self, name: &str) -> Result<Arc<Build<'p>>, Failure> {
        if let Some(known) = self.builds.read().get(name) {
            return Ok(known.clone());
        }
        let (file, club) = self.bench.build_among(name, &mut self.heads)?;
        if !self.players.contains_key(&file.player) {
            let player = self.bench.player(&file.player)?;
            self.players.insert(file.player.clone(), player);
        }
        let player = &self.players[&file.player];
        let prior = priors::player_at_speed(&club.head, player.head_speed());
        let build = Arc::new(Build {
            hand: player.hand,
            club: Summariser::new(&club, prior, self.builds.physics)?,
        });
        self.builds.read().insert(name.to_string(), build.clone());
        Ok(build)
    }

    /// The summaries of a piece of the log: the ids of some sessions in a row.
    fn summaries(
        &mut self,
        filter: &SessionFilter,
        ids: &[i64],
    ) -> Result<Vec<SessionSummary>, Failure> {
        let filter = SessionFilter {
            ids: ids.first().copied().zip(ids.last().copied()),
            ..filter.clone()
        };
        let (bench, mut summaries) = (self.bench, Vec::with_capacity(ids.len()));
        bench.each_session(&filter, |s, shots| -> Result<(), Failure> {
            let build = self.build(&s.build)?;
            for m in &mut *shots {
                *m = s.hand.turn(*m);
            }
            summaries.push(build.club.summary(
                [&s.name, &s.player, &s.head],
                &s.date.to_string(),
                shots,
                &s.hand.turn(s.meta.conditions()),
            ));
            Ok(())
        })?;
        Ok(summaries)
    }
}

/// A bar that shows itself only when the work takes more than a second, on a terminal.
struct Progress {
    bar: ProgressBar,
    since: Instant,
}

impl Progress {
    fn new(total: u64) -> Progress {
        let bar = ProgressBar::with_draw_target(Some(total), ProgressDrawTarget::hidden());
        if let Ok(style) =
            ProgressStyle::with_template("{wide_bar} {pos}/{len} sessions, {eta} left")
        {
            bar.set_style(style);
        }
        Progress {
            bar,
            since: Instant::now(),
        }
    }

    fn step(&self, sessions: u64) {
        if self.bar.is_hidden() && self.since.elapsed() > Duration::from_secs(1) {
            self.bar.set_draw_target(ProgressDrawTarget::stderr());
        }
        self.bar.inc(sessions);
    }
}
