//! Report of a tendency.

mod device;

pub use device::{DeviceReport, device_warnings};

use super::{BlameReport, FlownReport, Page, Report, tidy};
use crate::blame::Blame;
use crate::delivery::LAUNCH;
use crate::hand::Hand;
use crate::tendency::{Against, Figure, Tendency};
use crate::units::{DEG, RPM};
use serde::Serialize;

/// Centre, spread and standard error, in the unit that the key names.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FigureReport {
    /// Robust centre.
    pub mean: f64,
    /// Spread from shot to shot.
    pub sd: f64,
    /// Standard error of the centre.
    pub se: f64,
}

impl FigureReport {
    fn of(f: &Figure, factor: f64) -> FigureReport {
        FigureReport {
            mean: tidy(f.mean * factor),
            sd: tidy(f.sd * factor.abs()),
            se: tidy(f.se * factor.abs()),
        }
    }
}

/// How a figure stands against the aim.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct MissReport {
    /// Centre minus aim, m, right positive.
    pub miss_m: f64,
    /// Half-width of its 80 % interval, m.
    pub half_width_80_m: f64,
    /// Two-sided p-value of no miss.
    pub p_value: f64,
    /// It differs from the aim beyond noise.
    pub differs: bool,
}

impl MissReport {
    fn of(a: &Against, sign: f64) -> MissReport {
        MissReport {
            miss_m: tidy(a.miss * sign),
            half_width_80_m: tidy(a.half_width),
            p_value: tidy(a.p),
            differs: a.differs(),
        }
    }

    fn text(&self, page: &Page) -> String {
        format!(
            "{} off, give or take {}",
            page.sideways(self.miss_m),
            page.length(self.half_width_80_m)
        )
    }
}

/// A flagged shot.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FlagReport {
    /// The session.
    pub session: String,
    /// Its number in the session.
    pub shot: i64,
    /// Why.
    pub reason: String,
}

/// What a player's ball does.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct TendencyReport {
    pub player: String,
    pub hand: Hand,
    pub build: String,
    pub sessions: Vec<String>,
    pub shots: usize,
    pub shots_without_data: usize,
    pub effective_shots: f64,
    pub start_m: FigureReport,
    pub curve_m: FigureReport,
    pub offline_m: FigureReport,
    pub carry_m: FigureReport,
    pub apex_m: FigureReport,
    pub ball_speed_m_s: FigureReport,
    pub launch_angle_deg: FigureReport,
    pub launch_direction_deg: FigureReport,
    pub spin_rate_rpm: FigureReport,
    pub spin_axis_deg: FigureReport,
    pub start_against_aim: MissReport,
    pub curve_against_aim: MissReport,
    pub offline_against_aim: MissReport,
    pub miss_differs_from_aim: bool,
    /// Width of the fairway that the player has there; 0 is a line.
    pub fairway_m: f64,
    /// Parts of the launch that were not measured in most shots but inferred.
    pub inferred: Vec<String>,
    /// Ground figures of the device beside those flown here.
    pub device: Vec<DeviceReport>,
    /// The ball that flies as the device shows it, if the sessions show it.
    pub flown_as_shown: Option<FlownReport>,
    /// Where the two disagree, in words.
    pub warnings: Vec<String>,
    pub flagged: Vec<FlagReport>,
    /// Where the miss comes from.
    pub blame: BlameReport,
}

