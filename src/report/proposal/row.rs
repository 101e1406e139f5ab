//! A setting with its prediction, as it is shown.

use crate::hand::Hand;
use crate::proposal::{Reason, Row, Step, Undo};
use crate::report::{Around, Page, Range80, signed, tidy};
use crate::units::{DEG, G_CM2, RPM, YARD};
use serde::Serialize;

/// A share of what a change does.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct ReasonReport {
    pub reason: Reason,
    pub offline_m: f64,
    pub carry_m: f64,
    pub apex_m: f64,
}

/// One setting with its prediction.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct RowReport {
    pub rank: usize,
    pub steps: Vec<String>,
    /// Name of the head, if it is another one from the rack.
    pub other_head: Option<String>,
    pub setting: String,
    /// In the form of a build file; null if it is another head.
    pub setting_file: serde_json::Value,
    pub start_m: Range80,
    pub curve_m: Range80,
    pub offline_m: Range80,
    pub offline_change_m: Range80,
    pub carry_m: Range80,
    pub apex_m: Range80,
    pub spin_rate_rpm: Range80,
    pub landing_angle_deg: f64,
    pub offline_spread_m: f64,
    /// As a distance: so far off the line a straight ball without spread costs as much.
    pub expected_loss_m: f64,
    pub helps_probability: f64,
    /// That the ball lands farther off on average, by more than a yard or so.
    pub harms_probability: f64,
    /// Share of the systematic miss that it takes away.
    pub cures_percent: f64,
    /// By how much farther from what is wanted start line and curve are, both counted.
    pub bends_m: f64,
    /// What each thing that the change does adds to the change, in shares that add up.
    pub reasons: Vec<ReasonReport>,
    /// Where the ball lands if the player squares the face after a turn of the sleeve.
    pub offline_if_squared_m: Option<f64>,
    pub swing_weight: String,
    pub swing_weight_change_points: f64,
    pub head_mass_g: f64,
    pub head_mass_change_g: f64,
    pub carry_change_m: f64,
    pub apex_change_m: f64,
    /// Face angle of the head on its sole against now, right positive: how it looks.
    pub face_on_sole_change_deg: f64,
    pub vertical_inertia_g_cm2: f64,
    pub vertical_inertia_change_g_cm2: f64,
    /// What to read again after the work.
    pub measure: Vec<String>,
    pub undo: Undo,
    pub cautions: Vec<String>,
}

impl RowReport {
    /// From a row in the right-handed frame, against the row of the present setting.
    pub fn new(
        rank: usize,
        row: &Row,
        now: &Row,
        hand: Hand,
        setting: String,
        setting_file: serde_json::Value,
    ) -> RowReport {
        let s = hand.sign();
        RowReport {
            rank,
            other_head: row.other_head.clone(),
            steps: row.steps.iter().map(|s| s.instruction.clone()).collect(),
            setting,
            setting_file,
            start_m: Range80::of(&row.ground[0], s),
            curve_m: Range80::of(&row.ground[1], s),
            offline_m: Range80::of(&row.offline, s),
            offline_change_m: Range80::of(&row.offline_change, s),
            carry_m: Range80::of(&row.ground[2], 1.0),
            apex_m: Range80::of(&row.ground[3], 1.0),
            spin_rate_rpm: Range80::of(&row.spin_rate, 1.0 / RPM),
            landing_angle_deg: tidy(row.outcome.landing_angle / DEG),
            offline_spread_m: tidy(row.outcome.offline_sd),
            expected_loss_m: tidy(row.loss_off_line()),
            helps_probability: tidy(row.helps),
            harms_probability: tidy(row.harms),
            cures_percent: tidy(100.0 * row.cures),
            bends_m: tidy(row.bends),
            reasons: Reason::ALL
                .iter()
                .zip(&row.reasons)
                .map(|(reason, g)| ReasonReport {
                    reason: *reason,
                    offline_m: tidy((g[0] + g[1]) * s),
                    carry_m: tidy(g[2]),
                    apex_m: tidy(g[3]),
                })
                .collect(),
            offline_if_squared_m: row.squared.map(|v| tidy(v * s)),
            swing_weight: row.swing_weight.to_string(),
            swing_weight_change_points: tidy(row.swing_weight.0 - now.swing_weight.0),
            head_mass_g: tidy(row.head_mass * 1e3),
            head_mass_change_g: tidy((row.head_mass - now.head_mass) * 1e3),
            carry_change_m: tidy(row.ground[2].mean - now.ground[2].mean),
            apex_change_m: tidy(row.ground[3].mean - now.ground[3].mean),
            face_on_sole_change_deg: tidy(row.look / DEG * s),
            vertical_inertia_g_cm2: tidy(row.inertia / G_CM2),
            vertical_inertia_change_g_cm2: tidy((row.inertia - now.inertia) / G_CM2),
            measure: measures(&row.steps),
            undo: row.undo,
            cautions: row.cautions.clone(),
        }
    }
}

/// The table of what the average ball does with each setting.
pub(super) fn average_balls<'r>(
    when: &str,
    rows: impl IntoIterator<Item = &'r RowReport>,
    page: &mut Page,
) {
    let cells: Vec<Vec<String>> = rows.into_iter().map(|r| cells(r, page)).collect();
    page.heading(&format!("Average ball, {when} ({})", page.length_unit()));
    let header = [
        "", "start", "curve", "offline", "carry", "height", "spin", "helps", "swing", "mass",
    ];
    page.table(&header, &cells, 1);
}

