//! A season before the trial: workshops log their players' sessions with varied settings, and each
//! fits its correction.

use crate::club::TrueClub;
use crate::device::{self, Day};
use crate::draws::Draws;
use crate::trial::Plan;
use crate::truth::{Player, World};
use rayon::prelude::*;
use trimtab::club::Club;
use trimtab::correction::{FitOptions, Local, Model, Season, SessionSummary, fit, summarise};
use trimtab::flight::Conditions;
use trimtab::head::SettingError;
use trimtab::physics::Physics;
use trimtab::priors;
use trimtab::proposal::{Catalogue, candidates};
use trimtab::quantity::Measured;

/// Players of one workshop.
const WORKSHOP: usize = 20;
/// Shots of a session.
const SHOTS: usize = 15;

/// What a season leaves of a player.
pub struct Taught {
    /// The correction for this player and head.
    pub correction: Local,
    /// The shots of the sessions with the club as it is, one after the other, real-world frame.
    pub shots: Vec<Vec<Measured>>,
}

/// What the season taught, for each player: as many workshops as it takes, each on its own.
///
/// # Errors
/// If a setting is not one that its head has.
pub fn taught(
    world: &World,
    players: &[Player],
    clubs: &[Club],
    physics: &Physics,
    plan: &Plan,
) -> Result<Vec<Taught>, SettingError> {
    let workshops: Vec<Vec<Taught>> = players
        .par_chunks(WORKSHOP)
        .enumerate()
        .map(|(w, mine)| {
            let (mut sessions, mut shots) = (Vec::new(), Vec::new());
            for (i, player) in mine.iter().enumerate() {
                let who = w * WORKSHOP + i;
                let (summaries, plain) =
                    visits(world, player, who, &clubs[player.head], physics, plan)?;
                sessions.extend(summaries);
                shots.push(plain);
            }
            let model = fit(
                &sessions,
                None,
                Season::default(),
                1,
                &FitOptions::default(),
            )
            .ok();
            let local = |p: &Player| {
                let head = &clubs[p.head].head.name;
                let learned = |m: &Model| m.local(&p.name, head);
                model.as_ref().map_or_else(Local::unlearned, learned)
            };
            Ok(mine
                .iter()
                .zip(shots)
                .map(|(p, shots)| Taught {
                    correction: local(p),
                    shots,
                })
                .collect())
        })
        .collect::<Result<_, SettingError>>()?;
    Ok(workshops.into_iter().flatten().collect())
}

/// A player's sessions: each visit one as the club is and one with up to two levers elsewhere.
fn visits(
    world: &World,
    player: &Player,
    who: usize,
    club: &Club,
    physics: &Physics,
    plan: &Plan,
) -> Result<(Vec<SessionSummary>, Vec<Vec<Measured>>), SettingError> {
    let head = &club.head;
    let two = Catalogue {
        levers: 2,
        ..Catalogue::default()
    };
    let settings = candidates(head, &head.reference, &two);
    let mut z = Draws::new(plan.seed, who as u64, 2);
    let (mut out, mut plain) = (Vec::new(), Vec::new());
    for visit in 0..plan.visits {
        let day = Day::draw(&mut z, plan.day);
        let changed = &settings[z.below(settings.len())];
        for setting in [&head.reference, changed] {
            let club = Club {
                setting: setting.clone(),
                ..club.clone()
            };
            let truth = TrueClub::new(world, player, head, setting)?;
            let logged = device::session(&truth, player, &day, SHOTS, &mut z);
            let shots: Vec<Measured> = logged.iter().map(|m| player.hand.turn(*m)).collect();
            if *setting == head.reference {
                plain.push(logged);
            }
            let name = format!("{} {visit} {}", player.name, out.len() % 2);
            out.push(summarise(
                [&name, &player.name, &head.name],
                &format!("2026-{:02}-{:02}", 1 + visit % 12, 1 + who % 28),
                &shots,
                &club,
                &priors::player(head),
                physics,
                &Conditions::default(),
            )?);
        }
    }
    Ok((out, plain))
}
