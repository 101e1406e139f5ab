//! Impact: a free rigid head meets a free rigid ball at one point of a curved face.
//!
//! With `r_c` from the head's CG and `r_b` from the ball's centre to the contact point, an impulse
//! `J` on the ball changes the relative contact velocity `u` (head minus ball) by `-W J`,
//!
//! `W = (1/m + 1/M) 1 - [r_b]x I_b⁻¹ [r_b]x - [r_c]x I_c⁻¹ [r_c]x`.
//!
//! The normal part of `u` reverses with the restitution `e`, which falls with normal speed; the
//! tangential part with `e_t`. If that needs more than friction can give, the contact slides:
//! `J = J_n (n + mu t)` with `t` along the tangential impulse that sticking would have needed, so
//! that sticking and sliding join without a jump. Finally the impulse is scaled back in the rare
//! case that it would create energy (restitution with strong coupling can), so that kinetic energy
//! never grows.
//!
//! Nothing else is added: gear effect, horizontal and vertical, and the way in which launch
//! direction lies between path and face, come out of `r_c` and the face normal by themselves.
//!
//! Sources: Goldsmith 1960, *Impact*; Stronge 2000, *Impact Mechanics*, ch. 3 and 4 (rigid bodies
//! with friction); Penner 2001, Am. J. Phys. 69, 563 (restitution against normal speed, its
//! planar limit); Penner 2003, Rep. Prog. Phys. 66, 131 (review).

mod delivery;
mod inherit;

pub use delivery::{COMPONENTS, Delivery, Vector7};
pub use inherit::Inherit;

use crate::ball::Ball;
use crate::constants::{ImpactConstants, Restitution};
use crate::head::{Face, Head, MassProperties, Setting};
use crate::hosel::{self, Attitude};
use crate::launch::Launch;
use nalgebra::{Matrix3, Rotation3, Vector3};

/// A head at one setting, made ready for many impacts.
#[derive(Debug, Clone)]
pub struct Striker {
    mass: f64,
    cg: Vector3<f64>,
    inverse_inertia: Matrix3<f64>,
    face: Face,
    loft: f64,
    /// Attitude relative to the reference setting.
    attitude: Rotation3<f64>,
    /// Up the shaft, head frame; zero where there is none.
    shaft: Vector3<f64>,
    /// Turn open about the shaft, rad: a CG farther from the shaft is closed more slowly.
    opened: f64,
    /// Attitude that the hands' turn meets: closing, then sleeve and bend.
    turned: Rotation3<f64>,
    /// The same for each metre of CG.
    opens_per_cg_toe: f64,
    /// Factor on head speed from the change of mass against the reference setting.
    speed_factor: f64,
    restitution: Restitution,
}

impl Striker {
    /// Prepares a head at a setting. `base` is the setting at which the player's head speed was
    /// seen: `M V^n = const` from there on (`n` in the constants).
    ///
    /// # Errors
    /// If the setting is not one that the head has.
    pub fn new(
        head: &Head,
        setting: &Setting,
        base: &Setting,
        attitude: Attitude,
        constants: &ImpactConstants,
    ) -> Result<Striker, crate::head::SettingError> {
        Striker::on_the_shaft_of(head, setting, head, base, attitude, constants)
    }

    /// The same for a head on the shaft of another one, `own`, at whose setting `base` head speed was
    /// seen. The shaft stays in the hands as it was: by what the new head's lie is more upright, its
    /// toe is higher.
    ///
    /// # Errors
    /// If the setting is not one that the head has.
    pub fn on_the_shaft_of(
        head: &Head,
        setting: &Setting,
        own: &Head,
        base: &Setting,
        attitude: Attitude,
        constants: &ImpactConstants,
    ) -> Result<Striker, crate::head::SettingError> {
        setting.check(head)?;
        let body = head.mass_properties(setting);
        let base_mass = own.mass_properties(base).mass;
        let by_kind = constants.restitution(head.kind);
        let mut striker = Striker::from_parts(
            &body,
            head.face,
            head.loft,
            Restitution {
                normal: head.restitution.unwrap_or(by_kind.normal),
                ..by_kind
            },
        );
        striker.attitude = head.delivered_attitude(setting, attitude, constants);
        if head.lie != own.lie {
            striker.attitude = hosel::bend(0.0, head.lie - own.lie) * striker.attitude;
        }
        striker.shaft = Vector3::new(-head.lie.cos(), 0.0, head.lie.sin());
        striker.opens_per_cg_toe = constants.opens_per_cg_toe;
        let reference = own.mass_properties(&own.reference);
        striker.opened = constants.opens_per_cg_toe * (body.cg.x - reference.cg.x);
        striker.speed_factor = (body.mass / base_mass).powf(-1.0 / constants.head_mass_exponent);
        Ok(striker.turn())
    }