/// The row of the table.
fn cells(r: &RowReport, page: &Page) -> Vec<String> {
    let helps = if r.rank == 0 {
        String::new()
    } else {
        format!("{:.0} %", r.helps_probability * 100.0)
    };
    vec![
        r.rank.to_string(),
        page.side(r.start_m.mean),
        page.side(r.curve_m.mean),
        page.side(r.offline_m.mean),
        format!("{:.0}", page.in_unit(r.carry_m.mean)),
        format!("{:.0}", page.in_unit(r.apex_m.mean)),
        format!("{:.0}", r.spin_rate_rpm.mean),
        helps,
        r.swing_weight.clone(),
        format!("{:.0} g", r.head_mass_g),
    ]
}

/// A ball that is bent by more than this share of the carry is told of: half of what is worth a change.
const BENT: f64 = 1.0 / 120.0;

/// All that is told of a row.
pub(super) fn row_text(r: &RowReport, around: &Around, page: &mut Page) {
    page.line("");
    let mark = format!("{}. ", r.rank);
    let steps = match r.steps.is_empty() {
        true => "nothing changes".to_string(),
        false => r.steps.join("; then "),
    };
    page.indented(&mark, &steps);
    let between = |i: &Range80| {
        format!(
            "{} to {}",
            page.side(i.low).trim(),
            page.side(i.high).trim()
        )
    };
    let plain = |i: &Range80| format!("{:.0} to {:.0}", page.in_unit(i.low), page.in_unit(i.high));
    // A share of a miss, unless the average ball is in the fairway as it is.
    let now = r.offline_m.mean - r.offline_change_m.mean;
    let takes = match around.in_the_fairway(now) && around.sideways_only() {
        true if around.in_the_fairway(r.offline_m.mean) => {
            "the average ball is in the fairway as it is".into()
        }
        true => "takes the average ball out of the fairway".into(),
        false => format!(
            "{} {:.0} % of {}",
            if r.cures_percent < 0.0 {
                "adds"
            } else {
                "takes away"
            },
            r.cures_percent.abs(),
            around.miss()
        ),
    };
    let landing = match around.wanted.minds_landing() {
        true => format!(", landing at {:.1} deg", r.landing_angle_deg),
        false => String::new(),
    };
    let text = format!(
        "{takes}: lands {} ({}); moves it {} ({}); start {}, curve {}; carry {}, height {}{landing}, \
         spin {:.0} to {:.0}",
        page.sideways(r.offline_m.mean),
        between(&r.offline_m),
        page.sideways(r.offline_change_m.mean),
        between(&r.offline_change_m),
        between(&r.start_m),
        between(&r.curve_m),
        plain(&r.carry_m),
        plain(&r.apex_m),
        r.spin_rate_rpm.low,
        r.spin_rate_rpm.high,
    );
    page.indented("   ", &text);
    let off = |landed: f64| (landed - around.aim_offline_m()).abs();
    if r.bends_m > BENT * r.carry_m.mean && off(r.offline_m.mean) < off(now) {
        let text = "it lands nearer because it is bent back, not because it starts nearer: for a \
                    straight ball it takes aim or path";
        page.indented("   ", text);
    }
    // Sideways and upward shares, as far as they show.
    let hair = 0.3 * YARD;
    let mut why: Vec<String> = Vec::new();
    for s in &r.reasons {
        let mut parts = Vec::new();
        if s.offline_m.abs() > hair {
            parts.push(page.sideways(s.offline_m));
        }
        if s.apex_m.abs() > hair {
            let word = if s.apex_m > 0.0 { "higher" } else { "lower" };
            parts.push(format!("{} {word}", page.length(s.apex_m.abs())));
        }
        if !parts.is_empty() {
            why.push(format!("{} {}", s.reason, parts.join(" and ")));
        }
    }
    if !why.is_empty() {
        page.indented("   ", &format!("why: {}", why.join("; ")));
    }
    if let Some(v) = r.offline_if_squared_m {
        page.indented(
            "   ",
            &format!(
                "if the player squares the face again after the turn: lands {}",
                page.sideways(v)
            ),
        );
    }
    page.indented("   ", &costs(r, around, page));
    if !r.measure.is_empty() {
        page.indented(
            "   ",
            &format!("then measure again: {}", r.measure.join(", ")),
        );
    }
}

/// What the change costs.
fn costs(r: &RowReport, around: &Around, page: &Page) -> String {
    let look = r.face_on_sole_change_deg * around.hand.sign();
    let look = match look {
        l if l > 0.05 => format!(", on its sole {l:.1} deg more open"),
        l if l < -0.05 => format!(", on its sole {:.1} deg more closed", -l),
        _ => String::new(),
    };
    let by = |m: f64| signed(page.in_unit(m), 1);
    let farther = match around.wanted.fairway_m > 0.0 {
        true => "lands farther outside the fairway",
        false => "lands farther off",
    };
    format!(
        "{farther} with {:.0} %; carry {} {unit}, height {} {unit}; swing weight {} ({}), head \
         {:.1} g ({}){look}, inertia {:.0} g cm2 ({}); undo: {}",
        100.0 * r.harms_probability,
        by(r.carry_change_m),
        by(r.apex_change_m),
        r.swing_weight,
        signed(r.swing_weight_change_points, 1),
        r.head_mass_g,
        signed(r.head_mass_change_g, 1),
        r.vertical_inertia_g_cm2,
        signed(r.vertical_inertia_change_g_cm2, 0),
        r.undo,
        unit = page.length_unit(),
    )
}

/// What the steps ask to read again, each once.
pub fn measures(steps: &[Step]) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for m in steps.iter().flat_map(|s| &s.measure) {
        if !out.iter().any(|o| o == m) {
            out.push((*m).to_string());
        }
    }
    out
}
