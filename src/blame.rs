//! Who is to blame: a session's mean miss, split into what comes from face, path, strike point,
//! club and wind.
//!
//! The player's mean delivery is set against the neutral one: hands that bring a square face, a
//! path along the line, a strike in the face centre, the CG behind the face centre, sleeve and bend
//! as the head was measured, no wind across. What each part does is its Shapley value
//! ([`crate::shapley`]) through impact and flight, so that no order is preferred and the parts add up;
//! what the model leaves unexplained is a part of its own. Attack, loft and speed stay as they are:
//! by themselves they move no ball sideways.
//!
//! The uncertainty is that of the delivery's posterior, of the shots' scatter and of the model's
//! constants, to first order.

use crate::club::Club;
use crate::correction::Z80;
use crate::delivery::{COMPONENTS, Matrix7, SessionReading, Vector7};
use crate::flight::{Conditions, Range};
use crate::head::SettingError;
use crate::hosel::{AngleChange, angle_change};
use crate::impact::{Delivery, Striker};
use crate::physics::Physics;
use crate::robust::median_of;
use crate::shapley::shapley;
use crate::tendency::{Aim, Tendency};
use nalgebra::{Rotation3, SVector, Vector2, Vector3};

/// A part of a miss.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// Where the hands bring the face.
    Face,
    /// The club path.
    Path,
    /// The strike location: bulge and gear effect.
    Strike,
    /// The club: CG toe-ward or heel-ward of the face centre.
    Cg,
    /// The club: face angle and lie by sleeve and bend, against the head as it was measured.
    Setting,
    /// The wind across.
    Wind,
    /// What the model leaves unexplained.
    Rest,
    /// The aim, where it is not straight.
    Aim,
}

impl Cause {
    /// Its name in a table.
    pub fn name(self) -> &'static str {
        match self {
            Cause::Face => "face",
            Cause::Path => "path",
            Cause::Strike => "strike point",
            Cause::Cg => "club, CG",
            Cause::Setting => "club, setting",
            Cause::Wind => "wind",
            Cause::Rest => "unexplained",
            Cause::Aim => "aim",
        }
    }
}

/// The causes that the model knows, in the order of its games.
const MODELLED: [Cause; N] = [
    Cause::Face,
    Cause::Path,
    Cause::Strike,
    Cause::Cg,
    Cause::Setting,
    Cause::Wind,
];
const N: usize = 6;

/// A mean with its standard deviation, m.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Share {
    /// Mean.
    pub mean: f64,
    /// Standard deviation of what is believed of it: an 80 % interval is [`Z80`] of it either way,
    /// also where few shots make it wider than a normal distribution's.
    pub sd: f64,
}

/// What one cause does. Right is positive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// Which.
    pub cause: Cause,
    /// To the start line at landing distance.
    pub start: Share,
    /// To the curve.
    pub curve: Share,
    /// To both together.
    pub offline: Share,
}

/// A miss with its parts. Right-handed frame, SI.
#[derive(Debug, Clone, PartialEq)]
pub struct Blame {
    /// The parts; they add up to `miss`.
    pub parts: Vec<Part>,
    /// Miss of start line, curve and offline against the aim.
    pub miss: [Share; 3],
    /// What the ball does on average: start line and curve.
    pub ball: [Share; 2],
    /// What face and path do to the curve together: surer than each by itself, since the ball shows
    /// it.
    pub face_to_path: Share,
    /// Mean carry, m.
    pub carry: f64,
    /// The player's mean delivery.
    pub delivery: Delivery,
    /// Standard deviation of each component.
    pub delivery_sd: Vector7,
    /// Median of each component as the device shows it, if in at least half of the shots.
    pub measured: [Option<f64>; 7],
    /// Face angle that the hands bring, without what the setting turns, rad.
    pub hands_face: f64,
    /// CG from the face centre, toe-ward, m.
    pub cg_toe: f64,
    /// What sleeve and bend turn against the head as it was measured, as the ball meets it.
    pub turned: AngleChange,
}

impl Blame {
    /// The part of a cause.
    pub fn part(&self, cause: Cause) -> Option<&Part> {
        self.parts.iter().find(|p| p.cause == cause)
    }

    /// What the device shows of a component, if that is farther from what is taken than a device errs.
    pub fn shown_otherwise(&self, component: usize) -> Option<f64> {
        let taken = self.delivery.to_vector()[component];
        let errs = COMPONENTS[component].info().device_sd;
        self.measured[component].filter(|shown| (shown - taken).abs() > errs)
    }

