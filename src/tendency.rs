//! Tendency: what the player's ball does, robustly, and whether that differs from the aim at all.

use crate::correction::Local;
use crate::delivery::{LAUNCH, Open, SessionReading, ShotReading};
use crate::hand::Mirror;
use crate::head::ClubKind;
use crate::quantity::Quantity;
use crate::robust::{self, Summary, median_of};
use crate::units::{DEG, RPM};
use nalgebra::{Matrix4, Matrix5, SVector, Vector4};
use statrs::distribution::{ChiSquared, ContinuousCDF, StudentsT};

/// What the player wants the ball to do. Right-handed frame, m.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Aim {
    /// Where the start line should pass at landing distance, right positive.
    pub start: f64,
    /// How much the ball should curve, right positive.
    pub curve: f64,
}

impl Aim {
    /// Where the ball should land, right positive.
    pub fn offline(&self) -> f64 {
        self.start + self.curve
    }
}

impl Mirror for Aim {
    fn mirrored(self) -> Self {
        Aim {
            start: -self.start,
            curve: -self.curve,
        }
    }
}

/// Start offline, curve, carry and apex of a shot, m.
pub type Ground = Vector4<f64>;

/// The ground picture of a shot.
pub fn ground(shot: &ShotReading) -> Ground {
    let direction = shot.launch.launch_direction;
    Ground::new(
        shot.flight.start_offline(direction),
        shot.flight.curve(direction),
        shot.flight.carry(),
        shot.flight.apex,
    )
}

/// Why a shot was flagged.
#[derive(Debug, Clone, PartialEq)]
pub struct Flag {
    /// Index into the session's shots.
    pub index: usize,
    /// In words.
    pub reason: String,
}

/// A mean with its spread and standard error.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Figure {
    /// Robust centre.
    pub mean: f64,
    /// Spread from shot to shot.
    pub sd: f64,
    /// Standard error of the centre, with what unmeasured parts of the launch leave open.
    pub se: f64,
}

/// What the device shows of a ground figure beside what is flown here from the launch it measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Device {
    /// Which figure: carry, offline or apex.
    pub quantity: Quantity,
    /// Median over the shots that have it, m.
    pub shown: f64,
    /// Median of the same shots as flown here, m.
    pub flown: f64,
    /// How many shots have it.
    pub shots: usize,
}

/// How a figure stands against the aim.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Against {
    /// Centre minus aim, m.
    pub miss: f64,
    /// Two-sided p-value of "no miss", Student's t.
    pub p: f64,
    /// Half-width of the 80 % interval of the miss, m.
    pub half_width: f64,
}

/// A miss differs from the aim if a two-sided test says so at this level.
const LEVEL: f64 = 0.10;

impl Against {
    /// Whether the figure differs from the aim beyond noise.
    pub fn differs(&self) -> bool {
        self.p < LEVEL
    }
}

/// Robust summary of a session. Right-handed frame, SI.
#[derive(Debug, Clone, PartialEq)]
pub struct Tendency {
    /// Shots with data.
    pub shots: usize,
    /// Effective number of shots after weighting.
    pub effective: f64,
    /// Effective number of days: as many days of equally many shots would leave as much of what a
    /// day adds (L. Kish 1965, *Survey Sampling*, ch. 11: the effective number of unequal weights).
    pub days: f64,
    /// Start line at landing distance, m.
    pub start: Figure,
    /// Curve, m.
    pub curve: Figure,
    /// Offline at landing, m.
    pub offline: Figure,
    /// Carry, m.
    pub carry: Figure,
    /// Apex, m.
    pub apex: Figure,
    /// Centre and spread of ball speed (m/s), launch angle, launch direction (rad), spin rate
    /// (rad/s), spin axis (rad).
    pub launch: [Figure; 5],
    /// Covariance of these centres.
    pub launch_covariance: Matrix5<f64>,
    /// Centre in ground space.
    pub centre: Ground,
    /// Shot-to-shot covariance in ground space, m².
    pub covariance: Matrix4<f64>,
    /// Start line against the aim.
    pub start_miss: Against,
    /// Curve against the aim.
    pub curve_miss: Against,
    /// Offline against the aim.
    pub offline_miss: Against,
    /// Weight of each shot with data, 0 to 1.
    pub weights: Vec<f64>,
    /// Shots that count little or not, and why.
    pub flags: Vec<Flag>,
    /// What unmeasured parts of the launch leave open.
    pub open: Open,
    /// Ground figures of the device, where it gives any.
    pub device: Vec<Device>,
    /// Median of the face angle as the device shows it, rad, if it looks to the other side than the
    /// ball starts: the sign of one of them is turned.
    pub contrary_face: Option<f64>,
}

