//! The integrator: `L` flights side by side in lanes, a lane refilled as soon as its ball lands.
//!
//! One flight is the case of one lane. Each lane does the same operations in the same order
//! whatever its neighbours do, so that the number of lanes and of threads never shows in a result.

// Lanes are indexed by number, so that the loops stay alike and the compiler can vectorise them.
#![allow(clippy::needless_range_loop)]

use super::{Flight, MAX_TIME, Point, Precision, Range, WIND_LOWEST_HEIGHT, WIND_REFERENCE_HEIGHT};
use crate::launch::Launch;
use crate::units::STANDARD_GRAVITY;

/// Step of the tight flight, s.
const TIGHT_STEP: f64 = 2e-3;
/// Way that a step of the fast flight covers, m: speed, and with it the coefficients, changes with
/// the way, so that equal ways share out the error. In a sheared wind a step changes the height by
/// no more than the height itself, since there the power law bends.
const FAST_WAY: f64 = 10.0;
/// Longest step of the fast flight, s.
const LONGEST_STEP: f64 = 0.4;
/// Shortest step of the fast flight, s, so that every flight ends soon.
const SHORTEST_STEP: f64 = 0.02;

/// Position, velocity and spin rate of the balls.
#[derive(Clone, Copy)]
struct State<const L: usize> {
    p: [[f64; L]; 3],
    v: [[f64; L]; 3],
    w: [f64; L],
}

/// Time derivative of velocity and spin rate.
#[derive(Clone, Copy)]
struct Rate<const L: usize> {
    a: [[f64; L]; 3],
    w: [f64; L],
}

