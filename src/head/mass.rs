//! Mass, centre of gravity and inertia of rigid bodies, and how they add up.
//!
//! Composition is plain addition by the parallel-axis theorem (Steiner); removal is the same with
//! the sign turned. Source: Goldstein, Poole, Safko 2002, *Classical Mechanics*, 3rd ed., ch. 5.

use nalgebra::{Matrix3, SymmetricEigen, Vector3};

/// Mass properties of a rigid body in the head frame (x toe-ward, y out of the face, z up,
/// origin at the face centre).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MassProperties {
    /// Mass, kg.
    pub mass: f64,
    /// Centre of gravity, m.
    pub cg: Vector3<f64>,
    /// Inertia tensor about the centre of gravity, kg m², with minus signs in the products of
    /// inertia (`I_xy = -∫ x y dm`).
    pub inertia: Matrix3<f64>,
}

impl MassProperties {
    /// Nothing at all: the neutral element of addition.
    pub fn nothing() -> Self {
        MassProperties {
            mass: 0.0,
            cg: Vector3::zeros(),
            inertia: Matrix3::zeros(),
        }
    }

    /// A solid box of full edge lengths `size` (m) along the axes, centred at `at`. With a zero
    /// size it is a point mass. `I_xx = m (b² + c²) / 12` and so on.
    pub fn solid_box(mass: f64, at: Vector3<f64>, size: Vector3<f64>) -> Self {
        let s = size.component_mul(&size) * (mass / 12.0);
        MassProperties {
            mass,
            cg: at,
            inertia: Matrix3::from_diagonal(&Vector3::new(s.y + s.z, s.x + s.z, s.x + s.y)),
        }
    }

    /// Inertia about another point `about` (m, head frame), kg m².
    pub fn inertia_about(&self, about: Vector3<f64>) -> Matrix3<f64> {
        self.inertia + steiner(self.mass, self.cg - about)
    }

    /// This body and another one together.
    pub fn with(&self, other: &MassProperties) -> MassProperties {
        combine(self, other, 1.0)
    }

    /// What remains when a part of this body is taken out.
    pub fn without(&self, part: &MassProperties) -> MassProperties {
        combine(self, part, -1.0)
    }

    /// `Ok` if a real body can have these properties: finite, positive mass, principal moments
    /// positive, and no moment larger than the sum of the other two.
    pub fn check(&self) -> Result<(), String> {
        let finite = self.mass.is_finite()
            && self.cg.iter().all(|v| v.is_finite())
            && self.inertia.iter().all(|v| v.is_finite());
        if !finite {
            return Err("mass properties must be finite numbers".into());
        }
        if self.mass <= 0.0 {
            return Err(format!("mass must be positive, is {:.4} kg", self.mass));
        }
        let asymmetry = (self.inertia - self.inertia.transpose()).abs().max();
        if asymmetry > 1e-9 * self.inertia.abs().max() {
            return Err("the inertia tensor must be symmetric".into());
        }
        let mut p = SymmetricEigen::new(self.inertia).eigenvalues;
        p.as_mut_slice().sort_by(f64::total_cmp);
        if p[0] <= 0.0 || p[2] > (p[0] + p[1]) * (1.0 + 1e-9) {
            return Err(format!(
                "no rigid body has principal moments {:.0}, {:.0}, {:.0} g cm2: each must be \
                 positive and at most the sum of the other two",
                p[0] * 1e7,
                p[1] * 1e7,
                p[2] * 1e7
            ));
        }
        Ok(())
    }
}

impl std::iter::Sum for MassProperties {
    fn sum<I: Iterator<Item = MassProperties>>(bodies: I) -> MassProperties {
        bodies.fold(MassProperties::nothing(), |a, b| a.with(&b))
    }
}

/// Parallel-axis term: the inertia of a point mass at `r`.
fn steiner(mass: f64, r: Vector3<f64>) -> Matrix3<f64> {
    (Matrix3::identity() * r.norm_squared() - r * r.transpose()) * mass
}

fn combine(a: &MassProperties, b: &MassProperties, sign: f64) -> MassProperties {
    let mass = a.mass + sign * b.mass;
    if mass == 0.0 {
        return MassProperties::nothing();
    }
    let cg = (a.cg * a.mass + b.cg * (sign * b.mass)) / mass;
    MassProperties {
        mass,
        cg,
        inertia: a.inertia_about(cg) + b.inertia_about(cg) * sign,
    }
}