    /// A striker from bare mass properties and a face, at its reference attitude.
    pub fn from_parts(
        body: &MassProperties,
        face: Face,
        loft: f64,
        restitution: Restitution,
    ) -> Striker {
        Striker {
            mass: body.mass,
            cg: body.cg,
            inverse_inertia: body.inertia.try_inverse().unwrap_or_else(Matrix3::zeros),
            face,
            loft,
            attitude: Rotation3::identity(),
            shaft: Vector3::zeros(),
            opened: 0.0,
            turned: Rotation3::identity(),
            opens_per_cg_toe: 0.0,
            speed_factor: 1.0,
            restitution,
        }
    }

    /// This striker when all else of it is set.
    fn turn(self) -> Striker {
        Striker {
            turned: Rotation3::new(self.shaft * -self.opened) * self.attitude,
            ..self
        }
    }

    /// Splits a delivery that was made with *this* striker into what belongs to the swing.
    pub fn swing(&self, d: &Delivery) -> Swing {
        // Hands turn the head by yaw and pitch only: find them so that this striker's face-centre
        // normal, in its present attitude, ends up where the delivery says.
        let v = self.turned * hosel::face_normal(self.loft);
        let radius = v.y.hypot(v.z);
        let pitch = (d.dynamic_loft.sin() / radius).clamp(-1.0, 1.0).asin() - v.z.atan2(v.y);
        let pitch = Rotation3::from_axis_angle(&Vector3::x_axis(), pitch);
        let pitched = pitch * v;
        let yaw = d.face_angle - pitched.x.atan2(pitched.y);
        let hands = Rotation3::from_axis_angle(&Vector3::z_axis(), -yaw) * pitch;
        let (sp, cp) = d.club_path.sin_cos();
        let (sa, ca) = d.attack_angle.sin_cos();
        Swing {
            hands,
            velocity: Vector3::new(ca * sp, ca * cp, sa) * (d.head_speed / self.speed_factor),
            strike_toe: d.strike_toe,
            strike_up: d.strike_up,
        }
    }

    /// The delivery that a swing makes with this striker: what [`Striker::swing`] took apart.
    pub fn delivery(&self, swing: &Swing) -> Delivery {
        let normal = swing.hands * self.turned * hosel::face_normal(self.loft);
        let velocity = swing.velocity * self.speed_factor;
        Delivery {
            head_speed: velocity.norm(),
            club_path: velocity.x.atan2(velocity.y),
            attack_angle: velocity.z.atan2(velocity.x.hypot(velocity.y)),
            face_angle: normal.x.atan2(normal.y),
            dynamic_loft: normal.z.clamp(-1.0, 1.0).asin(),
            strike_toe: swing.strike_toe,
            strike_up: swing.strike_up,
        }
    }