impl Range<'_> {
    #[inline(always)]
    fn rate<const L: usize>(&self, s: &State<L>, axis: &[[f64; L]; 3]) -> Rate<L> {
        let [mut x, mut y, z] = s.v;
        if self.wind.toward_right != 0.0 || self.wind.toward_target != 0.0 {
            for i in 0..L {
                let profile = if self.wind.shear == 0.0 {
                    1.0
                } else {
                    (s.p[2][i].max(WIND_LOWEST_HEIGHT) / WIND_REFERENCE_HEIGHT)
                        .powf(self.wind.shear)
                };
                x[i] -= self.wind.toward_right * profile;
                y[i] -= self.wind.toward_target * profile;
            }
        }
        let (mut speed, mut re, mut ratio) = ([0.0; L], [0.0; L], [0.0; L]);
        for i in 0..L {
            speed[i] = (x[i] * x[i] + y[i] * y[i] + z[i] * z[i]).sqrt().max(1e-9);
            re[i] = self.re_per_speed * speed[i];
            ratio[i] = self.radius * s.w[i] / speed[i];
        }
        let [cd, cl] = self.aero.lanes(&re, &ratio);
        let mut out = Rate {
            a: [[0.0; L]; 3],
            w: [0.0; L],
        };
        for i in 0..L {
            let d = -self.drag * cd[i] * speed[i];
            let l = self.lift * cl[i] * speed[i];
            let (ax, ay, az) = (axis[0][i], axis[1][i], axis[2][i]);
            out.a[0][i] = d * x[i] + l * (ay * z[i] - az * y[i]);
            out.a[1][i] = d * y[i] + l * (az * x[i] - ax * z[i]);
            out.a[2][i] = d * z[i] + l * (ax * y[i] - ay * x[i]) - STANDARD_GRAVITY;
            out.w[i] = -self.decay * s.w[i] * speed[i];
        }
        out
    }

    /// Length of the next step, s.
    #[inline(always)]
    fn step<const L: usize>(&self, s: &State<L>) -> [f64; L] {
        match self.precision {
            Precision::Tight => [TIGHT_STEP; L],
            Precision::Fast => std::array::from_fn(|i| {
                let [x, y, z] = s.v.map(|v| v[i]);
                let mut h = (FAST_WAY / (x * x + y * y + z * z).sqrt()).min(LONGEST_STEP);
                if self.wind.shear != 0.0 {
                    h = h.min(s.p[2][i].max(WIND_LOWEST_HEIGHT) / z.abs());
                }
                h.max(SHORTEST_STEP)
            }),
        }
    }

    /// One classic Runge-Kutta step of length `h` (s), with `k1` the rate at `s`.
    #[inline(always)]
    fn advance<const L: usize>(
        &self,
        s: &State<L>,
        k1: &Rate<L>,
        h: &[f64; L],
        axis: &[[f64; L]; 3],
    ) -> State<L> {
        let shift = |v: &[[f64; L]; 3], r: &Rate<L>, part: f64| {
            let mut out = *s;
            for i in 0..L {
                let f = part * h[i];
                for c in 0..3 {
                    out.p[c][i] += f * v[c][i];
                    out.v[c][i] += f * r.a[c][i];
                }
                out.w[i] += f * r.w[i];
            }
            out
        };
        let s2 = shift(&s.v, k1, 0.5);
        let k2 = self.rate(&s2, axis);
        let s3 = shift(&s2.v, &k2, 0.5);
        let k3 = self.rate(&s3, axis);
        let s4 = shift(&s3.v, &k3, 1.0);
        let k4 = self.rate(&s4, axis);
        let mut out = *s;
        for i in 0..L {
            let f = h[i] / 6.0;
            let sum = |a: f64, b: f64, c: f64, d: f64| f * (a + 2.0 * (b + c) + d);
            for c in 0..3 {
                out.p[c][i] += sum(s.v[c][i], s2.v[c][i], s3.v[c][i], s4.v[c][i]);
                out.v[c][i] += sum(k1.a[c][i], k2.a[c][i], k3.a[c][i], k4.a[c][i]);
            }
            out.w[i] += sum(k1.w[i], k2.w[i], k3.w[i], k4.w[i]);
        }
        out
    }

    /// Flies the launches `0..count` in `L` lanes and hands each flight to `land` with its number.
    /// `visit` sees the points of lane 0.
    #[inline(always)]
    pub(super) fn integrate<const L: usize>(
        &self,
        count: usize,
        launch: impl Fn(usize) -> Launch,
        mut land: impl FnMut(usize, Flight),
        mut visit: impl FnMut(Point),
    ) {
        let mut s = State {
            p: [[0.0; L]; 3],
            v: [[0.0; L]; 3],
            w: [0.0; L],
        };
        let mut axis = [[0.0; L]; 3];
        let mut who = [None; L];
        let mut time = [0.0; L];
        let mut apex = [0.0_f64; L];
        let mut queue = 0..count;
        // Puts the next ball that rises into a lane; one that does not lands where it starts.
        let mut load = |i: usize,
                        s: &mut State<L>,
                        axis: &mut [[f64; L]; 3],
                        land: &mut dyn FnMut(usize, Flight),
                        visit: &mut dyn FnMut(Point)| {
            for n in queue.by_ref() {
                let l = launch(n);
                let v = l.velocity();
                if v.z > 0.0 && (v.norm() + l.spin().norm()).is_finite() {
                    let spin = l.spin();
                    let rate = l.spin_rate.abs().max(f64::MIN_POSITIVE);
                    for c in 0..3 {
                        s.p[c][i] = 0.0;
                        s.v[c][i] = v[c];
                        axis[c][i] = spin[c] / rate;
                    }
                    s.w[i] = l.spin_rate.abs();
                    if i == 0 {
                        visit(Point::default());
                    }
                    return Some(n);
                }
                let lost = !(v.norm() + l.spin().norm()).is_finite();
                let start = if lost { f64::NAN } else { 0.0 };
                land(
                    n,
                    Flight {
                        offline: start,
                        downrange: start,
                        apex: start,
                        time: start,
                        velocity: v,
                        spin_rate: l.spin_rate,
                    },
                );
            }
            // Nothing left: the lane idles on a ball at rest.
            for c in 0..3 {
                s.p[c][i] = 1e9;
                s.v[c][i] = 0.0;
            }
            None
        };
        for (i, w) in who.iter_mut().enumerate() {
            *w = load(i, &mut s, &mut axis, &mut land, &mut visit);
        }
        while who.iter().any(Option::is_some) {
            let k = self.rate(&s, &axis);
            let h = self.step(&s);
            let next = self.advance(&s, &k, &h, &axis);
            let mut event = false;
            for i in 0..L {
                time[i] += h[i];
                let top = s.v[2][i] > 0.0 && !(next.v[2][i] > 0.0);
                event |= top || !(next.p[2][i] > 0.0) || time[i] > MAX_TIME;
            }
            let before = s;
            s = next;
            if !event {
                if L == 1 {
                    visit(Point {
                        time: time[0],
                        position: [s.p[0][0], s.p[1][0], s.p[2][0]].into(),
                    });
                }
                continue;
            }
            for i in 0..L {
                let Some(n) = who[i] else { continue };
                let h = h[i];
                let (z0, u0) = (before.p[2][i], before.v[2][i]);
                let (z1, u1) = (s.p[2][i], s.v[2][i]);
                if u0 > 0.0 && !(u1 > 0.0) {
                    let t = zero(|t| hermite_slope(t, h, z0, u0, z1, u1));
                    // A ball with much lift may climb more than once.
                    apex[i] = apex[i].max(hermite(t, h, z0, u0, z1, u1));
                }
                if z1 > 0.0 && time[i] <= MAX_TIME {
                    if L == 1 {
                        let position = [s.p[0][0], s.p[1][0], s.p[2][0]].into();
                        visit(Point {
                            time: time[0],
                            position,
                        });
                    }
                    continue;
                }
                // In the first step the start itself is at height zero: look beyond it.
                let height = |t| hermite(t, h, z0, u0, z1, u1);
                let t = if z0 > 0.0 {
                    zero(height)
                } else {
                    zero(|t| if t < 1e-9 { u0 } else { height(t) / t })
                };
                // The lane's own last step, shortened to end on the ground.
                let alone = lane(&before, i);
                let alone_axis = [[axis[0][i]], [axis[1][i]], [axis[2][i]]];
                let k = self.rate(&alone, &alone_axis);
                let last = self.advance(&alone, &k, &[t * h], &alone_axis);
                let flight = Flight {
                    offline: last.p[0][0],
                    downrange: last.p[1][0],
                    apex: apex[i],
                    time: time[i] + (t - 1.0) * h,
                    velocity: [last.v[0][0], last.v[1][0], last.v[2][0]].into(),
                    spin_rate: last.w[0],
                };
                if L == 1 {
                    let position = [last.p[0][0], last.p[1][0], 0.0].into();
                    visit(Point {
                        time: flight.time,
                        position,
                    });
                }
                land(n, flight);
                (time[i], apex[i]) = (0.0, 0.0);
                who[i] = load(i, &mut s, &mut axis, &mut land, &mut visit);
            }
        }
    }
}

