//! Record the change that was made.

use super::Failure;
use super::add::note_doubts;
use super::args::setting_file;
use super::context::{Context, Fitted, fitted, source};
use crate::bench::describe::{BuildFile, GaugeFile, MeasuredFile, SettingFile, TakenAt};
use crate::bench::store::Added;
use crate::head::Setting;
use crate::hosel::{Attitude, angle_change};
use crate::report::Page;
use crate::units::DEG;
use clap::{ArgGroup, Args};

/// A reading that is farther than this from what is expected is doubted, deg (common practice, no
/// source: gauges repeat within some tenths).
const DOUBTED_READING_DEG: f64 = 1.0;

/// Record the change that was made: a new as-built that replaces the old one.
#[derive(Debug, Args)]
#[command(
    override_usage = "trimtab rebuild --build <NAME> --as <NAME> [OPTIONS]\n       \
                      <--proposal <N>|--set <LEVER=VALUE>>",
    group(ArgGroup::new("change").required(true).multiple(true).args(["proposal", "set"])),
    after_help = "Examples:\n  trimtab rebuild --build MV-1 --as MV-2 --proposal 3 --swing-weight-read D2.5\n  trimtab rebuild --build MV-1 --as MV-2 --set heel-toe=20%"
)]
pub(super) struct Rebuild {
    /// The build that was changed.
    #[arg(long, value_name = "NAME")]
    build: String,
    /// Name of the new build.
    #[arg(long = "as", value_name = "NAME")]
    new_name: String,
    /// The proposal that was followed.
    #[arg(long, value_name = "N", conflicts_with = "set")]
    proposal: Option<i64>,
    /// Its row.
    #[arg(long, value_name = "N", default_value_t = 1)]
    row: usize,
    /// A lever and where it went, may be repeated; see whatif.
    #[arg(long, value_name = "LEVER=VALUE")]
    set: Vec<String>,
    /// The day [default: today].
    #[arg(long, value_name = "YYYY-MM-DD")]
    date: Option<jiff::civil::Date>,
    /// Swing weight as the scale shows it now.
    #[arg(long, value_name = "D2.5")]
    swing_weight_read: Option<String>,
    /// Loft as the gauge shows it now, levers as they stand.
    #[arg(long, allow_negative_numbers = true, value_name = "DEG")]
    loft_deg: Option<f64>,
    /// Lie as the gauge shows it now, levers as they stand.
    #[arg(long, allow_negative_numbers = true, value_name = "DEG")]
    lie_deg: Option<f64>,
    /// Face angle as the gauge shows it now, levers as they stand, right positive.
    #[arg(long, allow_negative_numbers = true, value_name = "DEG")]
    face_angle_deg: Option<f64>,
    /// The gauge, if anything was read [default: that of the old build].
    #[arg(long, value_name = "NAME")]
    gauge: Option<String>,
    /// Day of the gauge's last check [default: today].
    #[arg(long, value_name = "YYYY-MM-DD", requires = "gauge")]
    gauge_checked_on: Option<jiff::civil::Date>,
    /// By how much it shows too much loft.
    #[arg(
        long,
        value_name = "DEG",
        requires = "gauge",
        allow_negative_numbers = true,
        default_value_t = 0.0
    )]
    gauge_loft_offset_deg: f64,
    /// By how much it shows too much lie.
    #[arg(
        long,
        value_name = "DEG",
        requires = "gauge",
        allow_negative_numbers = true,
        default_value_t = 0.0
    )]
    gauge_lie_offset_deg: f64,
    /// Anything else.
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

