//! Report of a fitted model: what was learned, for whom, and whether it is in use.

use super::{Page, Range80, Report, tidy};
use crate::correction::{Model, Worth, Z80};
use crate::hand::Hand;
use crate::proposal::Interval;
use crate::units::YARD;
use serde::Serialize;

/// One response of a model.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation; figures are in the response's unit
pub struct ResponseReport {
    pub response: String,
    pub in_use: bool,
    pub held_out_sessions: usize,
    pub rmse_physics: f64,
    pub rmse_correction: f64,
    pub gain: f64,
    pub gain_se: f64,
    pub coverage_80: f64,
    pub shot_sd: f64,
    pub visit_sd: f64,
    pub session_sd: f64,
    pub converged: bool,
}

/// What one unit of a lever does to where the ball lands, for one player with one head.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct LeverWorth {
    pub player: String,
    pub head: String,
    /// Toward toe, back, crown; heavier, more loft, more upright, face more open.
    pub feature: String,
    /// Whether the log holds sessions in which this player's lever stood elsewhere.
    pub seen: bool,
    pub physics_offline_m: f64,
    pub learned_offline_m: Range80,
}

/// Worths of a player and head as report rows; `seen` tells which features the log has varied.
pub fn lever_worths(
    player: &str,
    head: &str,
    hand: Hand,
    worths: &[Worth],
    seen: &[bool],
) -> Vec<LeverWorth> {
    let s = hand.sign();
    worths
        .iter()
        .zip(seen)
        .map(|(w, &seen)| LeverWorth {
            player: player.into(),
            head: head.into(),
            feature: w.feature.into(),
            seen,
            physics_offline_m: tidy(w.physics * s),
            learned_offline_m: Range80::of(
                &Interval {
                    mean: w.learned,
                    low: w.learned - Z80 * w.sd,
                    high: w.learned + Z80 * w.sd,
                },
                s,
            ),
        })
        .collect()
}

/// A fitted model for people.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct LearnedReport {
    pub model_version: u32,
    pub season: String,
    pub fitted_at: String,
    pub prior_version: Option<u32>,
    pub sessions: usize,
    pub shots: usize,
    pub first_date: String,
    pub last_date: String,
    pub data_digest: String,
    pub responses: Vec<ResponseReport>,
    pub levers: Vec<LeverWorth>,
}

impl LearnedReport {
    /// From a model and the worths of its players' levers.
    pub fn new(m: &Model, levers: Vec<LeverWorth>) -> LearnedReport {
        LearnedReport {
            model_version: m.version,
            season: m.season.name.clone(),
            fitted_at: m.season.fitted_at.clone(),
            prior_version: m.season.prior_version,
            sessions: m.data.sessions,
            shots: m.data.shots,
            first_date: m.data.first_date.clone(),
            last_date: m.data.last_date.clone(),
            data_digest: m.data.digest.clone(),
            responses: m
                .responses
                .iter()
                .map(|r| ResponseReport {
                    response: r.response.clone(),
                    in_use: r.in_use,
                    held_out_sessions: r.score.sessions,
                    rmse_physics: tidy(r.score.physics.rmse),
                    rmse_correction: tidy(r.score.correction.rmse),
                    gain: tidy(r.score.gain),
                    gain_se: tidy(r.score.gain_se),
                    coverage_80: tidy(r.score.correction.coverage[1]),
                    shot_sd: tidy(r.components.shot_sd),
                    visit_sd: tidy(r.components.visit_sd),
                    session_sd: tidy(r.components.session_sd),
                    converged: r.converged,
                })
                .collect(),
            levers,
        }
    }
}

impl Report for LearnedReport {
    fn text(&self, page: &mut Page) {
        let prior = self
            .prior_version
            .map_or("no earlier season".to_string(), |v| {
                format!("model {v} as prior")
            });
        page.heading(&format!(
            "Model {}, season {}",
            self.model_version, self.season
        ));
        page.line(&format!(
            "{} sessions, {} shots, {} to {}; {prior}; data {}.",
            self.sessions,
            self.shots,
            self.first_date,
            self.last_date,
            self.data_digest.get(..12).unwrap_or(&self.data_digest)
        ));
        page.heading("Held-out sessions: root mean square error");
        let rows: Vec<Vec<String>> = self
            .responses
            .iter()
            .map(|r| {
                let d = if r.rmse_physics.abs() < 0.2 { 4 } else { 2 };
                // Nothing was held out, so nothing was measured.
                let or_dash = |text: String| match r.held_out_sessions {
                    0 => "-".to_string(),
                    _ => text,
                };
                vec![
                    r.response.clone(),
                    r.held_out_sessions.to_string(),
                    or_dash(format!("{:.d$}", r.rmse_physics)),
                    or_dash(format!("{:.d$}", r.rmse_correction)),
                    or_dash(format!("{:.0} %", r.coverage_80 * 100.0)),
                    if r.in_use { "in use" } else { "not used" }.to_string(),
                ]
            })
            .collect();
        page.table(
            &["", "sessions", "physics", "learned", "in 80 %", ""],
            &rows,
            1,
        );
        page.line(
            "Each session is predicted by a fit that never saw it. A response is used where it \
             beats bare physics by more than one standard error.",
        );
        let sideways = ["launch_direction_deg", "spin_axis_deg"];
        if !self
            .responses
            .iter()
            .any(|r| r.in_use && sideways.contains(&r.response.as_str()))
        {
            page.line("Nothing sideways is in use: for the line of the ball, bare physics stands.");
            return;
        }
        for feature in crate::club::FEATURES {
            let rows: Vec<&LeverWorth> = self
                .levers
                .iter()
                .filter(|l| l.seen && l.feature == feature)
                .collect();
            // What hardly moves the ball sideways is in the JSON, not on the page.
            let matters = |l: &&LeverWorth| {
                let w = &l.learned_offline_m;
                (w.mean - l.physics_offline_m).abs() > 0.25 * YARD
            };
            if rows.iter().any(matters) {
                lever_table(feature, &rows, page);
            }
        }
    }
}

/// One lever over players and heads.
fn lever_table(feature: &str, rows: &[&LeverWorth], page: &mut Page) {
    page.heading(&format!(
        "{} moves the ball ({})",
        unit_of(feature),
        page.length_unit()
    ));
    let cells: Vec<Vec<String>> = rows
        .iter()
        .map(|l| {
            let w = &l.learned_offline_m;
            let cell = |m: f64| page.side(m);
            vec![
                l.player.clone(),
                l.head.clone(),
                cell(l.physics_offline_m),
                cell(w.mean),
                format!("{} to {}", cell(w.low).trim(), cell(w.high).trim()),
            ]
        })
        .collect();
    page.table(&["player", "head", "physics", "learned", "80 %"], &cells, 2);
}

/// What a unit of a feature is, in words.
fn unit_of(feature: &str) -> &'static str {
    match feature {
        "cg_toe_mm" => "1 mm of CG toward the toe",
        "cg_back_mm" => "1 mm of CG toward the back",
        "cg_up_mm" => "1 mm of CG toward the crown",
        "mass_g" => "1 g more head",
        "loft_deg" => "1 deg more loft",
        "lie_deg" => "1 deg more upright",
        // Right in the right-handed frame of the features: open for either hand.
        _ => "1 deg of face more open",
    }
}
