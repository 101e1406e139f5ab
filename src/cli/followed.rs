//! Which row of which proposal a build is.

use super::Failure;
use super::context::Fitted;
use super::filed::time;
use crate::bench::Bench;
use crate::bench::describe::SettingFile;
use crate::bench::store::Proposal;

/// The proposal, made for the build `before`, of which a build is a row (counted from 0).
///
/// What was filed at the rebuild counts. A build that came by a file is the latest row with its
/// setting that was proposed before it came into the bench.
pub(super) fn followed(
    bench: &Bench,
    new: &Fitted,
    before: &str,
) -> Result<Option<(Proposal, usize)>, Failure> {
    let name = &new.build.name;
    if let Some((id, row)) = bench.followed(name)? {
        let proposal = bench.proposal(id)?;
        let row = usize::try_from(row - 1).unwrap_or(usize::MAX);
        return Ok((proposal.build == before).then_some((proposal, row)));
    }
    let setting = SettingFile::of(&new.club.setting, &new.club.head);
    let kept = bench.builds()?.into_iter().find(|d| d.name == *name);
    let filed = kept.and_then(|d| time(&d.created_at));
    let in_time = |p: &Proposal| time(&p.created_at) <= filed;
    let found = bench
        .proposals(Some(&new.player.name))?
        .into_iter()
        .rev()
        .filter(|p| p.build == before && in_time(p))
        .find_map(|p| row_of(&p.body, &setting).map(|row| (p, row)));
    Ok(found)
}

/// The row of a filed proposal that has this setting.
pub(super) fn row_of(body: &serde_json::Value, setting: &SettingFile) -> Option<usize> {
    body["rows"].as_array()?.iter().position(|r| {
        serde_json::from_value::<SettingFile>(r["setting_file"].clone())
            .is_ok_and(|s| s == *setting)
    })
}
