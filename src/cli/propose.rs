//! `--propose N`: new fill sites of a list, or of the waters that the extract shows.

use crate::finding::{Code, Finding, Findings, Outcome, Where};
use crate::output::zone::Proposed;
use crate::plan::ground::PlacedSite;
use crate::plan::terrain::Terrain;
use crate::roads::waters;
use crate::sites::fill_file;
use crate::zone::{Zone, propose, waterside};
use std::collections::BTreeMap;
use std::path::Path;

/// Reasons told where no candidate can be used.
const MOST_REASONS: usize = 3;

/// The candidates as fill sites of a request of their own, on the same roads; up to `count` of them in the order of
/// what they close. What was looked at and what is not known of those proposed is told.
pub fn propose_sites(
    zone: &Zone,
    terrain: &Terrain,
    ceiling_gpm: &[f64],
    list: Option<&Path>,
    count: usize,
) -> Outcome<(Vec<Proposed>, Findings)> {
    let mut findings = Findings::new();
    let mut problem = zone.problem.clone();
    match list {
        Some(path) => {
            problem.mapped_sites.wanted = false;
            problem.listed_sites = fill_file::read(path, &mut findings)?;
        }
        None => {
            // Those tagged for the fire service too, unless the zone has them.
            problem.mapped_sites.wanted = !zone.problem.mapped_sites.wanted;
            problem.listed_sites = match waters::read(&zone.problem.roads.file) {
                Ok(waters) => waterside::candidates(zone, &waters, &mut findings),
                Err(cause) => {
                    let action =
                        "prepare the roads again beside their extract, or list places with --candidates";
                    let at = Where::file(zone.problem.roads.file.display());
                    findings.add(Finding::new(Code::CandidatesNone, at, cause, action));
                    Vec::new()
                }
            };
        }
    }
    problem.without_mapped.clear();
    findings.refuse_errors()?;
    let candidates = zone.beside(&problem, terrain)?;
    let sites = &candidates.ground.sites;
    findings.extend(unusable(zone, sites));
    let short = propose::short(zone, ceiling_gpm, &candidates)?;
    let found = propose::greedy(&short, zone.problem.need, count);
    for placed in found.iter().map(|proposal| &sites[proposal.candidate]) {
        let site = &placed.site;
        let own = |f: &&Finding| f.place.name.as_ref() == Some(&site.name) && f.place.osm == site.origin.osm;
        findings.extend(candidates.findings.iter().filter(own).cloned());
        if !site.verified {
            findings.add(waterside::ask(site));
        }
    }
    let told = |proposal: propose::Proposal| Proposed { placed: sites[proposal.candidate].clone(), proposal };
    Ok((found.into_iter().map(told).collect(), findings))
}

/// Says so if no candidate is left, with the reasons.
fn unusable(zone: &Zone, sites: &[PlacedSite]) -> Option<Finding> {
    if sites.iter().any(|placed| placed.state.is_ok()) {
        return None;
    }
    let mut reasons: BTreeMap<&str, usize> = BTreeMap::new();
    sites
        .iter()
        .filter_map(|placed| placed.state.as_ref().err())
        .for_each(|r| *reasons.entry(r).or_insert(0) += 1);
    let mut reasons: Vec<(usize, &str)> =
        reasons.into_iter().map(|(reason, count)| (count, reason)).collect();
    reasons.sort_by(|a, b| b.cmp(a));
    let told: Vec<String> =
        reasons.iter().take(MOST_REASONS).map(|(count, reason)| format!("{count}: {reason}")).collect();
    let cause = match sites.len() {
        0 => "no candidate was found".to_string(),
        count => format!("none of {count} candidates can be used ({})", told.join("; ")),
    };
    let action = "list places with --candidates, and see that the fleet has a pumper of the role fill";
    Some(Finding::new(Code::CandidatesNone, Where::file(&zone.problem.scenario), cause, action))
}
