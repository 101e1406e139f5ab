//! The ball: a rigid sphere, with two factors that fit an aerodynamic set to a modern ball.

/// A golf ball. All SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ball {
    /// Mass, kg. The rules allow at most 45.93 g.
    pub mass: f64,
    /// Radius, m. The rules ask for a diameter of at least 42.67 mm.
    pub radius: f64,
    /// Moment of inertia about a diameter, kg m².
    pub inertia: f64,
    /// Factor on the drag coefficient of the aerodynamic set.
    pub drag_factor: f64,
    /// Factor on the lift coefficient of the aerodynamic set.
    pub lift_factor: f64,
}

impl Ball {
    /// A uniform sphere of the given mass (kg) and radius (m), `I = 2/5 m r²`, factors 1.
    pub const fn uniform(mass: f64, radius: f64) -> Ball {
        Ball {
            mass,
            radius,
            inertia: 0.4 * mass * radius * radius,
            drag_factor: 1.0,
            lift_factor: 1.0,
        }
    }

    /// The heaviest and smallest ball that the rules allow: 45.93 g, 42.67 mm.
    /// Source: Equipment Rules of the governing bodies, Part 4.
    pub const fn conforming() -> Ball {
        Ball::uniform(0.045_93, 0.021_335)
    }
}

impl Default for Ball {
    fn default() -> Self {
        Ball::conforming()
    }
}
