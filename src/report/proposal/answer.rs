//! The answer to a miss in a sentence or two.

use super::ProposalReport;
use crate::report::Page;

impl ProposalReport {
    /// By what the search was narrowed, if limits or want of parts ruled settings out.
    fn narrowed(&self) -> Option<&'static str> {
        match (self.settings_held_back > 0, !self.missing_parts.is_empty()) {
            (true, true) => Some("within your limits and with the parts at hand"),
            (true, false) => Some("within your limits"),
            (false, true) => Some("with the parts at hand"),
            (false, false) => None,
        }
    }

    pub(super) fn verdict(&self, page: &Page) -> String {
        match self.answer {
            "not_measured" => format!(
                "Can't say: launch direction or spin axis was not measured, and that leaves {} \
                 of offline open either way, however many shots are hit.",
                page.length(self.stays_open_80_m.unwrap_or(0.0))
            ),
            "within_noise" if self.settings_predicted > 1 => {
                "Nothing: no change takes away enough to be worth its work and its risk.".into()
            }
            "within_noise" if self.around.sessions.is_empty() => {
                "Nothing: what was said is off by less than a change is worth.".into()
            }
            "within_noise" => {
                "Nothing: where the ball lands is off by no more than noise, or by less than a \
                 change is worth."
                    .into()
            }
            "too_few" => format!(
                "Too few shots to say where the ball lands on average: it is known to {} either way. \
                 Hit {} more, then ask again.",
                page.length(self.open_80_m.unwrap_or(0.0)),
                self.more_shots.unwrap_or(0)
            ),
            "not_the_club" if self.around.miss_in.is_empty() => {
                "Nothing: what was asked for has no weight.".into()
            }
            "not_the_club" => {
                let shown = self
                    .rows
                    .iter()
                    .map(|r| r.cures_percent)
                    .fold(0.0, f64::max);
                let pays = if self.rows.is_empty() {
                    ", and none of that pays".to_string()
                } else {
                    format!(", and {shown:.0} % with what pays")
                };
                let percent = |share: Option<f64>| share.unwrap_or(self.reach) * 100.0;
                let (first, last) = match self.narrowed() {
                    Some(how) => (
                        format!("Not {how}: what that leaves takes away"),
                        "Whether it is the club, a search without that tells",
                    ),
                    None => (
                        "Not the club: its levers take away".into(),
                        match self.around.sideways_only() {
                            true => "What remains is path, face or strike",
                            false => "What remains is the swing, or another head or loft",
                        },
                    ),
                };
                format!(
                    "{first} {:.0} % of {} at best ({:.0} to {:.0} %){pays}. {last}.",
                    self.reach * 100.0,
                    self.around.miss(),
                    percent(self.reach_low),
                    percent(self.reach_high)
                )
            }
            _ => match self.rows.first() {
                Some(r) => {
                    let mut text = r.steps.join("; then ");
                    if self.around.wind_across {
                        return format!("In this wind: {text}.");
                    }
                    if let Some(first) = text.get_mut(0..1) {
                        first.make_ascii_uppercase();
                    }
                    format!("{text}.")
                }
                None if self.settings_predicted <= 1 => {
                    "Limits and parts at hand leave no other setting.".into()
                }
                None => "Nothing: no setting is likely to help.".into(),
            },
        }
    }
}
