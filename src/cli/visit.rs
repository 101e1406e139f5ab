//! Which logged sessions speak of a club, and what they say.

use super::Failure;
use super::context::Fitted;
use super::names::{Named, full_name};
use crate::adjusted::Side;
use crate::bench::store::{Bench, SessionFilter, SessionInfo, SessionRecord};
use crate::delivery::{SessionReading, read_session};
use crate::flight::{AsShown, Conditions, Wind};
use crate::hand::Hand;
use crate::physics::Physics;
use crate::quantity::Measured;
use crate::report::{mixed_air_warning, other_days_warning};
use crate::tendency::{Tendency, tendency};
use jiff::civil::Date;
use std::cmp::Reverse;
use std::collections::HashSet;

/// Sessions read and summarised, in the right-handed frame.
pub(super) struct Seen {
    pub names: Vec<String>,
    pub reading: SessionReading,
    pub tendency: Tendency,
    /// Name of the session and number in the log of each shot.
    pub shots: Vec<(String, i64)>,
    pub conditions: Conditions,
    /// Not all were hit in the same air and wind: they were flown again in `conditions`.
    pub flown_again: bool,
    /// Sessions of earlier days on which the ball did something else.
    pub left_out: Vec<String>,
    /// With the ball that they were read with.
    pub physics: Physics,
    /// How that ball differs from the one assumed, if the sessions show it.
    pub shown: Option<AsShown>,
}

impl Seen {
    /// As one side of an adjusted comparison.
    pub fn side(&self) -> Side<'_> {
        Side {
            reading: &self.reading,
            tendency: &self.tendency,
        }
    }

    /// The same shots flown again without wind.
    pub fn calmed(self, who: &Fitted) -> Result<Seen, Failure> {
        let calm = Conditions {
            wind: Wind::default(),
            ..self.conditions
        };
        self.flown_in(calm, who)
    }

    /// The same shots flown again.
    fn flown_in(mut self, conditions: Conditions, who: &Fitted) -> Result<Seen, Failure> {
        self.conditions = conditions;
        self.reading.fly(&self.physics.range(&self.conditions));
        // What the device shows was in the air of the day.
        let device = std::mem::take(&mut self.tendency.device);
        self.tendency = summary(&self.reading, who, &self.names)?;
        self.tendency.device = device;
        Ok(self)
    }

    /// What to mind of which sessions these are.
    pub fn warnings(&self) -> Vec<String> {
        let air = self
            .flown_again
            .then(|| mixed_air_warning(&self.conditions));
        let others = other_days_warning(&self.left_out);
        air.into_iter().chain(others).collect()
    }
}

fn summary(reading: &SessionReading, who: &Fitted, names: &[String]) -> Result<Tendency, Failure> {
    tendency(reading, who.club.head.kind, &who.goal.aim).ok_or_else(|| {
        let names = names.join(", ");
        Failure::input(format!("{names}: no shot has data that counts"))
    })
}

/// The sessions named, or those of the latest day with a build: the blocks of one visit, in their
/// order.
pub(super) fn sessions(
    bench: &Bench,
    build: &str,
    names: &[String],
) -> Result<Vec<SessionRecord>, Failure> {
    let names = if names.is_empty() {
        let latest = latest_visit(bench, build)?;
        if latest.is_empty() {
            return Err(Failure::new(
                crate::bench::ErrorKind::NotFound,
                format!(
                    "no session with build '{build}' is logged: log one; propose and whatif take --miss \
                     instead"
                ),
            ));
        }
        latest
    } else {
        let whole = |n: &String| full_name(bench, Named::Session, n);
        names.iter().map(whole).collect::<Result<_, _>>()?
    };
    let mut out = Vec::new();
    let mut once = HashSet::new();
    // A session that is named twice counts once.
    for n in names.iter().filter(|n| once.insert(n.as_str())) {
        let record = bench.session(n)?;
        if record.info.build != build {
            return Err(Failure::usage(format!(
                "session '{n}' is with build '{}', not '{build}'",
                record.info.build
            )));
        }
        if let Some(at) = &record.info.withdrawn_at {
            return Err(Failure::new(
                crate::bench::ErrorKind::Conflict,
                format!("session '{n}' was withdrawn at {at}"),
            ));
        }
        out.push(record);
    }
    Ok(out)
}

