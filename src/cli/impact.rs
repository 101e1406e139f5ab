//! A bare calculation: one impact.

use super::Failure;
use super::args::{Given, QuantityList, Weather};
use super::context::Context;
use super::flight::{FlightReport, flight_report};
use super::mass::HeadAt;
use crate::hand::Hand;
use crate::impact::Delivery;
use crate::quantity::Quantity;
use crate::report::{Page, Report, fixed, signed, tidy};
use crate::units::{DEG, RPM};
use clap::Args;
use serde::Serialize;

/// The quantities of a delivery.
#[derive(Debug, Clone, Default)]
pub(super) struct DeliveryFlags;
impl QuantityList for DeliveryFlags {
    const LIST: &'static [Quantity] = &crate::delivery::COMPONENTS;
}

/// One impact: a delivery with a head gives a launch, and its flight.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  trimtab impact --head-file heron.toml --head-speed-mph 105 --strike-toe-mm 5"
)]
pub(super) struct ImpactArgs {
    #[command(flatten)]
    head: HeadAt,
    /// Left-handed [default: as the head file says].
    #[arg(long)]
    left: bool,
    #[command(flatten)]
    given: Given<DeliveryFlags>,
    #[command(flatten)]
    weather: Weather,
}

#[derive(Serialize)]
struct ImpactReport {
    head: String,
    setting: String,
    head_speed_m_s: f64,
    club_path_deg: f64,
    face_angle_deg: f64,
    attack_angle_deg: f64,
    dynamic_loft_deg: f64,
    strike_toe_mm: f64,
    strike_up_mm: f64,
    ball_speed_m_s: f64,
    speed_ratio: f64,
    launch_angle_deg: f64,
    launch_direction_deg: f64,
    spin_rate_rpm: f64,
    spin_axis_deg: f64,
    sliding: bool,
    head_speed_after_m_s: f64,
    energy_lost_j: f64,
    flight: FlightReport,
}

impl ImpactArgs {
    pub fn run(self, c: &mut Context<'_, '_>) -> Result<(), Failure> {
        let (head, setting, of_head) = self.head.read(c)?;
        let physics = c.physics()?;
        let hand = if self.left { Hand::Left } else { of_head };
        // The usual player's swing, made with the head as it was measured: a setting changes what
        // it delivers.
        let usual = Delivery::from_vector(&crate::priors::player(&head).mean);
        let reference = physics.striker(&head, &head.reference, &head.reference)?;
        let striker = physics.striker(&head, &setting, &head.reference)?;
        let given = hand.turn(self.given.0);
        let mut v = striker.delivery(&reference.swing(&usual)).to_vector();
        for (i, q) in crate::delivery::COMPONENTS.iter().enumerate() {
            v[i] = given.get(*q).unwrap_or(v[i]);
        }
        let delivery = Delivery::from_vector(&v);
        let off_the_face = delivery.strike_toe.abs() > head.face.half_width
            || delivery.strike_up.abs() > head.face.half_height;
        if off_the_face {
            c.note(&format!(
                "this strike is off the face, which is {:.0} by {:.0} mm: taken as if it went on",
                head.face.half_width * 2e3,
                head.face.half_height * 2e3
            ));
        }
        let impact = striker.strike(&striker.swing(&delivery), &physics.ball, &physics.impact);
        let launch = hand.turn(impact.launch());
        let flight = flight_report(&launch, &self.weather, &physics)?;
        c.show(&ImpactReport {
            setting: setting.describe(&head),
            head: head.name,
            head_speed_m_s: tidy(delivery.head_speed),
            club_path_deg: tidy(delivery.club_path * hand.sign() / DEG),
            face_angle_deg: tidy(delivery.face_angle * hand.sign() / DEG),
            attack_angle_deg: tidy(delivery.attack_angle / DEG),
            dynamic_loft_deg: tidy(delivery.dynamic_loft / DEG),
            strike_toe_mm: tidy(delivery.strike_toe * 1e3),
            strike_up_mm: tidy(delivery.strike_up * 1e3),
            ball_speed_m_s: tidy(launch.ball_speed),
            speed_ratio: tidy(launch.ball_speed / delivery.head_speed),
            launch_angle_deg: tidy(launch.launch_angle / DEG),
            launch_direction_deg: tidy(launch.launch_direction / DEG),
            spin_rate_rpm: tidy(launch.spin_rate / RPM),
            spin_axis_deg: tidy(launch.spin_axis / DEG),
            sliding: impact.sliding,
            head_speed_after_m_s: tidy(impact.head_velocity.norm()),
            energy_lost_j: tidy(impact.energy_lost),
            flight,
        })
    }
}

impl Report for ImpactReport {
    fn text(&self, page: &mut Page) {
        page.heading(&format!("{}: {}", self.head, self.setting));
        page.answer(&format!(
            "Ball {}, launch {} deg, direction {} deg, spin {:.0} rpm, axis {} deg.",
            page.speed(self.ball_speed_m_s),
            fixed(self.launch_angle_deg, 1),
            signed(self.launch_direction_deg, 1),
            self.spin_rate_rpm,
            signed(self.spin_axis_deg, 1)
        ));
        page.line(&format!(
            "Ball over head speed {:.3}; head {} after; {:.0} J lost; the ball {} the face.",
            self.speed_ratio,
            page.speed(self.head_speed_after_m_s),
            self.energy_lost_j,
            if self.sliding { "slid on" } else { "gripped" }
        ));
        page.line(&format!(
            "Delivery: head {}, path {}, face {}, attack {}, dynamic loft {} deg, strike {} mm \
             toe-ward, {} up.",
            page.speed(self.head_speed_m_s),
            signed(self.club_path_deg, 1),
            signed(self.face_angle_deg, 1),
            signed(self.attack_angle_deg, 1),
            fixed(self.dynamic_loft_deg, 1),
            fixed(self.strike_toe_mm, 0),
            fixed(self.strike_up_mm, 0),
        ));
        page.line("What was not given is a usual player's swing with this kind of club.");
        self.flight.text(page);
    }
}
