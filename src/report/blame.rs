//! Report of who is to blame for a miss.

use super::{Page, tidy};
use crate::blame::{Blame, Cause, Part, Share};
use crate::correction::Z80;
use crate::delivery::COMPONENTS;
use crate::hand::Hand;
use crate::units::{DEG, MM};
use serde::Serialize;

/// A mean with its standard deviation, in the unit that the key names.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ShareReport {
    /// Mean.
    pub mean: f64,
    /// Standard deviation of what is believed of it.
    pub sd: f64,
}

impl ShareReport {
    fn of(mean: f64, sd: f64, factor: f64) -> ShareReport {
        ShareReport {
            mean: tidy(mean * factor),
            sd: tidy(sd * factor.abs()),
        }
    }
}

/// What one cause does, right positive.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct PartReport {
    pub cause: &'static str,
    pub start_m: ShareReport,
    pub curve_m: ShareReport,
    pub offline_m: ShareReport,
}

/// A miss, split into its causes.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct BlameReport {
    /// What the ball does and why.
    pub sentence: String,
    /// The parts; they add up to the miss.
    pub parts: Vec<PartReport>,
    pub face_angle_deg: ShareReport,
    pub club_path_deg: ShareReport,
    pub strike_toe_mm: ShareReport,
    pub cg_toe_mm: f64,
    /// What the setting turns the face, right positive.
    pub setting_face_deg: f64,
    pub setting_lie_deg: f64,
    /// Of face angle, club path and strike location: what was not measured but inferred.
    pub inferred: Vec<&'static str>,
    /// Of these: where the device shows another thing than is taken, by more than it errs.
    pub shown_otherwise: Vec<&'static str>,
}

const PATH: usize = 1;
const FACE: usize = 3;
const STRIKE: usize = 5;
/// Components that move a ball sideways.
const SIDEWAYS: [usize; 3] = [PATH, FACE, STRIKE];

impl BlameReport {
    /// From a split in the right-handed frame.
    pub fn new(b: &Blame, hand: Hand) -> BlameReport {
        let s = hand.sign();
        let d = &b.delivery;
        let length = |x: &Share| ShareReport::of(x.mean, x.sd, s);
        let angle = |v: f64, i: usize| ShareReport::of(v, b.delivery_sd[i], s / DEG);
        let names = |of: &dyn Fn(usize) -> bool| -> Vec<&'static str> {
            let those = SIDEWAYS.into_iter().filter(|i| of(*i));
            those.map(|i| COMPONENTS[i].info().name).collect()
        };
        BlameReport {
            sentence: blame_sentence(b, hand),
            parts: b
                .parts
                .iter()
                .map(|p| PartReport {
                    cause: p.cause.name(),
                    start_m: length(&p.start),
                    curve_m: length(&p.curve),
                    offline_m: length(&p.offline),
                })
                .collect(),
            face_angle_deg: angle(d.face_angle, FACE),
            club_path_deg: angle(d.club_path, PATH),
            strike_toe_mm: ShareReport::of(d.strike_toe, b.delivery_sd[STRIKE], 1.0 / MM),
            cg_toe_mm: tidy(b.cg_toe / MM),
            setting_face_deg: tidy(b.turned.face * s / DEG),
            setting_lie_deg: tidy(b.turned.lie / DEG),
            inferred: names(&|i| b.measured[i].is_none()),
            shown_otherwise: names(&|i| b.shown_otherwise(i).is_some()),
        }
    }

    /// The table of parts, with what was not measured.
    pub(super) fn table(&self, page: &mut Page) {
        page.heading(&format!(
            "Where the miss comes from ({}, 80 %)",
            page.length_unit()
        ));
        let cells = |v: &ShareReport, page: &Page| {
            let half = page.in_unit(Z80 * v.sd);
            [page.side(v.mean), format!("{half:.1}")]
        };
        let shown = |v: &ShareReport| v.mean.abs() >= LEAST || v.sd >= LEAST;
        let rows: Vec<Vec<String>> = self
            .parts
            .iter()
            .filter(|p| shown(&p.start_m) || shown(&p.curve_m))
            .map(|p| {
                let mut row = vec![p.cause.to_string()];
                for v in [&p.start_m, &p.curve_m, &p.offline_m] {
                    row.extend(cells(v, page));
                }
                row
            })
            .collect();
        let header = ["", "start", "+/-", "curve", "+/-", "offline", "+/-"];
        page.table(&header, &rows, 1);
        if !self.shown_otherwise.is_empty() {
            let names = self.shown_otherwise.join(", ").replace('_', " ");
            page.line(&format!(
                "The device shows another {names} than the ball's flight fits: what is taken here \
                 weighs both by their errors."
            ));
        }
        if !self.inferred.is_empty() {
            let names = self.inferred.join(", ").replace('_', " ");
            page.line(&format!(
                "Not measured but inferred from the ball and from what is usual: {names}. The \
                 errors of these parts go together; measure them to tell the parts apart."
            ));
        }
    }
}

/// What to mind where the wind across moves the ball by more than a change of the club is worth
/// (`worth`, as a share of the carry): settings are sought for the wind of the shots.
pub fn wind_warning(b: &Blame, worth: f64) -> Option<String> {
    let wind = b.part(Cause::Wind)?.offline.mean.abs();
    (wind > worth * b.carry).then(|| {
        "the wind across moves the ball more than a change is worth, and settings are sought for \
         this wind: hit in calm air before you change the club, or seek them without it (--calm)"
            .into()
    })
}

/// A part below this, m, is not shown in the table.
const LEAST: f64 = 0.05;
/// A start line or curve below this share of the carry is none: 1.2 yd of 240 (common practice, no
/// source).
const NONE: f64 = 0.005;
/// Causes are named until they make this share of what the ball does, but two at most.
const ENOUGH: f64 = 0.7;

