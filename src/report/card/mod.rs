//! The job card: one page that goes with the club.

mod html;

use super::{Page, Range80, Report, Units, fixed};
use crate::hand::Hand;
use crate::hosel::Attitude;
use serde::Serialize;

/// The as-built record on the card.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct CardBuild {
    pub build: String,
    pub replaces: Option<String>,
    pub built_on: String,
    pub head: String,
    pub kind: String,
    /// At the setting, less the gauge's offset.
    pub loft_deg: f64,
    /// `read` on this build at this setting, or `computed` from the head's reference.
    pub loft_from: &'static str,
    /// As the gauge showed it, if it was read.
    pub loft_reading_deg: Option<f64>,
    pub lie_deg: f64,
    pub lie_from: &'static str,
    pub lie_reading_deg: Option<f64>,
    pub face_angle_deg: Option<f64>,
    pub face_angle_from: Option<&'static str>,
    pub face_angle_reading_deg: Option<f64>,
    pub gauge: Option<String>,
    pub length_m: f64,
    pub swing_weight_read: Option<String>,
    pub swing_weight_computed: String,
    pub head_mass_g: f64,
    /// Mass of the whole club: head and parts.
    pub club_mass_g: f64,
    /// CG from the face centre: toe-ward, behind the face and up.
    pub cg_toe_mm: f64,
    pub cg_back_mm: f64,
    pub cg_up_mm: f64,
    pub vertical_inertia_g_cm2: f64,
    pub setting: String,
    pub parts: Vec<String>,
    pub note: Option<String>,
}

/// A face angle, right positive, with what that is for a hand: open or closed.
fn face_angle(deg: f64, hand: Hand) -> String {
    let value = format!("{:.1} deg", deg.abs());
    match value.as_str() {
        "0.0 deg" => value,
        _ if (deg > 0.0) == (hand == Hand::Right) => value + " open",
        _ => value + " closed",
    }
}

/// An angle in words, and where it comes from: the gauge's reading is told if its offset shows.
fn angle(value: String, reading: Option<String>) -> String {
    match reading {
        None => format!("{value} (computed)"),
        Some(r) if r == value => format!("{value} (read)"),
        Some(r) => format!("{value} (read {})", r.trim_end_matches(" deg")),
    }
}

/// The average ball with a build, real-world frame.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct CardBall {
    pub build: String,
    /// The session; several are joined by commas, and so are their days.
    pub session: String,
    pub date: String,
    pub shots: usize,
    pub in_wind: bool,
    /// Not all balls of the card were hit in one air and wind: they were flown again in one.
    pub flown_again: bool,
    pub start_m: f64,
    pub curve_m: f64,
    pub offline_m: f64,
    pub carry_m: f64,
    pub apex_m: f64,
}

/// What came of the change.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct CardCheck {
    pub verdict: i64,
    pub outcome: String,
    /// The outcome in the words of the check.
    pub verdict_says: String,
    pub offline_change_m: f64,
    pub half_width_80_m: f64,
    /// Half-width of the interval that the verdict goes by.
    pub judged_half_width_m: f64,
    /// It is judged for a look after every block.
    pub every_block: bool,
    pub predicted_offline_change_m: Option<Range80>,
    /// Change and half-width are those at the same delivery.
    pub at_same_delivery: bool,
    pub offline_before_m: f64,
    pub offline_after_m: f64,
    pub rests_on_withdrawn_session: bool,
}

/// A job card.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct Card {
    pub player: String,
    pub hand: Hand,
    pub printed_at: String,
    /// Who decides the head's attitude, for the computed angles.
    pub attitude: Attitude,
    pub build: CardBuild,
    pub before: Option<CardBuild>,
    /// The steps from the build before to this one, if they are of one head.
    pub work: Vec<String>,
    /// What these steps change that a gauge or a scale shows.
    pub measure_again: Vec<String>,
    pub tendency: Vec<String>,
    /// What the lines of `tendency` say.
    pub ball: Vec<CardBall>,
    pub proposal: Vec<String>,
    pub proposal_number: Option<i64>,
    /// The row that was built, from 1.
    pub proposal_row: Option<usize>,
    pub verdict: Vec<String>,
    /// What the lines of `verdict` say.
    pub check: Option<CardCheck>,
    pub cautions: Vec<String>,
}