    /// One impact of a swing with this striker.
    pub fn strike(&self, swing: &Swing, ball: &Ball, k: &ImpactConstants) -> Impact {
        let orientation = swing.hands * self.turned;
        let v_head = orientation.inverse_transform_vector(&(swing.velocity * self.speed_factor));
        let (point, n) = self.face.at(swing.strike_toe, swing.strike_up, self.loft);
        let r_c = point - self.cg;
        let u = v_head; // the ball is at rest, the head does not turn
        let u_n = u.dot(&n);
        if u_n <= 0.0 {
            return Impact::missed(swing.velocity * self.speed_factor);
        }
        let cross = r_c.cross_matrix();
        let w = Matrix3::identity() * (1.0 / ball.mass + 1.0 / self.mass)
            + (Matrix3::identity() - n * n.transpose())
                * (ball.radius * ball.radius / ball.inertia)
            - cross * self.inverse_inertia * cross;

        let e = k.restitution_at(self.restitution.normal, u_n);
        let u_t = u - n * u_n;
        let e_t = self.restitution.tangential;
        // Sticking: W J = (1 + e) u_n n + (1 + e_t) u_t. W is symmetric positive definite.
        let wanted = n * ((1.0 + e) * u_n) + u_t * (1.0 + e_t);
        let mut j = w
            .try_inverse()
            .map_or_else(Vector3::zeros, |inv| inv * wanted);
        let j_n = j.dot(&n);
        let j_t = j - n * j_n;
        let friction_limit = k.friction * j_n;
        let sliding = j_t.norm() > friction_limit;
        if sliding {
            let along = n + j_t * (k.friction / j_t.norm());
            j = along * ((1.0 + e) * u_n / n.dot(&(w * along)));
        }
        // Energy: dT = -J.u + J.W J / 2 must not be positive.
        let taken = j.dot(&(w * j));
        let scale = if taken > 0.0 {
            (2.0 * j.dot(&u) / taken).min(1.0)
        } else {
            1.0
        };
        j *= scale;
        let energy_lost = j.dot(&u) - 0.5 * scale * scale * taken;

        let spin = -n.cross(&j) * (ball.radius / ball.inertia);
        let head_spin = -self.inverse_inertia * r_c.cross(&j);
        Impact {
            ball_velocity: orientation * (j / ball.mass),
            ball_spin: orientation * spin,
            head_velocity: orientation * (v_head - j / self.mass),
            head_spin: orientation * head_spin,
            impulse: orientation * j,
            sliding,
            energy_lost,
        }
    }

    /// Launch for a delivery that was made with this striker.
    pub fn launch(&self, d: &Delivery, ball: &Ball, k: &ImpactConstants) -> Launch {
        self.strike(&self.swing(d), ball, k).launch()
    }

    /// Head speed after the change of mass, m/s.
    pub fn head_speed(&self, swing: &Swing) -> f64 {
        swing.velocity.norm() * self.speed_factor
    }
}

/// The part of a delivery that belongs to the player's hands: it stays when the club is changed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Swing {
    /// Turn of the head from address to impact.
    pub hands: Rotation3<f64>,
    /// Velocity of the head at the base setting's mass, m/s, target frame.
    pub velocity: Vector3<f64>,
    /// Strike location toe-ward, m.
    pub strike_toe: f64,
    /// Strike location crown-ward, m.
    pub strike_up: f64,
}

/// The outcome of an impact, in the target frame, SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Impact {
    /// Velocity of the ball, m/s.
    pub ball_velocity: Vector3<f64>,
    /// Angular velocity of the ball, rad/s.
    pub ball_spin: Vector3<f64>,
    /// Velocity of the head's CG, m/s.
    pub head_velocity: Vector3<f64>,
    /// Angular velocity of the head, rad/s.
    pub head_spin: Vector3<f64>,
    /// Impulse on the ball, N s.
    pub impulse: Vector3<f64>,
    /// Whether the ball was still sliding on the face when it left.
    pub sliding: bool,
    /// Kinetic energy that became something else, J; never negative beyond rounding.
    pub energy_lost: f64,
}

impl Impact {
    fn missed(head_velocity: Vector3<f64>) -> Impact {
        let zero = Vector3::zeros();
        Impact {
            ball_velocity: zero,
            ball_spin: zero,
            head_velocity,
            head_spin: zero,
            impulse: zero,
            sliding: false,
            energy_lost: 0.0,
        }
    }

    /// The launch as a tracking device reports it.
    pub fn launch(&self) -> Launch {
        Launch::from_vectors(&self.ball_velocity, &self.ball_spin)
    }
}
