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
use crate::tendency::{Tendency, tendency};
use std::collections::HashSet;

/// Sessions read and summarised, in the right-handed frame.
pub(super) struct Seen {
    pub names: Vec<String>,
    pub reading: SessionReading,
    pub tendency: Tendency,
    /// Numbers of the shots in the log.
    pub numbers: Vec<i64>,
    pub conditions: Conditions,
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
    pub fn calmed(mut self, who: &Fitted) -> Result<Seen, Failure> {
        self.conditions.wind = Wind::default();
        self.reading.fly(&self.physics.range(&self.conditions));
        // What the device shows was in the wind.
        let device = std::mem::take(&mut self.tendency.device);
        self.tendency = summary(&self.reading, who, &self.names)?;
        self.tendency.device = device;
        Ok(self)
    }
}

fn summary(reading: &SessionReading, who: &Fitted, names: &[String]) -> Result<Tendency, Failure> {
    tendency(reading, who.club.head.kind, &who.goal.aim).ok_or_else(|| {
        let names = names.join(", ");
        Failure::input(format!("{names}: no shot has data that counts"))
    })
}

/// The sessions named, or those of the latest day with a build, in the same air and wind as the last
/// one: the blocks of one visit, in their order.
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
                format!("no session with build '{build}' is logged; log one, or say --miss"),
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

/// Names of the last of some sessions in order, and of those of the same day, air and wind.
pub(super) fn visit(all: &[SessionInfo]) -> Vec<String> {
    let Some(last) = all.last() else {
        return Vec::new();
    };
    let conditions = last.meta.conditions();
    let same = |s: &&SessionInfo| s.date == last.date && s.meta.conditions() == conditions;
    let together = all.iter().filter(same);
    together.map(|s| s.name.clone()).collect()
}

/// For so many days before the latest session a player counts as the same (common practice, no
/// source: half a year).
const SAME_PLAYER: i32 = 183;

/// The sessions named, or those of all days that speak of the club as it is: the latest one with the
/// build, and those of half a year before it in the same air and wind. A day of its own is the largest
/// part of what a single session leaves open. Latest first.
pub(super) fn all_days(
    bench: &Bench,
    build: &str,
    names: &[String],
) -> Result<Vec<SessionRecord>, Failure> {
    let latest = sessions(bench, build, names)?;
    let (true, Some(last)) = (names.is_empty(), latest.last()) else {
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
        days.is_ok_and(|d| d <= SAME_PLAYER) && s.meta.conditions() == conditions
    });
    all.sort_by_key(|s| std::cmp::Reverse((s.date, s.id)));
    let names: Vec<String> = all.into_iter().map(|s| s.name).collect();
    sessions(bench, build, &names)
}

/// The ball that flies as it was shown in some sessions of a player, within the physics.
pub(super) type ShownBall = Option<(Physics, AsShown)>;

/// Finds that ball.
pub(super) fn shown_ball(
    sessions: &[&[SessionRecord]],
    hand: Hand,
    physics: &Physics,
) -> ShownBall {
    let turned: Vec<Turned> = sessions.iter().flat_map(|r| Turned::all(r, hand)).collect();
    physics.as_shown(turned.iter().map(|s| (s.conditions, &s.shots[..])))
}

/// Reads sessions into the right-handed frame and summarises them, with a ball that flies as it was
/// shown in them.
pub(super) fn see(
    records: &[SessionRecord],
    who: &Fitted,
    physics: &Physics,
) -> Result<Seen, Failure> {
    let ball = shown_ball(&[records], who.hand(), physics);
    see_with(records, who, physics, &ball)
}

/// The same with a ball that is known already.
pub(super) fn see_with(
    records: &[SessionRecord],
    who: &Fitted,
    physics: &Physics,
    ball: &ShownBall,
) -> Result<Seen, Failure> {
    let turned = Turned::all(records, who.hand());
    let assumed = read(records, &turned, who, physics)?;
    let Some((physics, shown)) = ball else {
        return Ok(assumed);
    };
    let mut seen = read(records, &turned, who, physics)?;
    // How far the ball that was assumed is from the one shown is told, and warned of.
    seen.tendency.device = assumed.tendency.device;
    seen.shown = Some(*shown);
    Ok(seen)
}

/// A session in the right-handed frame.
struct Turned {
    shots: Vec<Measured>,
    conditions: Conditions,
}

impl Turned {
    fn all(records: &[SessionRecord], hand: Hand) -> Vec<Turned> {
        let one = |r: &SessionRecord| Turned {
            shots: r.shots.iter().map(|s| hand.turn(s.measured)).collect(),
            conditions: hand.turn(r.info.meta.conditions()),
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
    let mut numbers = Vec::new();
    let mut days = Vec::new();
    for (r, t) in records.iter().zip(turned) {
        let one = read_session(&t.shots, &who.club, &who.prior, physics, &t.conditions)?;
        let day = days.iter().position(|d| *d == r.info.date);
        let day = day.unwrap_or_else(|| {
            days.push(r.info.date);
            days.len() - 1
        });
        let offset = numbers.len();
        numbers.extend(r.shots.iter().map(|s| i64::from(s.number)));
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
        shown: None,
        names,
        reading,
        numbers,
    })
}