impl Tendency {
    /// Covariance of the mean start, curve, carry and apex, m².
    pub fn centre_covariance(&self) -> Matrix4<f64> {
        self.covariance / self.effective.max(1.0) + self.open.ground
    }
}

/// Two days are of one swing unless they differ by more than days do with this probability.
const ONE_SWING: f64 = 0.99;

/// So many shots of a day tell whether it is another swing.
const JUDGED: f64 = 4.5;

impl Tendency {
    /// Whether the launches of two days differ by no more than their scatter and what is believed
    /// before any data of what a day adds ([`crate::correction::Local::day`]): launch angle,
    /// direction, spin axis and spin rate at once, by their Mahalanobis distance. Fewer than
    /// five shots do not tell their own scatter, and are of one swing with all.
    pub fn is_of_one_swing_with(&self, other: &Tendency) -> bool {
        if self.effective.min(other.effective) < JUDGED {
            return true;
        }
        // In the order and the units of `RESPONSES`.
        const RESPONSES: [(usize, f64); 4] = [(1, DEG), (2, DEG), (4, DEG), (3, RPM)];
        let both = self.launch_covariance + other.launch_covariance;
        let apart = Vector4::from(
            RESPONSES.map(|(i, unit)| (self.launch[i].mean - other.launch[i].mean) / unit),
        );
        let shots = Matrix4::from_fn(|r, s| {
            let ((i, a), (j, b)) = (RESPONSES[r], RESPONSES[s]);
            both[(i, j)] / (a * b)
        });
        let days = Local::unlearned().day().fixed_view::<4, 4>(0, 0) * 2.0;
        let (Some(known), Ok(limit)) = ((shots + days).cholesky(), ChiSquared::new(4.0)) else {
            return true;
        };
        // A difference that is no number tells of none.
        !(apart.dot(&known.solve(&apart)) > limit.inverse_cdf(ONE_SWING))
    }
}

/// Usual spread of start, curve, carry and apex by kind, m: the prior scatter (common practice, no
/// source).
pub(crate) fn usual_spread(kind: ClubKind) -> Ground {
    match kind {
        ClubKind::Driver => Ground::new(9.0, 14.0, 12.0, 5.0),
        ClubKind::Fairway => Ground::new(8.0, 11.0, 10.0, 4.5),
        ClubKind::Hybrid => Ground::new(7.0, 8.0, 9.0, 4.0),
        ClubKind::Iron => Ground::new(5.0, 5.0, 7.0, 3.5),
        ClubKind::Wedge => Ground::new(3.5, 2.5, 6.0, 3.0),
    }
}

/// Shots beyond this quantile of the robust distance are flagged.
const FLAG_QUANTILE: f64 = 0.995;

