//! Refit through the command line: a session that was withdrawn leaves no trace.

mod cli_common;
use cli_common::Shop;

fn model(shop: &Shop) -> String {
    shop.json(&["refit", "--season", "2027"]);
    shop.json(&["show", "model", "1"]).to_string()
}

#[test]
fn a_withdrawn_session_leaves_no_trace() {
    let without = Shop::stocked();
    without.log("if-fade", "IF-D1").ok();
    without.log("bl-fade", "BL-D1").ok();
    let withdrawn = Shop::logged();
    let before = model(&withdrawn);
    withdrawn.run(&["withdraw", "if-wedge"]).ok();
    withdrawn.json(&["refit", "--season", "2027"]);
    let again = Shop::logged();
    again.run(&["withdraw", "if-wedge"]).ok();
    let want = model(&without);
    assert_eq!(model(&again), want);
    assert_ne!(before, want);
}

/// The page keeps to 80 columns and says what was never moved.
#[test]
fn the_page_tells_its_limits() {
    let shop = Shop::logged();
    let text = shop.run(&["refit", "--season", "2027"]).quiet();
    assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    assert!(
        text.contains("Never moved, so that bare physics stands: "),
        "{text}"
    );
}

/// With a prior, what was never moved is what the prior learned; and sessions that taught it are
/// not used again in silence.
#[test]
fn a_prior_is_told() {
    let shop = Shop::logged();
    shop.run(&["refit", "--season", "2027"]).ok();
    let again = shop.run(&["refit", "--season", "2028", "--dry-run"]);
    assert!(again.err.contains("count twice"), "{}", again.err);
    let text = again.ok();
    assert!(
        text.contains("Never moved, so that what model 1 learned stands"),
        "{text}"
    );
    let alone = ["refit", "--season", "2028", "--no-prior", "--dry-run"];
    shop.run(&alone).quiet();
}