impl Rebuild {
    pub fn run(self, c: &mut Context<'_, '_>) -> Result<(), Failure> {
        let mut bench = c.open()?;
        let who = fitted(&bench, Some(&self.build), None)?;
        let head = &who.club.head;
        let change = match self.proposal {
            Some(id) => {
                let p = bench.proposal(id)?;
                if p.build != who.build.name {
                    return Err(Failure::usage(format!(
                        "proposal {id} is for build '{}', not '{}'",
                        p.build, who.build.name
                    )));
                }
                setting_of_row(&p.body, self.row)?
            }
            None => setting_file(&self.set, head)?,
        };
        let setting = change
            .apply(head, &who.club.setting)
            .map_err(Failure::input)?;
        let built = who.build.built_on.parse();
        if let (Some(date), Ok(built)) = (self.date, built) {
            let built: jiff::civil::Date = built;
            if date < built {
                return Err(Failure::usage(format!(
                    "--date {date}: build '{}' was built later, on {built}",
                    who.build.name
                )));
            }
        }
        let today = c.today().to_string();
        // Days in this form sort as they follow one another.
        if let Some(date) = self.date.filter(|d| d.to_string() > today) {
            return Err(Failure::usage(format!(
                "--date {date}: is still to come, today is {today}; nothing was built"
            )));
        }
        let day = |d: Option<jiff::civil::Date>| d.map_or(today.clone(), |d| d.to_string());
        let new = BuildFile {
            name: self.new_name.clone(),
            built_on: day(self.date),
            swing_weight_read: self.swing_weight_read.clone(),
            replaces: Some(who.build.name.clone()),
            note: self.note.clone(),
            measured: self.measured(&who, &setting, c.global.attitude.into()),
            gauge: match &self.gauge {
                Some(name) => Some(GaugeFile {
                    name: name.clone(),
                    checked_on: day(self.gauge_checked_on),
                    loft_offset_deg: self.gauge_loft_offset_deg,
                    lie_offset_deg: self.gauge_lie_offset_deg,
                    repeatability_deg: None,
                }),
                None => who.build.gauge.clone(),
            },
            setting: SettingFile::of(&setting, head),
            ..who.build.clone()
        };
        let text = new.to_toml();
        let what = format!("new build '{}'", self.new_name);
        let link = self.proposal.map(|id| (id, self.row as i64));
        let (_, file, club) = bench.all_or_nothing(&c.now, |adding| {
            let (added, file, club) = adding.build(&source(&what, &text))?;
            if let (Some((id, row)), Added::New) = (link, added) {
                adding.followed(&file.name, id, row)?;
            }
            Ok::<_, Failure>((added, file, club))
        })?;
        note_doubts(c, &bench, &file, &club)?;
        for doubt in self.surprises(&who, &setting) {
            c.note(&doubt);
        }
        if setting == who.club.setting {
            c.note(&format!(
                "no lever moved: all stand as in '{}'",
                who.build.name
            ));
        }
        let computed = club.swing_weight(&club.setting).to_string();
        let words = club.setting.describe(&club.head);
        if c.global.json {
            let json = serde_json::json!({
                "build": file.name, "replaces": who.build.name, "setting": words,
                "proposal": link.map(|l| l.0), "row": link.map(|l| l.1),
                "swing_weight_computed": computed, "swing_weight_read": file.swing_weight_read,
            });
            writeln!(c.io.out, "{json}")?;
        } else {
            let mut page = Page::new(c.units());
            page.line(&format!(
                "build {} replaces {}: {words}",
                file.name, who.build.name
            ));
            let read = file
                .swing_weight_read
                .map_or(String::new(), |r| format!(", read {r}"));
            page.line(&format!("swing weight computed {computed}{read}"));
            c.io.out.write_all(page.into_text().as_bytes())?;
        }
        Ok(())
    }

    /// Offsets of the gauge that the new build will name, deg: loft and lie.
    fn gauge_offsets(&self, old: &Fitted) -> (f64, f64) {
        match (&self.gauge, &old.build.gauge) {
            (Some(_), _) => (self.gauge_loft_offset_deg, self.gauge_lie_offset_deg),
            (None, Some(g)) => (g.loft_offset_deg, g.lie_offset_deg),
            (None, None) => (0.0, 0.0),
        }
    }