/// Names of the sessions of the latest visit with a build; none if none is logged.
pub(super) fn latest_visit(bench: &Bench, build: &str) -> Result<Vec<String>, Failure> {
    let filter = SessionFilter {
        build: Some(build.into()),
        ..SessionFilter::default()
    };
    let mut all = bench.sessions(&filter)?;
    all.sort_by_key(|s| (s.date, s.id));
    Ok(visit(&all))
}

/// Names of the last of some sessions in order, and of those of the same day.
pub(super) fn visit(all: &[SessionInfo]) -> Vec<String> {
    let day = all.last().map(|s| s.date);
    let together = all.iter().filter(|s| Some(s.date) == day);
    together.map(|s| s.name.clone()).collect()
}

/// For so many days before the latest session a player counts as the same (common practice, no
/// source: half a year).
const SAME_PLAYER: i32 = 183;

/// The sessions named, or those of all days that speak of the club as it is: the latest day with the
/// build, and those of half a year before it in the same air and wind. A day of its own is the largest
/// part of what a single session leaves open. Latest first.
fn all_days(bench: &Bench, build: &str, names: &[String]) -> Result<Vec<SessionRecord>, Failure> {
    let mut latest = sessions(bench, build, names)?;
    latest.sort_by_key(|r| Reverse((r.info.date, r.info.id)));
    let (true, Some(last)) = (names.is_empty(), latest.first()) else {
        return Ok(latest);
    };
    let conditions = last.info.meta.conditions();
    let filter = SessionFilter {
        build: Some(build.into()),
        ..SessionFilter::default()
    };
    let mut all = bench.sessions(&filter)?;
    all.retain(|s| {
        let days = last.info.date.since(s.date).map(|span| span.get_days());
        let alike = || s.meta.conditions() == conditions;
        s.date == last.info.date || days.is_ok_and(|d| d <= SAME_PLAYER) && alike()
    });
    all.sort_by_key(|s| Reverse((s.date, s.id)));
    let names: Vec<String> = all.into_iter().map(|s| s.name).collect();
    sessions(bench, build, &names)
}

/// The sessions named, or all that speak of the club as it is ([`all_days`]), but for those of
/// earlier days on which the ball did something else than on the latest one.
pub(super) fn see_all_days(
    bench: &Bench,
    who: &Fitted,
    names: &[String],
    physics: &Physics,
) -> Result<Seen, Failure> {
    let mut records = all_days(bench, &who.build.name, names)?;
    let mut left_out = Vec::new();
    if names.is_empty() {
        let basis = Basis::of(&[&records], who.hand(), physics);
        let mut latest: Option<Tendency> = None;
        let mut kept = HashSet::new();
        for day in records.chunk_by(|a, b| a.info.date == b.info.date) {
            // A day without data that count says nothing else.
            let Ok(seen) = see_on(day, who, physics, &basis) else {
                continue;
            };
            if latest
                .get_or_insert(seen.tendency.clone())
                .is_of_one_swing_with(&seen.tendency)
            {
                kept.insert(day[0].info.date);
            } else {
                left_out.extend(seen.names);
            }
        }
        // If none tells anything, what is wrong is said of all.
        records.retain(|r| kept.is_empty() || kept.contains(&r.info.date));
    }
    let mut seen = see(&records, who, physics)?;
    seen.left_out = left_out;
    Ok(seen)
}

/// What sessions are read with, to be held against one another.
pub(super) struct Basis {
    /// The ball that flies as it was shown in them, within the physics.
    ball: Option<(Physics, AsShown)>,
    /// The air in which all are flown again, if they were hit in different ones.
    air: Option<Conditions>,
}