impl TendencyReport {
    /// From a tendency and its causes in the right-handed frame. `logged` are the session and
    /// the number in it of each shot.
    #[allow(clippy::too_many_arguments)]
    pub fn new(
        t: &Tendency,
        blame: &Blame,
        player: &str,
        hand: Hand,
        build: &str,
        sessions: Vec<String>,
        logged: &[(String, i64)],
        without_data: usize,
    ) -> TendencyReport {
        let s = hand.sign();
        let [speed, angle, direction, spin, axis] = &t.launch;
        let device: Vec<_> = t.device.iter().map(|d| DeviceReport::of(d, s)).collect();
        let inferred = LAUNCH.iter().zip(t.open.inferred).filter(|(_, i)| *i);
        TendencyReport {
            blame: BlameReport::new(blame, hand),
            inferred: inferred.map(|(q, _)| q.info().name.to_string()).collect(),
            warnings: device_warnings(t, hand),
            device,
            flown_as_shown: None,
            player: player.into(),
            hand,
            build: build.into(),
            sessions,
            shots: t.shots + without_data,
            shots_without_data: without_data,
            effective_shots: tidy(t.effective),
            start_m: FigureReport::of(&t.start, s),
            curve_m: FigureReport::of(&t.curve, s),
            offline_m: FigureReport::of(&t.offline, s),
            carry_m: FigureReport::of(&t.carry, 1.0),
            apex_m: FigureReport::of(&t.apex, 1.0),
            ball_speed_m_s: FigureReport::of(speed, 1.0),
            launch_angle_deg: FigureReport::of(angle, 1.0 / DEG),
            launch_direction_deg: FigureReport::of(direction, s / DEG),
            spin_rate_rpm: FigureReport::of(spin, 1.0 / RPM),
            spin_axis_deg: FigureReport::of(axis, s / DEG),
            start_against_aim: MissReport::of(&t.start_miss, s),
            curve_against_aim: MissReport::of(&t.curve_miss, s),
            offline_against_aim: MissReport::of(&t.offline_miss, s),
            miss_differs_from_aim: [&t.start_miss, &t.curve_miss, &t.offline_miss]
                .iter()
                .any(|a| a.differs()),
            fairway_m: 0.0,
            flagged: t
                .flags
                .iter()
                .filter_map(|f| {
                    let (session, shot) = logged.get(f.index)?;
                    Some(FlagReport {
                        session: session.clone(),
                        shot: *shot,
                        reason: f.reason.clone(),
                    })
                })
                .collect(),
        }
    }
}

/// A miss that chance alone makes as large in less than this share of sessions lies outside of its
/// 80 % interval.
const OUTSIDE: f64 = 0.2;

impl TendencyReport {
    /// What differs from the aim beyond noise, and what doesn't.
    fn against_aim(&self, page: &Page) -> String {
        let o = &self.offline_against_aim;
        let off = o.text(page);
        if o.differs {
            return format!("That differs from the aim: {off} (80 %).");
        }
        let landing = match o.p_value {
            p if p < OUTSIDE => format!(
                "Where it lands may be noise: {off} (80 %); chance alone does as much in {:.0} % of \
                 sessions",
                100.0 * p
            ),
            _ => format!("Where it lands does not differ from the aim beyond noise: {off} (80 %)"),
        };
        let parts = [
            ("start line", &self.start_against_aim),
            ("curve", &self.curve_against_aim),
        ];
        let parts = parts.iter().filter(|(_, m)| m.differs);
        let parts: Vec<String> = parts
            .map(|(name, m)| format!("the {name} {}", m.text(page)))
            .collect();
        match parts.is_empty() {
            true => format!("{landing}."),
            false => format!("{landing}. What differs: {}.", parts.join("; ")),
        }
    }
}

