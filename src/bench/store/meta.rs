//! The circumstances of a session.

use crate::air::{self, Air};
use crate::bench::BenchError;
use crate::flight::{Conditions, Turf, Wind};
use crate::units::{HPA, ZERO_CELSIUS};
use serde::{Deserialize, Serialize};

/// The circumstances of a session; all may be left out. Real-world frame, right positive.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct SessionMeta {
    /// Temperature of the air, °C; 20 if nothing is said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub temperature_c: Option<f64>,
    /// Air pressure at the range (not reduced to sea level), hPa; from the altitude if nothing is
    /// said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pressure_hpa: Option<f64>,
    /// Relative humidity, %; 50 if nothing is said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub humidity_percent: Option<f64>,
    /// Altitude, m; sea level if nothing is said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub altitude_m: Option<f64>,
    /// Wind toward the right, m/s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wind_toward_right_m_s: Option<f64>,
    /// Wind toward the target, m/s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wind_toward_target_m_s: Option<f64>,
    /// Firmness of the turf, 0 soft to 1 baked; 0.5 if nothing is said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub turf_firmness: Option<f64>,
    /// What measured the shots.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub device: Option<String>,
    /// Anything else.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// Name of the file that the shots came from.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub source_file: Option<String>,
}

impl SessionMeta {
    /// Checks every number against its bounds.
    ///
    /// # Errors
    /// Bad input: everything that is out of bounds, with what is allowed.
    pub fn check(&self) -> Result<(), BenchError> {
        // Key, value, smallest, largest, unit.
        let rows = [
            ("temperature_c", self.temperature_c, -30.0, 50.0, "°C"),
            ("pressure_hpa", self.pressure_hpa, 500.0, 1100.0, "hPa"),
            ("humidity_percent", self.humidity_percent, 0.0, 100.0, "%"),
            ("altitude_m", self.altitude_m, -430.0, 5000.0, "m"),
            (
                "wind_toward_right_m_s",
                self.wind_toward_right_m_s,
                -30.0,
                30.0,
                "m/s",
            ),
            (
                "wind_toward_target_m_s",
                self.wind_toward_target_m_s,
                -30.0,
                30.0,
                "m/s",
            ),
            (
                "turf_firmness",
                self.turf_firmness,
                0.0,
                1.0,
                "(soft to baked)",
            ),
        ];
        let wrong: Vec<String> = rows
            .iter()
            .filter_map(|(key, value, low, high, unit)| {
                let v = (*value)?;
                let good = (*low..=*high).contains(&v);
                (!good).then(|| format!("{key} = {v}: must be {low} to {high} {unit}"))
            })
            .collect();
        match wrong.is_empty() {
            true => Ok(()),
            false => Err(BenchError::BadInput(wrong.join("\n"))),
        }
    }

    /// Air and wind, SI, real-world frame. The wind is uniform.
    pub fn conditions(&self) -> Conditions {
        let usual = Air::default();
        let pressure = self.pressure_hpa.map(|p| p * HPA);
        Conditions {
            air: Air {
                temperature: self
                    .temperature_c
                    .map_or(usual.temperature, |t| t + ZERO_CELSIUS),
                pressure: pressure
                    .unwrap_or_else(|| air::pressure_at(self.altitude_m.unwrap_or(0.0))),
                humidity: self.humidity_percent.map_or(usual.humidity, |h| h / 100.0),
            },
            wind: Wind {
                toward_right: self.wind_toward_right_m_s.unwrap_or(0.0),
                toward_target: self.wind_toward_target_m_s.unwrap_or(0.0),
                shear: 0.0,
            },
        }
    }

    /// The turf.
    pub fn turf(&self) -> Turf {
        self.turf_firmness.map_or(Turf::default(), Turf::firmness)
    }
}