    /// Readings of loft and lie that are not those to be expected of the old build with its levers
    /// set anew, in words.
    fn surprises(&self, old: &Fitted, setting: &Setting) -> Vec<String> {
        let head = &old.club.head;
        let turned = angle_change(&head.attitude(setting, Attitude::FaceSquared), head.loft);
        let (loft_offset, lie_offset) = self.gauge_offsets(old);
        let readings = [
            ("loft", self.loft_deg, head.loft + turned.loft, loft_offset),
            ("lie", self.lie_deg, head.lie + turned.lie, lie_offset),
        ];
        let surprise = |(name, read, angle, offset): (&str, Option<f64>, f64, f64)| {
            let (read, usual) = (read?, angle / DEG + offset);
            let off = (read - usual).abs();
            (off > DOUBTED_READING_DEG).then(|| {
                format!(
                    "{}: the {name} as read ({read:.1} deg) is {off:.1} deg from what {} and the \
                     levers lead to expect ({usual:.1} deg): look at the gauge and the setting",
                    self.new_name, old.build.name
                )
            })
        };
        readings.into_iter().filter_map(surprise).collect()
    }

    /// What the gauge shows of the new build, at its setting. Readings that were not taken again are
    /// carried over: all of them at the head's reference, or some of them computed for the setting.
    fn measured(&self, old: &Fitted, setting: &Setting, who: Attitude) -> MeasuredFile {
        let (head, was) = (&old.club.head, &old.build.measured);
        // No habit is part of a club's own angles.
        let who = match who {
            Attitude::Unknown => Attitude::GripKept,
            who => who,
        };
        let turn = |setting, who| angle_change(&head.attitude(setting, who), head.loft);
        let anew = [self.loft_deg, self.lie_deg, self.face_angle_deg]
            .iter()
            .any(Option::is_some);
        // What the setting adds on the gauge, which squares the face; nothing at the reference.
        let (loft, lie, face) = match anew {
            true => {
                let gauge = turn(setting, Attitude::FaceSquared);
                (gauge.loft, gauge.lie, turn(setting, who).face)
            }
            false => (0.0, 0.0, 0.0),
        };
        let face_before = match was.taken_at {
            TakenAt::Reference => 0.0,
            TakenAt::Setting => turn(&old.club.setting, who).face,
        };
        let (loft_offset, lie_offset) = self.gauge_offsets(old);
        let mut carried_over = Vec::new();
        let mut take = |key: &str, new: Option<f64>, old: Option<f64>| {
            if new.is_none() && old.is_some() {
                carried_over.push(key.to_string());
            }
            new.or(old).map(|v| (v * 1e6).round() / 1e6)
        };
        let carried = |was: Option<f64>, value: f64| was.map(|_| value);
        MeasuredFile {
            loft_deg: take(
                "loft_deg",
                self.loft_deg,
                carried(was.loft_deg, (head.loft + loft) / DEG + loft_offset),
            ),
            lie_deg: take(
                "lie_deg",
                self.lie_deg,
                carried(was.lie_deg, (head.lie + lie) / DEG + lie_offset),
            ),
            face_angle_deg: take(
                "face_angle_deg",
                self.face_angle_deg,
                was.face_angle_deg
                    .map(|f| f + (face - face_before) / DEG * old.hand().sign()),
            ),
            taken_at: match anew {
                true => TakenAt::Setting,
                false => TakenAt::Reference,
            },
            carried_over,
        }
    }
}

/// A row that is another head is a club of its own.
pub(super) fn not_another_head(body: &serde_json::Value, row: usize) -> Result<(), Failure> {
    let place = row.checked_sub(1).map(|i| &body["rows"][i]["other_head"]);
    match place.and_then(serde_json::Value::as_str) {
        Some(name) => Err(Failure::usage(format!(
            "--row {row}: that is another head, '{name}': measure the new club, write a build file with \
             head = \"{name}\" and replaces = the old build, and add it"
        ))),
        None => Ok(()),
    }
}

/// The setting of a row of a filed proposal.
fn setting_of_row(body: &serde_json::Value, row: usize) -> Result<SettingFile, Failure> {
    let rows = body["rows"].as_array().map_or(0, Vec::len);
    not_another_head(body, row)?;
    let found = row.checked_sub(1).map(|i| &body["rows"][i]["setting_file"]);
    found
        .filter(|v| v.is_object())
        .and_then(|v| serde_json::from_value(v.clone()).ok())
        .ok_or_else(|| Failure::usage(format!("--row {row}: the proposal has {rows} rows")))
}
