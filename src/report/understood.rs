//! A miss in words, as it was understood.

use super::{Page, fixed, signed, tidy};
use crate::delivery::COMPONENTS;
use crate::hand::Hand;
use crate::miss::Complaint;
use crate::proposal::{Goal, Words};
use crate::quantity::Quantity;
use crate::units::RPM;
use serde::Serialize;

/// A miss in words, as it was understood and as it is taken.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Understood {
    /// Start, curve, offline, carry, apex, spin rate.
    pub figures: Vec<TakenReport>,
    /// `high` or `low`, of the height.
    pub height: Option<&'static str>,
    /// The same of the spin.
    pub spin: Option<&'static str>,
    /// Height that is wanted instead, if the height is part of the complaint.
    pub wanted_apex_m: Option<f64>,
    /// Spin that is wanted instead, if the spin is part of the complaint.
    pub wanted_spin_rate_rpm: Option<f64>,
    /// Parts of the swing that the words take and that are rare, in words.
    pub rare: Vec<String>,
}

/// A figure as it was said and as it is taken, in the unit that `figure` ends in.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct TakenReport {
    pub figure: &'static str,
    pub said: Option<f64>,
    /// Only a direction was said, the amount is assumed.
    pub amount_assumed: bool,
    pub taken: f64,
}

impl Understood {
    /// From words in the right-handed frame.
    pub fn new(words: &Words, goal: &Goal, hand: Hand) -> Understood {
        let figures = words.figures.iter().map(|f| {
            let (figure, factor) = match f.name {
                "start" => ("start_m", hand.sign()),
                "curve" => ("curve_m", hand.sign()),
                "offline" => ("offline_m", hand.sign()),
                "carry" => ("carry_m", 1.0),
                "apex" => ("apex_m", 1.0),
                _ => ("spin_rate_rpm", 1.0 / RPM),
            };
            TakenReport {
                figure,
                said: f.said.map(|v| tidy(v * factor)),
                amount_assumed: f.assumed,
                taken: tidy(f.taken * factor),
            }
        });
        let level = |c: Complaint| match c {
            Complaint::High => "high",
            Complaint::Low => "low",
        };
        let rare = words.rare.iter().map(|&(i, v)| {
            let q = COMPONENTS[i];
            let v = if q.info().mirrored {
                v * hand.sign()
            } else {
                v
            };
            let v = v / q.unit_size();
            let v = match q {
                Quantity::HeadSpeed => fixed(v, 1),
                _ => signed(v, 1),
            };
            let unit = q.info().unit.replace('_', "/");
            format!("{} {v} {unit}", q.info().name.replace('_', " "))
        });
        Understood {
            figures: figures.collect(),
            height: words.height.map(level),
            spin: words.spin.map(level),
            wanted_apex_m: goal.apex.filter(|w| w.low == w.high).map(|w| tidy(w.low)),
            wanted_spin_rate_rpm: goal.spin_rate.map(|w| tidy(w.low / RPM)),
            rare: rare.collect(),
        }
    }

    pub(super) fn text(&self, page: &mut Page) {
        let name = |f: &TakenReport| match f.figure {
            "start_m" => "start line",
            "curve_m" => "curve",
            "offline_m" => "offline",
            "carry_m" => "carry",
            "apex_m" => "height",
            _ => "spin",
        };
        let value = |f: &TakenReport, v: f64, page: &Page| match f.figure {
            "start_m" | "curve_m" | "offline_m" => page.sideways(v),
            "spin_rate_rpm" => format!("{v:.0} rpm"),
            _ => page.length(v),
        };
        let mut said: Vec<String> = Vec::new();
        let mut open: Vec<String> = Vec::new();
        let mut gaps: Vec<String> = Vec::new();
        let carry = self.figures.iter().find(|f| f.figure == "carry_m");
        let hair = carry.map_or(1.0, |f| 0.004 * f.taken);
        for f in &self.figures {
            let level = match f.figure {
                "apex_m" => self.height.is_some(),
                "spin_rate_rpm" => self.spin.is_some(),
                _ => false,
            };
            let Some(v) = f.said else {
                if level {
                    said.push(format!(
                        "{} {} (amount assumed)",
                        name(f),
                        value(f, f.taken, page)
                    ));
                    continue;
                }
                open.push(format!("{} {}", name(f), value(f, f.taken, page)));
                continue;
            };
            let assumed = if f.amount_assumed {
                " (amount assumed)"
            } else {
                ""
            };
            said.push(format!("{} {}{assumed}", name(f), value(f, v, page)));
            let small = if f.figure == "spin_rate_rpm" {
                100.0
            } else {
                hair
            };
            if !f.amount_assumed && (v - f.taken).abs() > (0.05 * v.abs()).max(small) {
                gaps.push(format!(
                    "{} {} was said; the nearest usual swing gives {}",
                    name(f),
                    value(f, v, page),
                    value(f, f.taken, page)
                ));
            }
        }
        said.extend(self.height.map(|h| format!("too {h}")));
        said.extend(
            self.spin
                .map(|s| format!("too {} spin", if s == "high" { "much" } else { "little" })),
        );
        page.line(&format!("Understood: {}.", said.join(", ")));
        page.line(&format!(
            "Not said, so taken from the usual: {}.",
            open.join(", ")
        ));
        let mut wanted: Vec<String> = Vec::new();
        wanted.extend(
            self.wanted_apex_m
                .map(|v| format!("height {}", page.length(v))),
        );
        wanted.extend(
            self.wanted_spin_rate_rpm
                .map(|v| format!("spin {v:.0} rpm")),
        );
        if !wanted.is_empty() {
            page.line(&format!("So this is wanted: {}.", wanted.join(", ")));
        }
        for g in gaps {
            page.indented("- ", &g);
        }
        if !self.rare.is_empty() {
            page.indented(
                "- ",
                &format!(
                    "that takes a rare swing ({}): check the numbers, or log shots",
                    self.rare.join(", ")
                ),
            );
        }
    }
}
