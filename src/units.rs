//! Unit constants: multiply to come in, divide to go out.
//!
//! Inside the library every number is SI and every angle is in radians. The trade's units
//! appear at the edges only, and there the unit is part of the name of the column, key or flag.
//! Each constant is the SI size of one unit, so `x_mph * MPH` is m/s and `v / MPH` is mph.
//!
//! Source of the exact conversions: BIPM and NIST, *Guide for the Use of the International System
//! of Units*, NIST Special Publication 811 (2008), appendix B.

use std::f64::consts::PI;

/// One degree, in rad.
pub const DEG: f64 = PI / 180.0;
/// One revolution per minute, in rad/s.
pub const RPM: f64 = 2.0 * PI / 60.0;
/// One international yard, in m (exact).
pub const YARD: f64 = 0.9144;
/// One international foot, in m (exact).
pub const FOOT: f64 = 0.3048;
/// One inch, in m (exact).
pub const INCH: f64 = 0.0254;
/// One millimetre, in m.
pub const MM: f64 = 1e-3;
/// One mile per hour, in m/s (exact).
pub const MPH: f64 = 0.447_04;
/// One kilometre per hour, in m/s.
pub const KPH: f64 = 1.0 / 3.6;
/// One gram, in kg.
pub const GRAM: f64 = 1e-3;
/// One avoirdupois ounce, in kg (exact).
pub const OUNCE: f64 = 0.028_349_523_125;
/// One gram square centimetre, in kg m².
pub const G_CM2: f64 = 1e-7;
/// One hectopascal, in Pa.
pub const HPA: f64 = 100.0;
/// 0 °C, in K.
pub const ZERO_CELSIUS: f64 = 273.15;
/// Standard acceleration of free fall, in m/s² (exact; CGPM 1901).
pub const STANDARD_GRAVITY: f64 = 9.806_65;