    /// Face angle less path, rad: positive is open to the path.
    pub fn open_to_path(&self) -> f64 {
        self.delivery.face_angle - self.delivery.club_path
    }
}

/// A model with a club in both of its states, ready to be asked for any set of causes.
struct Game<'a> {
    physics: &'a Physics,
    /// By whether the CG and the setting are the club's own: bit 0 and bit 1.
    strikers: [Striker; 4],
    own: Range<'a>,
    calm: Range<'a>,
}

impl<'a> Game<'a> {
    fn new(
        club: &Club,
        physics: &'a Physics,
        conditions: &Conditions,
    ) -> Result<Game<'a>, SettingError> {
        let own = physics.striker(&club.head, &club.setting, &club.setting)?;
        let (cg_toe, back) = (cg_toe(club), turn(club, physics).inverse());
        let k = &physics.impact;
        let centred = Vector3::new(-cg_toe, 0.0, 0.0);
        let mut calm = *conditions;
        calm.wind.toward_right = 0.0;
        Ok(Game {
            physics,
            strikers: [
                own.nudged(centred, 0.0, back, k),
                own.nudged(Vector3::zeros(), 0.0, back, k),
                own.nudged(centred, 0.0, Rotation3::identity(), k),
                own,
            ],
            own: physics.range(conditions),
            calm: physics.range(&calm),
        })
    }

    /// The delivery that the hands would make with the setting as the head was measured.
    fn hands(&self, delivery: &Delivery) -> Delivery {
        self.strikers[1].delivery(&self.strikers[3].swing(delivery))
    }

    /// Start line and curve for a set of causes.
    fn ground(&self, hands: &Delivery, set: usize) -> Vector2<f64> {
        let has = |cause: usize| set & (1 << cause) != 0;
        let keep = |cause: usize, v: f64| if has(cause) { v } else { 0.0 };
        let d = Delivery {
            face_angle: keep(0, hands.face_angle),
            club_path: keep(1, hands.club_path),
            strike_toe: keep(2, hands.strike_toe),
            strike_up: keep(2, hands.strike_up),
            ..*hands
        };
        let striker = &self.strikers[usize::from(has(3)) + 2 * usize::from(has(4))];
        let p = self.physics;
        let swing = self.strikers[1].swing(&d);
        let launch = striker.strike(&swing, &p.ball, &p.impact).launch();
        let range = if has(5) { &self.own } else { &self.calm };
        let (flight, direction) = (range.fly(&launch), launch.launch_direction);
        Vector2::new(flight.start_offline(direction), flight.curve(direction))
    }

    /// What each cause does to start line, curve and offline.
    fn shares(&self, delivery: &Delivery) -> [SVector<f64, 3>; N] {
        let hands = self.hands(delivery);
        shapley(|set| {
            let g = self.ground(&hands, set);
            SVector::from([g.x, g.y, g.x + g.y])
        })
    }
}

fn cg_toe(club: &Club) -> f64 {
    club.head.mass_properties(&club.setting).cg.x
}

/// What sleeve and bend turn, as the ball meets it.
fn turn(club: &Club, physics: &Physics) -> Rotation3<f64> {
    club.head
        .delivered_attitude(&club.setting, physics.attitude, &physics.impact)
}

/// Mean of the shots' deliveries, as each counts, and its covariance by their scatter; the central
/// delivery where none counts.
fn mean_delivery(session: &SessionReading, tendency: &Tendency) -> (Vector7, Matrix7) {
    let shots = session.shots.iter().zip(&tendency.weights);
    let shots = shots.map(|(s, w)| (s.inferred.delivery.to_vector(), *w));
    let total: f64 = tendency.weights.iter().sum();
    if !(total > 0.0) {
        return (session.centre.delivery.to_vector(), Matrix7::zeros());
    }
    let mean: Vector7 = shots.clone().map(|(d, w)| d * (w / total)).sum();
    let scatter: Matrix7 = shots
        .map(|(d, w)| (d - mean) * (d - mean).transpose() * (w / total))
        .sum();
    (mean, scatter / tendency.effective.max(1.0))
}