/// One lane on its own.
fn lane<const L: usize>(s: &State<L>, i: usize) -> State<1> {
    let pick = |v: &[[f64; L]; 3]| [[v[0][i]], [v[1][i]], [v[2][i]]];
    State {
        p: pick(&s.p),
        v: pick(&s.v),
        w: [s.w[i]],
    }
}

/// Cubic Hermite interpolant at `t` (0 to 1) of a step of length `h`.
#[inline]
fn hermite(t: f64, h: f64, p0: f64, v0: f64, p1: f64, v1: f64) -> f64 {
    let u = 1.0 - t;
    u * u * ((1.0 + 2.0 * t) * p0 + t * h * v0) + t * t * ((3.0 - 2.0 * t) * p1 - u * h * v1)
}

/// Slope of [`hermite`] with respect to `t`.
#[inline]
fn hermite_slope(t: f64, h: f64, p0: f64, v0: f64, p1: f64, v1: f64) -> f64 {
    let u = 1.0 - t;
    6.0 * t * u * (p1 - p0) + h * (u * (1.0 - 3.0 * t) * v0 + t * (3.0 * t - 2.0) * v1)
}

/// The zero between 0 and 1 of a function that falls from positive to not positive, by regula
/// falsi with the Illinois rule (Dowell and Jarratt 1971, BIT 11, 168-174).
#[inline]
fn zero(f: impl Fn(f64) -> f64) -> f64 {
    let (mut a, mut b) = (0.0, 1.0);
    let (mut fa, mut fb) = (f(a), f(b));
    let mut side = 0;
    for _ in 0..60 {
        if fb == 0.0 || (b - a) < 1e-13 || fa == fb {
            return b;
        }
        let t = (a * fb - b * fa) / (fb - fa);
        let ft = f(t);
        if ft.abs() < 1e-12 {
            return t;
        }
        if ft > 0.0 {
            (a, fa) = (t, ft);
            if side == 1 {
                fb *= 0.5;
            }
            side = 1;
        } else {
            (b, fb) = (t, ft);
            if side == -1 {
                fa *= 0.5;
            }
            side = -1;
        }
    }
    b
}
