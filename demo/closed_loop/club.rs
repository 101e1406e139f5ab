//! A head at a setting in the hands of a player, in the true world: what the ball really does.

use crate::draws::Swing;
use crate::truth::{Kind, Player, World};
use nalgebra::{Rotation3, Vector3};
use trimtab::constants::ImpactConstants;
use trimtab::flight::{Conditions, Flights, Launches, Range};
use trimtab::head::{Head, Setting, SettingError};
use trimtab::hosel::{self, Attitude};
use trimtab::impact::{self, Delivery, Striker};
use trimtab::launch::Launch;
use trimtab::proposal::{Goal, METRE_OFF, Outcome};
use trimtab::tendency::Ground;
use trimtab::units::{DEG, MM, RPM};

/// A head at a setting in the hands of a player.
pub struct TrueClub<'a> {
    player: &'a Player,
    impact: ImpactConstants,
    range: Range<'a>,
    /// With the mass properties of the setting and the attitude of the reference.
    striker: Striker,
    /// With both of the reference.
    before: Striker,
    /// What of the sleeve's turn arrives.
    turn: Rotation3<f64>,
    /// Normal of the face centre at the reference attitude, head frame.
    normal: Vector3<f64>,
    /// Mean delivery, with the answer to the levers.
    mean: Delivery,
}

/// What the ball does on average, and its expected distance from the line. SI, right-handed frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    /// Mean start offline, curve, carry, apex, m.
    pub ground: Ground,
    /// Expected distance from the line, m.
    pub distance: f64,
}

impl Expected {
    /// Mean offline, m.
    pub fn offline(&self) -> f64 {
        self.ground[0] + self.ground[1]
    }

    /// Expected loss for a player who aims straight, as a distance off the line, m.
    pub fn loss(&self, goal: &Goal, carry_before: f64) -> f64 {
        goal.loss_at(&self.ball(), self.distance, carry_before)
            .total()
            / METRE_OFF
    }

    /// As the library tells it.
    pub fn ball(&self) -> Outcome {
        Outcome {
            ground: self.ground,
            offline_sd: 0.0,
            // Spin and landing angle are no part of these players' complaints.
            spin_rate: 0.0,
            landing_angle: 0.0,
        }
    }
}

impl<'a> TrueClub<'a> {
    /// A head whose mean delivery holds at its reference setting.
    pub fn new(
        world: &'a World,
        player: &'a Player,
        head: &Head,
        setting: &Setting,
    ) -> Result<Self, SettingError> {
        let (r, reference) = (&player.response, &head.reference);
        let mut impact = world.impact;
        impact.head_mass_exponent = r.mass_exponent;
        for kind in &mut impact.kinds {
            kind.normal += player.restitution;
        }
        let who = Attitude::GripKept;
        let unturned = Setting {
            clock: reference.clock,
            ..setting.clone()
        };
        let turned = |who| head.attitude(setting, who) * head.attitude(reference, who).inverse();
        let (kept, squared) = (turned(who), turned(Attitude::FaceSquared));
        let (now, then) = (
            head.mass_properties(setting),
            head.mass_properties(reference),
        );
        let cg = (now.cg - then.cg) / MM;
        let grams = (now.mass - then.mass) * 1e3;
        let opened = r.face_per_cg_toe * cg.x;
        let m = &player.mean;
        Ok(TrueClub {
            striker: Striker::new(head, &unturned, reference, who, &impact)?,
            before: Striker::new(head, reference, reference, who, &impact)?,
            // Part of the way from the one to the other.
            turn: (squared * kept.inverse()).powf(r.squares) * kept,
            normal: head.attitude(reference, who) * hosel::face_normal(head.loft),
            mean: Delivery {
                face_angle: m.face_angle + (opened + r.face_per_gram * grams) * DEG,
                club_path: m.club_path + r.path_per_cg_toe * cg.x * DEG,
                dynamic_loft: m.dynamic_loft
                    + (r.loft_with_face * opened - r.loft_per_cg_back * cg.y) * DEG,
                strike_toe: m.strike_toe + r.toe_per_gram * grams * MM,
                ..*m
            },
            range: Range::new(&player.ball, &world.aero, &Conditions::default()),
            player,
            impact,
        })
    }

    /// Mean delivery with the answer to the levers, before the sleeve's turn.
    pub fn mean(&self) -> &Delivery {
        &self.mean
    }

    /// The ball in the true air.
    pub fn range(&self) -> &Range<'a> {
        &self.range
    }

    /// One swing around a mean: what a perfect device would see of the delivery, and the launch.
    pub fn hit(&self, mean: &Delivery, s: &Swing) -> (Delivery, Launch, Kind) {
        let (d, kind) = self.player.swing(mean, s);
        let swing = self.before.swing(&d);
        let swing = impact::Swing {
            hands: swing.hands * self.turn,
            ..swing
        };
        let n = swing.hands * self.normal;
        let seen = Delivery {
            head_speed: self.striker.head_speed(&swing),
            face_angle: n.x.atan2(n.y),
            dynamic_loft: n.z.clamp(-1.0, 1.0).asin(),
            ..d
        };
        let ball = &self.player.ball;
        let mut launch = self.striker.strike(&swing, ball, &self.impact).launch();
        match kind {
            Kind::Topped => {
                launch.ball_speed *= 0.45 + 0.2 * s.how;
                launch.launch_angle = (-4.0 + 7.0 * s.how) * DEG;
                launch.spin_rate = (600.0 + 900.0 * s.how) * RPM;
            }
            Kind::Skied => {
                launch.ball_speed *= 0.78 + 0.08 * s.how;
                launch.launch_angle += (12.0 + 6.0 * s.how) * DEG;
                launch.spin_rate += (1500.0 + 1000.0 * s.how) * RPM;
            }
            Kind::Usual | Kind::Heel => {}
        }
        (seen, launch, kind)
    }

    /// What is expected over the player's swings, mishits included.
    pub fn expected(&self, swings: &[Swing]) -> Expected {
        let launches: Launches = swings
            .iter()
            .map(|s| self.hit(&self.mean, s).1)
            .collect::<Vec<_>>()
            .iter()
            .collect();
        let mut flights = Flights::default();
        self.range.fly_each(&launches, &mut flights);
        let n = swings.len() as f64;
        let mut out = Expected {
            ground: Ground::zeros(),
            distance: 0.0,
        };
        for i in 0..flights.len() {
            let (x, y) = (flights.offline[i], flights.downrange[i]);
            let start = y * launches.launch_direction[i].tan();
            out.ground += Ground::new(start, x - start, x.hypot(y), flights.apex[i]) / n;
            out.distance += x.abs() / n;
        }
        out
    }
}
