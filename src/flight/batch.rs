//! Many flights at once: structure of arrays, no allocation per flight, parallel by rayon.

use super::Range;
use crate::launch::Launch;
use rayon::prelude::*;

/// Launches as columns, SI and radians; all columns have the same length.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Launches {
    /// Ball speed, m/s.
    pub ball_speed: Vec<f64>,
    /// Launch angle, rad.
    pub launch_angle: Vec<f64>,
    /// Launch direction, rad, right positive.
    pub launch_direction: Vec<f64>,
    /// Spin rate, rad/s.
    pub spin_rate: Vec<f64>,
    /// Spin-axis tilt, rad, right positive.
    pub spin_axis: Vec<f64>,
}

impl Launches {
    /// Room for `n` launches without further allocation.
    pub fn with_capacity(n: usize) -> Self {
        Launches {
            ball_speed: Vec::with_capacity(n),
            launch_angle: Vec::with_capacity(n),
            launch_direction: Vec::with_capacity(n),
            spin_rate: Vec::with_capacity(n),
            spin_axis: Vec::with_capacity(n),
        }
    }

    /// Number of launches.
    pub fn len(&self) -> usize {
        self.ball_speed.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.ball_speed.is_empty()
    }

    /// Adds one launch.
    pub fn push(&mut self, l: &Launch) {
        self.ball_speed.push(l.ball_speed);
        self.launch_angle.push(l.launch_angle);
        self.launch_direction.push(l.launch_direction);
        self.spin_rate.push(l.spin_rate);
        self.spin_axis.push(l.spin_axis);
    }

    /// Forgets all launches and keeps the memory.
    pub fn clear(&mut self) {
        for column in [
            &mut self.ball_speed,
            &mut self.launch_angle,
            &mut self.launch_direction,
            &mut self.spin_rate,
            &mut self.spin_axis,
        ] {
            column.clear();
        }
    }

    /// The launch in row `i`.
    #[inline]
    pub fn get(&self, i: usize) -> Launch {
        Launch {
            ball_speed: self.ball_speed[i],
            launch_angle: self.launch_angle[i],
            launch_direction: self.launch_direction[i],
            spin_rate: self.spin_rate[i],
            spin_axis: self.spin_axis[i],
        }
    }
}

impl<'a> FromIterator<&'a Launch> for Launches {
    fn from_iter<I: IntoIterator<Item = &'a Launch>>(iter: I) -> Self {
        let mut out = Launches::default();
        for l in iter {
            out.push(l);
        }
        out
    }
}

/// Flights as columns, SI and radians, in the order of the launches.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Flights {
    /// Offline at landing, m, right positive.
    pub offline: Vec<f64>,
    /// Distance along the target line at landing, m.
    pub downrange: Vec<f64>,
    /// Greatest height, m.
    pub apex: Vec<f64>,
    /// Angle of descent, rad.
    pub landing_angle: Vec<f64>,
}

/// Flights that one task of the pool handles: large enough to hide the hand-over, small enough to
/// share two cores evenly.
const CHUNK: usize = 256;

/// Flights side by side in one task.
const LANES: usize = 4;

impl Flights {
    /// Number of flights.
    pub fn len(&self) -> usize {
        self.offline.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.offline.is_empty()
    }

    fn resize(&mut self, n: usize) {
        for column in [
            &mut self.offline,
            &mut self.downrange,
            &mut self.apex,
            &mut self.landing_angle,
        ] {
            column.resize(n, 0.0);
        }
    }
}

impl Range<'_> {
    /// Flies all launches into `out`, which keeps its memory from call to call. The result does
    /// not depend on the number of threads.
    pub fn fly_all(&self, launches: &Launches, out: &mut Flights) {
        out.resize(launches.len());
        out.offline
            .par_chunks_mut(CHUNK)
            .zip(out.downrange.par_chunks_mut(CHUNK))
            .zip(out.apex.par_chunks_mut(CHUNK))
            .zip(out.landing_angle.par_chunks_mut(CHUNK))
            .enumerate()
            .for_each(|(chunk, (((offline, downrange), apex), landing_angle))| {
                let columns = [offline, downrange, apex, landing_angle];
                self.fly_some(launches, chunk * CHUNK, columns);
            });
    }

    /// The same on the calling thread alone, for callers that are parallel themselves.
    pub fn fly_each(&self, launches: &Launches, out: &mut Flights) {
        out.resize(launches.len());
        let columns = [
            &mut out.offline[..],
            &mut out.downrange[..],
            &mut out.apex[..],
            &mut out.landing_angle[..],
        ];
        self.fly_some(launches, 0, columns);
    }

    /// Flies launches from row `from` on into columns of equal length.
    fn fly_some(&self, launches: &Launches, from: usize, columns: [&mut [f64]; 4]) {
        let [offline, downrange, apex, landing_angle] = columns;
        self.integrate::<LANES>(
            offline.len(),
            |i| launches.get(from + i),
            |i, f| {
                offline[i] = f.offline;
                downrange[i] = f.downrange;
                apex[i] = f.apex;
                landing_angle[i] = f.landing_angle();
            },
            |_| {},
        );
    }
}
