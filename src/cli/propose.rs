//! Propose a change.

use super::Failure;
use super::context::{Context, Fitted, source};
use super::names::{Named, full_name};
use super::picture::{Picture, Scene};
use crate::bench::Bench;
use crate::bench::describe::{SettingFile, read_stock};
use crate::bench::store::NewProposal;
use crate::club::Hold;
use crate::correction::Local;
use crate::head::Setting;
use crate::proposal::{Mount, Options, propose};
use crate::report::ProposalReport;
use crate::units::{DEG, GRAM};
use clap::Args;

/// A setting in words and in the form of a build file.
pub(super) fn describe(who: &Fitted, setting: &Setting) -> (String, serde_json::Value) {
    let file = SettingFile::of(setting, &who.club.head);
    (
        setting.describe(&who.club.head),
        serde_json::to_value(file).unwrap_or(serde_json::Value::Null),
    )
}

const EXAMPLES: &str = "Examples:\n  trimtab propose --player Maren --hold-swing-weight-points 0.3\n  trimtab propose --build MV-1 --miss \"starts 5 right, curves 15 right, high\"";

/// What a parts list is.
const STOCK_HELP: &str = "\
Parts list (--stock), what is in the drawer beside what is in the club:
  heads = [\"Heronbeck\"]         heads of the bench on the rack: tried on this
                                shaft, of the same kind and hand
  hot_melt_g = 12               none if it is not said
  [[screw]]                     for ports; two ports with the same screw need
  mass_g = 9                    two
  count = 1
  [[track_weight]]              for tracks
  mass_g = 18
  count = 2
";

/// Propose the smallest change that cures a miss, from logged shots or from words alone.
///
/// Every setting that the club really has is weighed: slider, sleeve, screws, hot melt, bend.
/// Says so when the miss is within noise, when there are too few shots, or when it is not the
/// club. The proposal is filed in the bench.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES, after_long_help = format!("{EXAMPLES}\n\n{STOCK_HELP}"))]
pub(super) struct Propose {
    #[command(flatten)]
    picture: Picture,
    /// Hold the swing weight within so many points.
    #[arg(long, allow_negative_numbers = true, value_name = "POINTS")]
    hold_swing_weight_points: Option<f64>,
    /// Hold the head mass within so many grams.
    #[arg(long, allow_negative_numbers = true, value_name = "G")]
    hold_head_mass_g: Option<f64>,
    /// Hold the face angle of the head on its sole within so many degrees: how it looks.
    #[arg(long, allow_negative_numbers = true, value_name = "DEG")]
    hold_face_angle_deg: Option<f64>,
    /// Nothing that cannot be undone: no hot melt.
    #[arg(long)]
    reversible: bool,
    /// A parts list: only what is at hand is proposed, and heads on the rack are tried too. See
    /// --help of this command.
    #[arg(long, value_name = "FILE")]
    stock: Option<String>,
    /// Also show effect against ease of undoing.
    #[arg(long)]
    pareto: bool,
    /// Most levers changed at once.
    #[arg(long, value_name = "N", default_value_t = 3, value_parser = clap::value_parser!(u8).range(1..=8))]
    levers: u8,
    /// Places tried on a track that slides freely.
    #[arg(long, value_name = "N", default_value_t = 13, value_parser = clap::value_parser!(u16).range(2..=2001))]
    track_positions: u16,
    /// Predict every setting exactly; otherwise an estimate rules out what cannot come first.
    #[arg(long)]
    exhaustive: bool,
    /// Rows to show.
    #[arg(long, value_name = "N", default_value_t = 4, value_parser = clap::value_parser!(u8).range(1..=50))]
    rows: u8,
    /// Show every kind of change, also those that do not help.
    #[arg(long)]
    every_kind: bool,
    /// Search even if the answer is "nothing" or "too few shots".
    #[arg(long)]
    anyway: bool,
    /// Do not file the proposal in the bench.
    #[arg(long)]
    dry_run: bool,
}

/// A head of the bench on the player's shaft, or why not.
fn mount(bench: &Bench, scene: &Scene, name: &str) -> Result<Result<Mount, String>, Failure> {
    let who = &scene.who;
    let (file, head) = bench.head(&full_name(bench, Named::Head, name)?)?;
    let own = &who.club.head;
    let other_hand = file.hand.is_some_and(|h| h != who.hand());
    Ok(if head.name == own.name {
        Err(format!(
            "{} is on the club already: not tried from the rack",
            head.name
        ))
    } else if head.kind != own.kind {
        Err(format!(
            "{}: a {}, not a {}: not tried",
            head.name, head.kind, own.kind
        ))
    } else if other_hand {
        Err(format!(
            "{}: not for this player's hand: not tried",
            head.name
        ))
    } else {
        let learned = scene.model.as_ref();
        let correction =
            learned.map_or_else(Local::unlearned, |m| m.local(&who.player.name, &head.name));
        Ok(Mount::new(&who.club, head, correction))
    })
}

impl Propose {
    pub fn run(self, c: &mut Context<'_, '_>) -> Result<(), Failure> {
        let mut bench = c.open()?;
        let scene = self.picture.scene(c, &bench)?;
        let (mut situation, mut around) = self.picture.situation(&scene)?;
        let options = self.options()?;
        let who = &scene.who;
        if let Some(file) = &self.stock {
            let text = c.read(file)?;
            let stock = read_stock(&source(file, &text))?;
            situation.stock = Some(stock.stock());
            for name in &stock.heads {
                match mount(&bench, &scene, name)? {
                    Ok(m) => situation.rack.push(m),
                    Err(why) => around.warnings.push(why),
                }
            }
        }
        let proposal = propose(&situation, &options)?;
        let mut report = ProposalReport::new(&proposal, around, |r| {
            let other = |name: &String| situation.rack.iter().find(|m| m.club.head.name == *name);
            match r.other_head.as_ref().and_then(other) {
                Some(m) => (
                    format!("{}: {}", m.club.head.name, r.setting.describe(&m.club.head)),
                    serde_json::Value::Null,
                ),
                None => describe(who, &r.setting),
            }
        });
        if !self.dry_run {
            let body = serde_json::to_value(&report)
                .map_err(|e| Failure::input(format!("the proposal cannot be filed: {e}")))?;
            report.proposal = Some(bench.add_proposal(&NewProposal {
                player: &who.player.name,
                build: &who.build.name,
                name: report.answer,
                body: &body,
                created_at: &c.now,
            })?);
        }
        c.show(&report)
    }

    fn options(&self) -> Result<Options, Failure> {
        let positive = |name: &str, v: Option<f64>| match v {
            Some(x) if !(x >= 0.0 && x.is_finite()) => {
                let allowed = "a tolerance, how far it may move either way: must be 0 or more";
                Err(Failure::usage(format!("--{name} {x}: {allowed}")))
            }
            v => Ok(v),
        };
        let mut options = Options {
            hold: Hold {
                swing_weight_points: positive(
                    "hold-swing-weight-points",
                    self.hold_swing_weight_points,
                )?,
                head_mass: positive("hold-head-mass-g", self.hold_head_mass_g)?.map(|g| g * GRAM),
                face_angle: positive("hold-face-angle-deg", self.hold_face_angle_deg)?
                    .map(|d| d * DEG),
                reversible_only: self.reversible,
            },
            rows: usize::from(self.rows),
            every_kind: self.every_kind,
            anyway: self.anyway,
            exhaustive: self.exhaustive,
            pareto: self.pareto,
            seed: self.picture.seed,
            ..Options::default()
        };
        options.catalogue.levers = usize::from(self.levers);
        options.catalogue.track_positions = usize::from(self.track_positions);
        Ok(options)
    }
}