impl Report for TendencyReport {
    fn text(&self, page: &mut Page) {
        page.heading(&format!(
            "{} ({}-handed), {}: {} shots in {}",
            self.player,
            if self.hand == Hand::Left {
                "left"
            } else {
                "right"
            },
            self.build,
            self.shots,
            self.sessions.join(", ")
        ));
        page.answer(&format!(
            "Starts {}, curves {}, lands {}.",
            page.sideways(self.start_m.mean),
            page.sideways(self.curve_m.mean),
            page.sideways(self.offline_m.mean)
        ));
        page.line(&self.against_aim(page));
        if self.offline_against_aim.miss_m.abs() < 0.5 * self.fairway_m {
            page.line(&format!(
                "The average ball is in the fairway of {}.",
                page.length(self.fairway_m)
            ));
        }
        page.line(&self.blame.sentence);
        let unit = page.length_unit();
        let sided = |name: &str, f: &FigureReport, page: &Page| {
            vec![
                name.to_string(),
                page.side(f.mean),
                format!("{:.1}", page.in_unit(f.sd)),
                format!("{:.1}", page.in_unit(f.se)),
                unit.to_string(),
            ]
        };
        let plain = |name: &str, f: &FigureReport, page: &Page| {
            let mut row = sided(name, f, page);
            row[1] = format!("{:.1}  ", page.in_unit(f.mean));
            row
        };
        let number = |name: &str, f: &FigureReport, digits: usize, unit: &str| {
            vec![
                name.to_string(),
                format!("{:.digits$}  ", f.mean),
                format!("{:.digits$}", f.sd),
                format!("{:.digits$}", f.se),
                unit.to_string(),
            ]
        };
        let signed = |name: &str, f: &FigureReport| {
            let mut row = number(name, f, 1, "deg");
            let side = match f.mean {
                v if v >= 0.05 => 'R',
                v if v <= -0.05 => 'L',
                _ => ' ',
            };
            row[1] = format!("{:.1} {side}", f.mean.abs());
            row
        };
        let rows = [
            sided("start line", &self.start_m, page),
            sided("curve", &self.curve_m, page),
            sided("offline", &self.offline_m, page),
            plain("carry", &self.carry_m, page),
            plain("height", &self.apex_m, page),
            {
                let s = &self.ball_speed_m_s;
                let (f, unit) = match page.units {
                    super::Units::Imperial => (1.0 / crate::units::MPH, "mph"),
                    super::Units::Metric => (1.0, "m/s"),
                };
                let s = FigureReport {
                    mean: s.mean * f,
                    sd: s.sd * f,
                    se: s.se * f,
                };
                number("ball speed", &s, 1, unit)
            },
            number("launch angle", &self.launch_angle_deg, 1, "deg"),
            signed("launch direction", &self.launch_direction_deg),
            number("spin rate", &self.spin_rate_rpm, 0, "rpm"),
            signed("spin axis", &self.spin_axis_deg),
        ];
        page.heading("What the ball does");
        page.table(&["", "centre", "spread", "error", ""], &rows, 1);
        if !self.inferred.is_empty() {
            let names = self.inferred.join(", ").replace('_', " ");
            page.line(&format!(
                "Not measured but inferred from the rest and from what is usual: {names}. Its error \
                 counts in all that rests on it, and more shots do not shrink it."
            ));
        }
        if !self.device.is_empty() {
            let pair = |d: &DeviceReport| {
                let show = |v: f64| match d.figure {
                    "offline" => page.sideways(v),
                    _ => page.length(v),
                };
                let name = if d.figure == "apex" {
                    "height"
                } else {
                    d.figure
                };
                format!(
                    "{name} {} (flown here {})",
                    show(d.device_m),
                    show(d.flown_m)
                )
            };
            let all: Vec<String> = self.device.iter().map(pair).collect();
            page.line(&format!("The device shows, medians: {}.", all.join("; ")));
        }
        if let Some(flown) = &self.flown_as_shown {
            flown.text(page);
        }
        for w in &self.warnings {
            page.caution(w);
        }
        page.line(&format!(
            "Counts as {:.1} shots. Spread is from shot to shot, error is that of the centre.",
            self.effective_shots
        ));
        self.blame.table(page);
        if !self.flagged.is_empty() {
            page.heading("Flagged, kept in the log");
            for f in &self.flagged {
                let of = match self.sessions.len() {
                    1 => String::new(),
                    _ => format!(" of {}", f.session),
                };
                page.indented("- ", &format!("shot {}{of}: {}", f.shot, f.reason));
            }
        }
        if self.shots_without_data > 0 {
            page.line(&format!(
                "{} shots hold no usable value.",
                self.shots_without_data
            ));
        }
    }
}