/// Splits the mean miss of a session that was hit with `club`.
///
/// # Errors
/// If the club's setting is not one that its head has.
pub fn blame(
    session: &SessionReading,
    tendency: &Tendency,
    club: &Club,
    physics: &Physics,
    conditions: &Conditions,
    aim: &Aim,
) -> Result<Blame, SettingError> {
    let game = Game::new(club, physics, conditions)?;
    let (middle, sampling) = mean_delivery(session, tendency);
    let delivery = Delivery::from_vector(&middle);
    let shares = game.shares(&delivery);
    // Of each cause, of all together, of face and path together.
    let mut variance = [SVector::<f64, 3>::zeros(); N + 2];
    let mut add = |change: [SVector<f64, 3>; N]| {
        for (v, c) in variance.iter_mut().zip(&change) {
            *v += c.component_mul(c);
        }
        let all: SVector<f64, 3> = change.iter().sum();
        variance[N] += all.component_mul(&all);
        let swing = change[0] + change[1];
        variance[N + 1] += swing.component_mul(&swing);
    };
    // What few shots scatter is less sure than a normal distribution has it: Student's t.
    let t = tendency;
    let few = t.offline_miss.half_width / (Z80 * t.offline.se).max(f64::MIN_POSITIVE);
    let sampling = sampling * few.powi(2);
    // The fit of the centre takes the medians of club and ball as independent, though they come from
    // the same few shots: what the shots scatter is added. Then along the columns of the covariance's
    // root, so that errors that go together do so here.
    let covariance = session.centre.covariance + sampling;
    let root = covariance.cholesky().map_or_else(Matrix7::zeros, |c| c.l());
    for axis in root.column_iter() {
        const STEP: f64 = 0.1;
        let at = |sign: f64| game.shares(&Delivery::from_vector(&(middle + axis * (sign * STEP))));
        let (up, down) = (at(1.0), at(-1.0));
        add(std::array::from_fn(|i| (up[i] - down[i]) / (2.0 * STEP)));
    }
    for constant in &Physics::uncertain(club.head.kind) {
        let shifted = physics.shifted(constant, 1.0);
        let moved = Game::new(club, &shifted, conditions)?.shares(&delivery);
        add(std::array::from_fn(|i| moved[i] - shares[i]));
    }

    let seen = SVector::from([t.start.mean, t.curve.mean, t.offline.mean]);
    let part = |cause, mean: SVector<f64, 3>, sd: SVector<f64, 3>| {
        let share = |i: usize| Share {
            mean: mean[i],
            sd: sd[i],
        };
        Part {
            cause,
            start: share(0),
            curve: share(1),
            offline: share(2),
        }
    };
    let sd: Vec<_> = variance.iter().map(|v| v.map(f64::sqrt)).collect();
    let mut parts: Vec<Part> = (0..N)
        .map(|i| part(MODELLED[i], shares[i], sd[i]))
        .collect();
    // What is not the parts' is the rest's: it is as sure as their sum.
    let explained: SVector<f64, 3> = shares.iter().sum();
    parts.push(part(Cause::Rest, seen - explained, sd[N]));
    let wanted = SVector::from([aim.start, aim.curve, aim.offline()]);
    if wanted != Vector3::zeros() {
        parts.push(part(Cause::Aim, -wanted, Vector3::zeros()));
    }
    let against = [&t.start_miss, &t.curve_miss, &t.offline_miss];
    let se = against.map(|a| a.half_width / Z80);
    let whole = |i: usize, mean: f64| Share { mean, sd: se[i] };
    let swing = part(Cause::Face, shares[0] + shares[1], sd[N + 1]);
    let shots = session.shots.len();
    Ok(Blame {
        parts,
        miss: std::array::from_fn(|i| whole(i, seen[i] - wanted[i])),
        ball: std::array::from_fn(|i| whole(i, seen[i])),
        face_to_path: swing.curve,
        carry: t.carry.mean,
        delivery,
        delivery_sd: covariance.diagonal().map(|v| v.max(0.0).sqrt()),
        measured: COMPONENTS.map(|q| {
            let with = session.shots.iter().filter_map(|s| s.measured.get(q));
            let mut with: Vec<f64> = with.collect();
            (2 * with.len() >= shots).then(|| median_of(&mut with))?
        }),
        hands_face: game.hands(&delivery).face_angle,
        cg_toe: cg_toe(club),
        turned: angle_change(&turn(club, physics), club.head.loft),
    })
}
