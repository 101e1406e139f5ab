//! Levers and responses in words.

/// Features in words, with "and" before the last.
pub(super) fn words(features: &[String]) -> String {
    let all: Vec<String> = features.iter().map(|f| name_of(f).into()).collect();
    listed(&all)
}

/// Names in a row, with "and" before the last.
pub(in crate::report) fn listed(names: &[String]) -> String {
    match names.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        _ => names.join(""),
    }
}

/// The key of a response, parted before its unit.
pub(super) fn unit_ends(key: &str) -> Option<(&str, &str)> {
    key.rsplit_once('_').filter(|(_, unit)| *unit != "ratio")
}

/// A response in words, without its unit.
pub(in crate::report) fn response_name(key: &str) -> String {
    unit_ends(key)
        .map_or(key, |(name, _)| name)
        .replace('_', " ")
}

/// A feature in words.
pub(super) fn name_of(feature: &str) -> &'static str {
    match feature {
        "cg_toe_mm" => "CG toward the toe",
        "cg_back_mm" => "CG toward the back",
        "cg_up_mm" => "CG toward the crown",
        "mass_g" => "head mass",
        "loft_deg" => "loft",
        "lie_deg" => "lie",
        _ => "face angle",
    }
}

/// What a unit of a feature is, in words.
pub(super) fn unit_of(feature: &str) -> &'static str {
    match feature {
        "cg_toe_mm" => "1 mm of CG toward the toe",
        "cg_back_mm" => "1 mm of CG toward the back",
        "cg_up_mm" => "1 mm of CG toward the crown",
        "mass_g" => "1 g more head",
        "loft_deg" => "1 deg more loft",
        "lie_deg" => "1 deg more upright",
        // Right in the right-handed frame of the features: open for either hand.
        _ => "1 deg of face more open",
    }
}
