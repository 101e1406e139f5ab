//! Add a head, a player or a build.

use super::Failure;
use super::context::{Context, source};
use crate::bench::Bench;
use crate::bench::describe::{BuildFile, Source};
use crate::bench::store::{Added, Adding};
use crate::club::Club;
use crate::head::Head;
use crate::rules::{length_limit, volume_limit};
use clap::{Args, ValueEnum};

const EXAMPLE: &str = "Example:\n  trimtab add head heron.toml kite.toml";

/// What is easily taken wrong in a description.
const BUILD_HELP: &str = "\
Head file: cg_mm = [1, -38, -3] lies 1 mm toe-ward, 38 mm behind and 3 mm below
the face centre.
  sleeve.positions_deg     where the sleeve can stand: 0 is the most upright, 90
                           the most loft, 180 the flattest, 270 the least loft.
                           Seen from the grip, the degrees go counter-clockwise
                           on a right-handed club. A left-handed one is its
                           mirror: 0 and 90 mean the same, the degrees go
                           clockwise.

Build file:
  length_in                from the butt to the sole
  balance_in               of a part: its balance point in the club, from the
                           butt; also balance_mm
  measured.face_angle_deg  right is positive for both hands: open for a right-
                           handed club, closed for a left-handed one
  measured.taken_at        \"reference\": the gauge read the head at its reference
                           (sleeve at reference_deg, nothing bent), also if
                           nothing is said; \"setting\": as [setting] says
  gauge.loft_offset_deg    by how much the gauge shows too much
";

/// Add heads, players or builds from TOML files.
///
/// A description never changes once it is in the bench: a changed club is a new build. Of several
/// files, all are added or none.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLE, after_long_help = format!("{EXAMPLE}\n\n{BUILD_HELP}"))]
pub(super) struct Add {
    /// What the files describe.
    #[arg(value_enum)]
    what: What,
    /// TOML files; - is standard input.
    #[arg(required = true, value_name = "FILE")]
    files: Vec<String>,
}

/// What became of a file, its name in the bench, and what it was.
type Done = (Added, String, Filed);

/// What a file was, as far as there is something to say of it.
enum Filed {
    Head(Box<Head>),
    Player,
    Build(Box<(BuildFile, Club)>),
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum What {
    /// A club head with its levers.
    Head,
    /// A player.
    Player,
    /// A club as it was built for a player.
    Build,
}

impl Add {
    pub fn run(self, c: &mut Context<'_, '_>) -> Result<(), Failure> {
        let mut bench = c.open()?;
        let mut texts = Vec::new();
        for file in &self.files {
            texts.push((file, c.read(file)?));
        }
        let now = c.now.clone();
        let done = bench.all_or_nothing(&now, |adding| {
            let one = |(file, text): &(&String, String)| self.one(adding, &source(file, text));
            texts.iter().map(one).collect::<Result<Vec<_>, Failure>>()
        })?;
        for (added, name, filed) in done {
            if let Filed::Head(head) = &filed {
                if let Some(beyond) = volume_limit(head) {
                    c.note(&format!("{name}: {beyond}"));
                }
            }
            if let Filed::Build(build) = filed {
                let (file, club) = *build;
                if let Some(read) = &file.swing_weight_read {
                    let computed = club.swing_weight(&club.setting);
                    c.note(&format!(
                        "{name}: swing weight read {read}, computed {computed}"
                    ));
                }
                note_doubts(c, &bench, &file, &club)?;
            }
            let what = format!("{:?}", self.what).to_lowercase();
            let new = added == Added::New;
            if c.global.json {
                let json = serde_json::json!({ "kind": what, "name": name, "new": new });
                writeln!(c.io.out, "{json}")?;
            } else {
                let was = if new { "added" } else { "was there already" };
                writeln!(c.io.out, "{what} {name} {was}")?;
            }
        }
        Ok(())
    }

    /// Adds one file.
    fn one(&self, adding: &Adding<'_>, source: &Source<'_>) -> Result<Done, Failure> {
        Ok(match self.what {
            What::Head => {
                let (added, head) = adding.head(source)?;
                (added, head.name.clone(), Filed::Head(Box::new(head)))
            }
            What::Player => {
                let (added, player) = adding.player(source)?;
                (added, player.name, Filed::Player)
            }
            What::Build => {
                let (added, build, club) = adding.build(source)?;
                (
                    added,
                    build.name.clone(),
                    Filed::Build(Box::new((build, club))),
                )
            }
        })
    }
}

/// Says what is odd about a build that was filed.
pub(super) fn note_doubts(
    c: &mut Context<'_, '_>,
    bench: &Bench,
    build: &BuildFile,
    club: &Club,
) -> Result<(), Failure> {
    for doubt in build.doubts(club, &bench.head(&build.head)?.1) {
        c.note(&doubt);
    }
    if let Some(beyond) = length_limit(club.length) {
        c.note(&format!("{}: {beyond}", build.name));
    }
    if let Some(replaced) = &build.replaces {
        let all = bench.replaced_by(replaced)?;
        if all.len() > 1 {
            let all = all.join(" and ");
            c.note(&format!("{replaced} is replaced by {all}: is that meant?"));
        }
    }
    Ok(())
}