/// What the ball does and why, in words: right and left as seen by the player, open and closed, toe
/// and heel as for either hand.
pub fn blame_sentence(b: &Blame, hand: Hand) -> String {
    let [start, curve] = &b.ball;
    let clear = |s: &Share| s.mean.abs() > (Z80 * s.sd).max(NONE * b.carry);
    let side = |v: f64| {
        if v * hand.sign() > 0.0 {
            "right"
        } else {
            "left"
        }
    };
    let mut said = Vec::new();
    let mut doubtful = false;
    for (figure, plain, verb, causes) in [
        (start, "starts on line", "starts", start_causes(b)),
        (curve, "flies straight", "curves", curve_causes(b)),
    ] {
        if !clear(figure) {
            let none = figure.mean.abs() <= NONE * b.carry;
            said.push(format!(
                "{plain}{}",
                if none { "" } else { " within its error" }
            ));
            continue;
        }
        let (words, sure) = because(causes, figure.mean);
        doubtful |= !sure;
        said.push(format!("{verb} {} {words}", side(figure.mean)));
    }
    let mut sentence = format!("The ball {}.", said.join(" and "));
    let whole = b.ball[0].mean + b.ball[1].mean;
    if let Some(strike) = b.part(Cause::Strike) {
        let share = strike.offline.mean / whole;
        let largest = |p: &Part| p.offline.mean.abs() <= strike.offline.mean.abs();
        if share >= 0.5 && b.parts.iter().all(largest) && (clear(start) || clear(curve)) {
            sentence += &format!(
                " The strike point explains it: {:.0} % of where it lands.",
                100.0 * share.min(1.0)
            );
        }
    }
    if doubtful {
        sentence += " That is the likeliest reading, within its error.";
    }
    sentence
}

/// A cause in words with what it does, m.
type Named = (String, Share);

fn start_causes(b: &Blame) -> Vec<Named> {
    b.parts
        .iter()
        .filter_map(|p| Some((phrase(b, p.cause)?, p.start)))
        .collect()
}

/// For the curve, face and path are one cause: the face to the path.
fn curve_causes(b: &Blame) -> Vec<Named> {
    let is_swing = |p: &&Part| matches!(p.cause, Cause::Face | Cause::Path);
    let words = format!("the face is {} to the path", open(b.open_to_path()));
    let others = b.parts.iter().filter(|p| !is_swing(p));
    std::iter::once((words, b.face_to_path))
        .chain(others.filter_map(|p| {
            let words = match p.cause {
                Cause::Strike => format!("{} (gear effect)", phrase(b, p.cause)?),
                cause => phrase(b, cause)?,
            };
            Some((words, p.curve))
        }))
        .collect()
}

fn open(angle: f64) -> String {
    let word = if angle > 0.0 { "open" } else { "closed" };
    format!("{:.1} deg {word}", angle.abs() / DEG)
}

/// A component as it is taken, with what the device shows if that is another thing.
fn with_shown(b: &Blame, component: usize, taken: f64, words: fn(f64) -> String) -> String {
    match b.shown_otherwise(component) {
        None => words(taken),
        Some(shown) => format!("{} (device: {})", words(taken), words(shown)),
    }
}

fn to_out(path: f64) -> String {
    let way = if path > 0.0 { "in to out" } else { "out to in" };
    format!("{:.1} deg {way}", path.abs() / DEG)
}

fn toe(length: f64) -> String {
    let word = if length > 0.0 { "toe" } else { "heel" };
    format!("{:.0} mm toward the {word}", length.abs() / MM)
}

/// A cause in words; none for what is no cause.
fn phrase(b: &Blame, cause: Cause) -> Option<String> {
    let d = &b.delivery;
    Some(match cause {
        Cause::Face if b.turned.face.abs() < 0.05 * DEG => {
            format!("the face is {}", with_shown(b, FACE, d.face_angle, open))
        }
        Cause::Face => format!("the hands bring the face {}", open(b.hands_face)),
        Cause::Path => format!("the path is {}", with_shown(b, PATH, d.club_path, to_out)),
        Cause::Strike => {
            let point = with_shown(b, STRIKE, d.strike_toe, toe);
            format!("the ball is struck {point}")
        }
        Cause::Cg => format!("the club's CG sits {}", toe(b.cg_toe)),
        Cause::Setting => format!("sleeve and bend turn the face {}", open(b.turned.face)),
        Cause::Wind => "the wind pushes it there".into(),
        Cause::Rest => "of something that this model does not explain".into(),
        Cause::Aim => return None,
    })
}

/// The causes that push the way the ball goes, largest first; and whether the first one is sure.
fn because(mut causes: Vec<Named>, whole: f64) -> (String, bool) {
    let toward = whole.signum();
    causes.retain(|(_, s)| s.mean * toward > 0.0);
    causes.sort_by(|a, b| b.1.mean.abs().total_cmp(&a.1.mean.abs()));
    let Some((_, first)) = causes.first().cloned() else {
        return (String::new(), false);
    };
    let mut named = Vec::new();
    let mut explained = 0.0;
    for (words, share) in causes {
        let small = share.mean.abs() < 0.25 * whole.abs();
        if named.len() == 2 || explained >= ENOUGH * whole.abs() || (small && !named.is_empty()) {
            break;
        }
        explained += share.mean.abs();
        named.push(words);
    }
    let sure = first.mean.abs() > Z80 * first.sd;
    let mut words = format!("because {}", named.join(" and "));
    if !words.starts_with("because of") {
        words = words.replace(" and of ", " and because of ");
    }
    (words, sure)
}