impl Card {
    /// The lines of the as-built record: name and value, with the build before it beside.
    fn rows(&self, units: Units) -> Vec<[String; 3]> {
        let b = &self.build;
        let old = self.before.as_ref();
        let length = |m: f64| match units {
            Units::Imperial => format!("{:.2} in", m / crate::units::INCH),
            Units::Metric => format!("{:.0} mm", m / crate::units::MM),
        };
        let degrees = |deg: f64| format!("{} deg", fixed(deg, 1));
        let row = |name: &str, f: &dyn Fn(&CardBuild) -> String| {
            [name.to_string(), f(b), old.map_or(String::new(), f)]
        };
        let or_dash = |v: &Option<String>| v.clone().unwrap_or_else(|| "-".into());
        let mut all = vec![
            row("build", &|b| b.build.clone()),
            row("setting", &|b| b.setting.clone()),
            row("built on", &|b| b.built_on.clone()),
            row("loft", &|b| {
                angle(degrees(b.loft_deg), b.loft_reading_deg.map(degrees))
            }),
            row("lie", &|b| {
                angle(degrees(b.lie_deg), b.lie_reading_deg.map(degrees))
            }),
            row("face angle", &|b| {
                let words = |deg| face_angle(deg, self.hand);
                b.face_angle_deg.map_or("-".into(), |f| {
                    angle(words(f), b.face_angle_reading_deg.map(words))
                })
            }),
            row("gauge", &|b| or_dash(&b.gauge)),
            row("length", &|b| length(b.length_m)),
            row("swing weight read", &|b| or_dash(&b.swing_weight_read)),
            row("swing weight computed", &|b| {
                b.swing_weight_computed.clone()
            }),
            row("head mass", &|b| format!("{:.1} g", b.head_mass_g)),
            row("club mass", &|b| format!("{:.1} g", b.club_mass_g)),
            row("CG toe, behind face, up", &|b| {
                let [toe, back, up] = [b.cg_toe_mm, b.cg_back_mm, b.cg_up_mm].map(|v| fixed(v, 1));
                format!("{toe}, {back}, {up} mm")
            }),
            row("vertical inertia", &|b| {
                format!("{:.0} g cm2, lie 60 deg", b.vertical_inertia_g_cm2)
            }),
        ];
        if old.is_some_and(|o| o.head != b.head) {
            all.insert(1, row("head", &|b| b.head.clone()));
        }
        // What nobody has told is no row.
        let told = |r: &[String; 3]| r[1..].iter().any(|cell| !matches!(&cell[..], "" | "-"));
        all.into_iter().filter(told).collect()
    }

    /// How the angles were computed that were not read.
    fn computed(&self) -> Option<String> {
        let any =
            |of: fn(&CardBuild) -> bool| of(&self.build) || self.before.as_ref().is_some_and(of);
        let face = any(|b| b.face_angle_from == Some("computed"));
        if !face && !any(|b| b.loft_from == "computed" || b.lie_from == "computed") {
            return None;
        }
        let how = match self.attitude {
            Attitude::Unknown | Attitude::GripKept => "if the hands keep the grip",
            Attitude::Soled => "if the head sits on its sole",
            Attitude::FaceSquared => "if the player squares the face",
        };
        let face = if face {
            format!("; the face angle {how}")
        } else {
            String::new()
        };
        Some(format!(
            "Computed angles: from the head's reference by sleeve and bend, loft and lie as on a \
             gauge with the face squared{face}."
        ))
    }

    fn sections(&self) -> [(&'static str, Vec<String>); 4] {
        let mut work = self.work.clone();
        if !self.measure_again.is_empty() {
            work.push(format!(
                "then measure again: {}",
                self.measure_again.join(", ")
            ));
        }
        [
            ("Work", work),
            ("Ball", self.tendency.clone()),
            ("Proposal", self.proposal.clone()),
            ("Check", self.verdict.clone()),
        ]
    }

    /// Which kind of club it is, and for which hand.
    fn what(&self) -> String {
        let hand = match self.hand {
            Hand::Left => "left",
            Hand::Right => "right",
        };
        format!("{}, {hand}-handed.", self.build.kind)
    }
}

impl Report for Card {
    fn text(&self, page: &mut Page) {
        page.heading(&format!("Job card: {}, {}", self.player, self.build.head));
        page.line(&self.what());
        page.line("");
        let before = if self.before.is_some() { "before" } else { "" };
        let rows: Vec<Vec<String>> = self.rows(page.units).into_iter().map(Vec::from).collect();
        page.table(&["", "as built", before], &rows, 3);
        if let Some(how) = self.computed() {
            page.line(&how);
        }
        if !self.build.parts.is_empty() {
            page.line(&format!("Parts: {}.", self.build.parts.join("; ")));
        }
        if let Some(n) = &self.build.note {
            page.line(&format!("Note: {n}"));
        }
        for (title, lines) in self.sections() {
            if !lines.is_empty() {
                page.heading(title);
                for l in &lines {
                    page.indented("- ", l);
                }
            }
        }
        if !self.cautions.is_empty() {
            page.heading("Mind");
            for c in &self.cautions {
                page.caution(c);
            }
        }
        page.line("");
        page.line("Built by ________________  Measured by ________________  Date ____________");
        page.line(&format!("printed {}", self.printed_at));
    }
}