/// Summarises a session; `None` if no shot has data.
pub fn tendency(session: &SessionReading, kind: ClubKind, aim: &Aim) -> Option<Tendency> {
    let rows: Vec<Ground> = session.shots.iter().map(ground).collect();
    let (excluded, mut flags) = mishits(&session.shots);
    let s = robust::summary(&rows, &excluded, &usual_spread(kind))?;
    let far = ChiSquared::new(4.0).ok()?.inverse_cdf(FLAG_QUANTILE);
    for (i, shot) in session.shots.iter().enumerate() {
        if !excluded[i] && (s.distances[i] > far || s.weights[i] == 0.0) {
            flags.push(Flag {
                index: shot.index,
                reason: format!("far from the others; counts {:.0} %", s.weights[i] * 100.0),
            });
        }
    }
    flags.sort_by_key(|f| f.index);
    let along = |v: Ground| {
        let variance = |m: &Matrix4<f64>| (v.transpose() * m * v)[0].max(0.0);
        let spread = variance(&s.covariance);
        Figure {
            mean: v.dot(&s.centre),
            sd: spread.sqrt(),
            se: (spread / s.effective + variance(&session.open.ground)).sqrt(),
        }
    };
    let [start, curve, carry, apex] =
        [Ground::x(), Ground::y(), Ground::z(), Ground::w()].map(along);
    let offline = along(Ground::new(1.0, 1.0, 0.0, 0.0));
    let launch = launch_figures(&session.shots, &rows, &s, &session.open)?;
    let launch_covariance = launch_covariance(&session.shots, &launch, &s, &session.open);
    Some(Tendency {
        shots: rows.len(),
        effective: s.effective,
        days: effective_days(&session.shots, &s.weights),
        start,
        curve,
        offline,
        carry,
        apex,
        contrary_face: contrary_face(&session.shots, launch[2].mean),
        launch,
        launch_covariance,
        start_miss: against(&start, aim.start, s.effective),
        curve_miss: against(&curve, aim.curve, s.effective),
        offline_miss: against(&offline, aim.offline(), s.effective),
        centre: s.centre,
        covariance: s.covariance,
        weights: s.weights,
        flags,
        open: session.open,
        device: [Quantity::Carry, Quantity::Offline, Quantity::Apex]
            .into_iter()
            .filter_map(|q| device(&session.shots, &excluded, q))
            .collect(),
    })
}

fn effective_days(shots: &[ShotReading], weights: &[f64]) -> f64 {
    let mut of = std::collections::BTreeMap::<usize, f64>::new();
    for (s, w) in shots.iter().zip(weights) {
        *of.entry(s.day).or_default() += w;
    }
    let (sum, squares) = of.values().fold((0.0, 0.0), |(s, q), w| (s + w, q + w * w));
    if squares > 0.0 {
        sum * sum / squares
    } else {
        1.0
    }
}

/// Medians of a ground figure as the device shows it and as it is flown here.
fn device(shots: &[ShotReading], excluded: &[bool], quantity: Quantity) -> Option<Device> {
    let (mut shown, mut flown): (Vec<f64>, Vec<f64>) = shots
        .iter()
        .zip(excluded)
        .filter(|(_, out)| !**out)
        .filter_map(|(s, _)| {
            let ours = match quantity {
                Quantity::Carry => s.flight.carry(),
                Quantity::Offline => s.flight.offline,
                Quantity::Apex => s.flight.apex,
                _ => return None,
            };
            Some((s.measured.get(quantity)?, ours))
        })
        .unzip();
    Some(Device {
        quantity,
        shots: shown.len(),
        shown: median_of(&mut shown)?,
        flown: median_of(&mut flown)?,
    })
}

/// See [`Tendency::contrary_face`]; where both were measured in at least half of the shots. A ball
/// starts between path and face, nearer to the face (A. R. Penner 2003, *The physics of golf*, Rep.
/// Prog. Phys. 66, 131-171): to start as far to the other side it would take a path of 10 deg.
fn contrary_face(shots: &[ShotReading], start: f64) -> Option<f64> {
    const CLEAR: f64 = 1.0 * DEG;
    let of = |q| -> Vec<f64> { shots.iter().filter_map(|s| s.measured.get(q)).collect() };
    let half = |v: &Vec<f64>| 2 * v.len() >= shots.len();
    half(&of(Quantity::LaunchDirection)).then_some(())?;
    let face = median_of(&mut Some(of(Quantity::FaceAngle)).filter(half)?)?;
    let contrary = face * start < 0.0 && face.abs().min(start.abs()) > CLEAR;
    (contrary && (face + start).abs() < 0.5 * (face - start).abs()).then_some(face)
}

