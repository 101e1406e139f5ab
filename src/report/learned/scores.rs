//! How well a model foretells what it has not seen, as tables.

use super::names::{listed, response_name, unit_ends};
use super::{LearnedReport, ScoreReport};
use crate::correction::ENOUGH;
use crate::report::Page;

impl LearnedReport {
    pub(super) fn scores(&self, page: &mut Page) {
        let ground = self
            .ground
            .iter()
            .map(|g| (&g.quantity, &g.left_out, &g.forward, None));
        let all: Vec<_> = self
            .responses
            .iter()
            .map(|r| (&r.response, &r.left_out, &r.forward, Some(r.in_use)))
            .chain(ground)
            .collect();
        let name = |key: &str| match unit_ends(key) {
            Some((_, unit)) => format!("{}, {unit}", response_name(key)),
            None => response_name(key),
        };
        // Nothing was held out, so nothing was measured.
        let or_dash = |n: usize, text: String| match n {
            0 => "-".to_string(),
            _ => text,
        };
        let of = |s: &ScoreReport, v: f64| {
            let d = if s.rmse_physics.abs() < 0.2 { 4 } else { 2 };
            or_dash(s.sessions, format!("{v:.d$}"))
        };
        page.heading("Held-out sessions: root mean square error");
        let rows: Vec<Vec<String>> = all
            .iter()
            .map(|(key, s, _, in_use)| {
                let used = |used| if used { "in use" } else { "not used" };
                vec![
                    name(key),
                    s.sessions.to_string(),
                    of(s, s.rmse_physics),
                    of(s, s.rmse_pooled),
                    of(s, s.rmse_correction),
                    or_dash(s.sessions, format!("{:.0} %", s.coverage_80 * 100.0)),
                    in_use.map_or("", used).to_string(),
                ]
            })
            .collect();
        let header = ["", "n", "physics", "pooled", "learned", "in 80 %", ""];
        page.table(&header, &rows, 1);
        let rows: Vec<Vec<String>> = all
            .iter()
            .filter(|(_, _, ahead, _)| ahead.sessions > 0)
            .map(|(key, _, s, _)| {
                vec![
                    name(key),
                    s.sessions.to_string(),
                    of(s, s.rmse_physics),
                    of(s, s.rmse_correction),
                ]
            })
            .collect();
        if !rows.is_empty() {
            page.heading("Ahead, from earlier sessions only");
            page.table(&["", "n", "physics", "learned"], &rows, 1);
        }
        page.line(&format!(
            "Each session is foretold by a fit that never saw it: from all others, and ahead, from \
             earlier ones only (n: sessions that have any). Pooled is a model without players. A \
             response is used where the first beats bare physics by more than one standard error, \
             on {ENOUGH} sessions or more{}.",
            match self.prior_version {
                Some(_) => "; where there are fewer, as the prior has it",
                None => "",
            }
        ));
        if let (Some(version), false) = (self.prior_version, self.no_longer_in_use.is_empty()) {
            let names: Vec<String> = (self.no_longer_in_use.iter())
                .map(|r| response_name(r))
                .collect();
            page.caution(&format!(
                "Model {version} used {}; by these sessions that is not proven any more: propose \
                 takes the latest model, --model {version} that one.",
                listed(&names)
            ));
        }
    }
}
