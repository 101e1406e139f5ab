//! Models: one version after the other, each with a digest.

use super::{Bench, check_time, from_json, keys};
use crate::bench::BenchError;
use crate::bench::session::hex;
use rusqlite::{Row, params};
use serde_json::Value;
use sha2::{Digest, Sha256};

/// A fitted model.
#[derive(Debug, Clone, PartialEq)]
pub struct Model {
    /// Counts up.
    pub version: i64,
    /// Its season.
    pub season: String,
    /// Everything else.
    pub body: Value,
    /// SHA-256 of the body as it is kept, in hexadecimal.
    pub digest: String,
    /// When, RFC 3339.
    pub created_at: String,
}

impl Bench {
    /// Keeps a model; returns its version.
    ///
    /// # Errors
    /// Storage.
    pub fn add_model(&mut self, season: &str, body: &Value, at: &str) -> Result<i64, BenchError> {
        check_time(at)?;
        let body = body.to_string();
        let digest = hex(&Sha256::digest(body.as_bytes()));
        self.insert(
            "INSERT INTO models (season, body, digest, created_at) VALUES (?1, ?2, ?3, ?4)",
            params![season, body, digest, at],
        )
    }

    /// A model by its version.
    ///
    /// # Errors
    /// Not found; storage, also if the body is not what its digest says.
    pub fn model(&self, version: i64) -> Result<Model, BenchError> {
        let found = self.select(MODELS, "WHERE version = ?1", [version], model)?;
        match found.into_iter().next() {
            Some(found) => Ok(found),
            None => Err(BenchError::NotFound {
                what: "model",
                name: version.to_string(),
                have: keys(
                    &self.connection,
                    "SELECT version FROM models ORDER BY version",
                )?,
            }),
        }
    }

    /// All models, oldest first.
    ///
    /// # Errors
    /// As for [`Bench::model`].
    pub fn models(&self) -> Result<Vec<Model>, BenchError> {
        self.select(MODELS, "ORDER BY version", [], model)
    }

    /// The last model, if there is one.
    ///
    /// # Errors
    /// As for [`Bench::model`].
    pub fn latest_model(&self) -> Result<Option<Model>, BenchError> {
        let found = self.select(MODELS, "ORDER BY version DESC LIMIT 1", [], model)?;
        Ok(found.into_iter().next())
    }
}

const MODELS: &str = "SELECT version, season, body, digest, created_at FROM models";

fn model(row: &Row<'_>) -> Result<Model, BenchError> {
    let (version, body, digest): (i64, String, String) = (row.get(0)?, row.get(2)?, row.get(3)?);
    if hex(&Sha256::digest(body.as_bytes())) != digest {
        let why = format!("the body of model {version} is not what its digest says");
        return Err(BenchError::Damaged(why));
    }
    Ok(Model {
        version,
        season: row.get(1)?,
        body: from_json("body of a model", &body)?,
        digest,
        created_at: row.get(4)?,
    })
}