impl Basis {
    /// Of some sessions of a player.
    pub fn of(sessions: &[&[SessionRecord]], hand: Hand, physics: &Physics) -> Basis {
        let turned: Vec<Turned> = sessions.iter().flat_map(|r| Turned::all(r, hand)).collect();
        let latest = turned.iter().max_by_key(|t| t.when).map(|t| t.conditions);
        let all = || turned.iter().map(|t| t.conditions);
        let air = latest.filter(|air| all().any(|c| c != *air)).map(|air| {
            let wind = match all().all(|c| c.wind == air.wind) {
                true => air.wind,
                false => Wind::default(),
            };
            Conditions { wind, ..air }
        });
        Basis {
            ball: physics.as_shown(turned.iter().map(|s| (s.conditions, &s.shots[..]))),
            air,
        }
    }
}

/// Reads sessions into the right-handed frame and summarises them: with a ball that flies as it was
/// shown in them, and in one air and wind.
pub(super) fn see(
    records: &[SessionRecord],
    who: &Fitted,
    physics: &Physics,
) -> Result<Seen, Failure> {
    let basis = Basis::of(&[records], who.hand(), physics);
    see_on(records, who, physics, &basis)
}

/// The same with a ball and an air that are known already.
pub(super) fn see_on(
    records: &[SessionRecord],
    who: &Fitted,
    physics: &Physics,
    basis: &Basis,
) -> Result<Seen, Failure> {
    let turned = Turned::all(records, who.hand());
    let read = |physics| -> Result<Seen, Failure> {
        let mut seen = read(records, &turned, who, physics)?;
        if let Some(air) = basis.air {
            seen = seen.flown_in(air, who)?;
            seen.flown_again = true;
        }
        Ok(seen)
    };
    let assumed = read(physics)?;
    let Some((physics, shown)) = &basis.ball else {
        return Ok(assumed);
    };
    let mut seen = read(physics)?;
    // How far the ball that was assumed is from the one shown is told, and warned of.
    seen.tendency.device = assumed.tendency.device;
    seen.shown = Some(*shown);
    Ok(seen)
}

/// A session in the right-handed frame.
struct Turned {
    shots: Vec<Measured>,
    conditions: Conditions,
    /// Day and number, by which the later of two is known.
    when: (Date, i64),
}

impl Turned {
    fn all(records: &[SessionRecord], hand: Hand) -> Vec<Turned> {
        let one = |r: &SessionRecord| Turned {
            shots: r.shots.iter().map(|s| hand.turn(s.measured)).collect(),
            conditions: hand.turn(r.info.meta.conditions()),
            when: (r.info.date, r.info.id),
        };
        records.iter().map(one).collect()
    }
}

fn read(
    records: &[SessionRecord],
    turned: &[Turned],
    who: &Fitted,
    physics: &Physics,
) -> Result<Seen, Failure> {
    let mut reading: Option<SessionReading> = None;
    let mut shots = Vec::new();
    let mut days = Vec::new();
    for (r, t) in records.iter().zip(turned) {
        let one = read_session(&t.shots, &who.club, &who.prior, physics, &t.conditions)?;
        let day = days.iter().position(|d| *d == r.info.date);
        let day = day.unwrap_or_else(|| {
            days.push(r.info.date);
            days.len() - 1
        });
        let offset = shots.len();
        let session = || r.info.name.clone();
        shots.extend(r.shots.iter().map(|s| (session(), i64::from(s.number))));
        reading = Some(match reading {
            None => one,
            Some(first) => first.joined(one, offset, day),
        });
    }
    let names: Vec<String> = records.iter().map(|r| r.info.name.clone()).collect();
    let (Some(reading), Some(first)) = (reading, turned.first()) else {
        return Err(Failure::usage("no session is named"));
    };
    Ok(Seen {
        tendency: summary(&reading, who, &names)?,
        conditions: first.conditions,
        physics: physics.clone(),
        flown_again: false,
        left_out: Vec::new(),
        shown: None,
        names,
        reading,
        shots,
    })
}
