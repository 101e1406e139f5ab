//! The picture of a player with a build, from logged shots or from words.

use super::Failure;
use super::args::Weather;
use super::context::{Context, Fitted, fitted_in, local, model};
use super::visit::{Seen, see_all_days};
use crate::bench::Bench;
use crate::bench::describe::AimFile;
use crate::blame::blame;
use crate::correction::Model;
use crate::miss;
use crate::physics::Physics;
use crate::proposal::{Evidence, Options, Situation};
use crate::report::{
    Around, FlownReport, Understood, Wanted, blame_sentence, device_warnings, tidy, wind_warning,
};
use clap::Args;

/// Where the picture of the player comes from.
#[derive(Debug, Clone, Args)]
pub(super) struct Picture {
    /// The player [default: that of the build; the only one of the bench].
    #[arg(long, value_name = "NAME")]
    pub player: Option<String>,
    /// The build [default: that of the session; the player's latest].
    #[arg(long, value_name = "NAME")]
    pub build: Option<String>,
    /// Sessions with that build, may be repeated [default: the latest, and those of half a year
    /// before it in the same air].
    #[arg(long, value_name = "NAME", conflicts_with = "miss")]
    pub session: Vec<String>,
    /// The miss in words instead of logged shots.
    #[arg(long, value_name = "WORDS")]
    pub miss: Option<String>,
    /// Take the wind out: fly the logged shots again in calm air, and seek settings for that.
    #[arg(long, conflicts_with = "miss")]
    pub calm: bool,
    /// Bare physics, without the learned correction.
    #[arg(long)]
    pub no_correction: bool,
    /// Model to use [default: the latest].
    #[arg(long, value_name = "VERSION", conflicts_with = "no_correction")]
    pub model: Option<i64>,
    /// Deliveries that stand for the player.
    #[arg(long, value_name = "N", default_value_t = 200, value_parser = clap::value_parser!(u16).range(20..=5000))]
    pub deliveries: u16,
    /// Seed of the draws.
    #[arg(
        long,
        allow_negative_numbers = true,
        value_name = "N",
        default_value_t = 1
    )]
    pub seed: u32,
    #[command(flatten)]
    pub weather: Weather,
    #[command(flatten)]
    pub aim: AimFile,
}

/// A picture with everything that it was made from.
pub(super) struct Scene {
    pub who: Fitted,
    pub physics: Physics,
    pub model: Option<Model>,
    told: Told,
}

/// What tells of the miss.
enum Told {
    /// Logged shots.
    Shots(Box<Seen>),
    /// Words.
    Words(String),
}

impl Told {
    fn shots(&self) -> Option<&Seen> {
        match self {
            Told::Shots(seen) => Some(seen),
            Told::Words(_) => None,
        }
    }
}

impl Picture {
    pub fn scene(&self, c: &Context<'_, '_>, bench: &Bench) -> Result<Scene, Failure> {
        let (build, player) = (self.build.as_deref(), self.player.as_deref());
        let mut who = fitted_in(bench, build, player, &self.session)?;
        self.aim.check().map_err(Failure::usage)?;
        let aim = self.aim.si().over(&who.player.aim());
        who.goal = aim.goal(who.hand());
        let told = if let Some(words) = &self.miss {
            Told::Words(words.clone())
        } else {
            if self.weather != Weather::default() {
                return Err(Failure::usage(
                    "air, wind and turf are those of the logged session; \
                     they can be said only together with --miss",
                ));
            }
            let seen = see_all_days(bench, &who, &self.session, &c.physics()?)?;
            Told::Shots(Box::new(match self.calm {
                true => seen.calmed(&who)?,
                false => seen,
            }))
        };
        let shown = told.shots().map(|s| s.physics.clone());
        Ok(Scene {
            physics: shown.map_or_else(|| c.physics(), Ok)?,
            told,
            model: if self.no_correction {
                None
            } else {
                model(bench, self.model)?
            },
            who,
        })
    }

    /// The situation, what to say of it, and what it was made from.
    pub fn situation<'s>(&self, scene: &'s Scene) -> Result<(Situation<'s>, Around), Failure> {
        let who = &scene.who;
        let correction = local(scene.model.as_ref(), who);
        let draws = usize::from(self.deliveries);
        let mut session_names = Vec::new();
        let mut warnings = Vec::new();
        let mut cause = None;
        let mut wind_across = false;
        let (situation, evidence) = match &scene.told {
            Told::Words(words) => {
                let miss = who.hand().turn(miss::parse(words, who.hand())?);
                let conditions = who.hand().turn(self.weather.meta()?.conditions());
                let s = Situation::from_words(
                    &who.club,
                    &scene.physics,
                    conditions,
                    &miss,
                    &who.prior,
                    who.goal,
                    correction,
                    draws,
                    self.seed,
                )?;
                (s, format!("the words \"{words}\""))
            }
            Told::Shots(seen) => {
                let s = Situation::from_session(
                    &who.club,
                    &scene.physics,
                    seen.conditions,
                    &seen.reading,
                    &seen.tendency,
                    who.goal,
                    correction,
                    draws,
                    self.seed,
                )?;
                let shots = seen.tendency.shots;
                session_names.clone_from(&seen.names);
                warnings = device_warnings(&seen.tendency, who.hand());
                warnings.extend(seen.warnings());
                let causes = blame(
                    &seen.reading,
                    &seen.tendency,
                    &who.club,
                    &scene.physics,
                    &seen.conditions,
                    &who.goal.aim,
                )?;
                let wind = wind_warning(&causes, Options::default().worth);
                wind_across = wind.is_some();
                warnings.extend(wind);
                cause = Some(blame_sentence(&causes, who.hand()));
                let calmed = if self.calm {
                    ", flown again in calm air"
                } else {
                    ""
                };
                let names = seen.names.join(", ");
                (s, format!("{shots} shots in {names}{calmed}"))
            }
        };
        let around = Around {
            player: who.player.name.clone(),
            hand: who.hand(),
            build: who.build.name.clone(),
            head: who.build.head.clone(),
            evidence,
            understood: match &situation.evidence {
                Evidence::Words(w) => Some(Understood::new(w, &situation.goal, who.hand())),
                Evidence::Shots(_) => None,
            },
            aim_start_m: tidy(situation.goal.aim.start * who.hand().sign()),
            aim_curve_m: tidy(situation.goal.aim.curve * who.hand().sign()),
            wanted: Wanted::new(&who.goal, who.hand()),
            miss_in: situation.goal.asked_for(),
            attitude: scene.physics.attitude,
            flown_as_shown: scene
                .told
                .shots()
                .and_then(|s| s.shown)
                .map(FlownReport::from),
            calm: self.calm,
            wind_across,
            sessions: session_names,
            warnings,
            cause,
            model_version: scene.model.as_ref().map(|m| m.version),
            correction_in_use: scene.model.as_ref().map_or_else(Vec::new, |m| {
                let used = m.responses.iter().filter(|r| r.in_use);
                used.map(|r| r.response.clone()).collect()
            }),
        };
        Ok((situation, around))
    }
}