/// Student's t test of a figure against an aim.
pub fn against(figure: &Figure, aim: f64, effective: f64) -> Against {
    let miss = figure.mean - aim;
    let dof = (effective - 1.0).max(1.0);
    let t = StudentsT::new(0.0, 1.0, dof).expect("dof is at least 1");
    Against {
        miss,
        p: 2.0 * t.cdf(-(miss / figure.se).abs()),
        half_width: t.inverse_cdf(0.9) * figure.se,
    }
}

/// Topped, skied and badly caught shots: robust z-scores of ball speed, launch angle and carry.
fn mishits(shots: &[ShotReading]) -> (Vec<bool>, Vec<Flag>) {
    // Floors keep a machine-like session from flagging ordinary shots.
    type Value = fn(&ShotReading) -> f64;
    let checks: [(&str, &str, Value, f64); 3] = [
        ("ball speed", "m/s", |s| s.launch.ball_speed, 1.0),
        ("launch angle", "deg", |s| s.launch.launch_angle / DEG, 1.5),
        ("carry", "m", |s| s.flight.carry(), 6.0),
    ];
    let mut excluded = vec![false; shots.len()];
    let mut flags = Vec::new();
    for (name, unit, value, floor) in checks {
        let values: Vec<f64> = shots.iter().map(value).collect();
        let centre = median_of(&mut values.clone()).unwrap_or(0.0);
        for (i, out) in robust::outliers(&values, floor, name == "ball speed")
            .into_iter()
            .enumerate()
        {
            if out && !excluded[i] {
                let v = values[i];
                excluded[i] = true;
                flags.push(Flag {
                    index: shots[i].index,
                    reason: format!("mishit: {name} {v:.1} {unit}, usual {centre:.1}; counts 0 %"),
                });
            }
        }
    }
    // A rule that would throw out most of a session has not found mishits.
    if excluded.iter().filter(|e| **e).count() * 2 > shots.len() {
        return (vec![false; shots.len()], Vec::new());
    }
    (excluded, flags)
}

/// Figures of each launch value over the shots as they count on the ground, so that both tell of the
/// same shots; what a device errs stands in for the prior spread.
fn launch_figures(
    shots: &[ShotReading],
    rows: &[Ground],
    s: &Summary<4>,
    open: &Open,
) -> Option<[Figure; 5]> {
    let mut figures = [Figure::default(); 5];
    for (i, figure) in figures.iter_mut().enumerate() {
        let column: Vec<f64> = shots.iter().map(|s| launch_vector(s)[i]).collect();
        let (mean, variance) = s.beside(rows, &column, LAUNCH[i].info().device_sd)?;
        *figure = Figure {
            mean,
            sd: variance.sqrt(),
            se: (variance / s.effective + open.launch[(i, i)].max(0.0)).sqrt(),
        };
    }
    Some(figures)
}

/// Covariance of the centres of the launch: correlated as the shots are, each as it counts.
fn launch_covariance(
    shots: &[ShotReading],
    figures: &[Figure; 5],
    s: &Summary<4>,
    open: &Open,
) -> Matrix5<f64> {
    let mean = SVector::from(figures.map(|f| f.mean));
    let scatter: Matrix5<f64> = (shots.iter().zip(&s.weights))
        .map(|(shot, weight)| {
            let about = launch_vector(shot) - mean;
            about * about.transpose() * *weight
        })
        .sum();
    // What does not scatter goes with nothing.
    let correlation = |i: usize, j: usize| match (scatter[(i, i)] * scatter[(j, j)]).sqrt() {
        _ if i == j => 1.0,
        both if both > 0.0 => scatter[(i, j)] / both,
        _ => 0.0,
    };
    let se = |i: usize| figures[i].sd / s.effective.sqrt();
    Matrix5::from_fn(|i, j| correlation(i, j) * se(i) * se(j)) + open.launch
}

fn launch_vector(s: &ShotReading) -> SVector<f64, 5> {
    let l = &s.launch;
    SVector::from([
        l.ball_speed,
        l.launch_angle,
        l.launch_direction,
        l.spin_rate,
        l.spin_axis,
    ])
}
