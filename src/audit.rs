//! The whole flow as one page of calls.

use crate::error::{Error, Result};
use crate::findings::sites::AboutSites;
use crate::findings::{Finding, Kind};
use crate::ground::{self, Site};
use crate::input;
use crate::input::apart;
use crate::input::fleet::Fleet;
use crate::input::log::Log;
use crate::input::paths::NightPaths;
use crate::input::progress::{Count, Progress};
use crate::notation::numbers::{RateUnit, Units};
use crate::notation::style::Style;
use crate::orders::night;
use crate::report::html::{self, ApplicationDrawing};
use crate::report::page::{self, Page};
use crate::report::{Drawn, document, earth};
use crate::result::{Audit, NightSpan};
use crate::rig::run;
use crate::site::cutting::Grounds;
use crate::site::summary::{Summary, Trail};
use crate::site::{self, Leg, Outcome};
use crate::verdict::log_ends::{self, LogEnd};
use crate::verdict::{self, Night};
use crate::verdict::{ledger, outside};
use rayon::prelude::*;

/// What the caller may set beside the night's files.
#[derive(Debug, Clone, Copy, Default)]
pub struct Settings {
    /// Coordinate reference system of the sites file, when it is not WGS 84.
    pub sites_epsg: Option<u32>,
    /// Keep the strips in the result, for checking elsewhere.
    pub keep_strips: bool,
}

/// An audited night.
pub struct Audited {
    /// The document.
    pub audit: Audit,
    /// The ground.
    pub sites: Vec<Site>,
    /// What became of each site.
    pub outcomes: Vec<Outcome>,
    /// What maps and charts show of each run.
    pub trails: Vec<Trail>,
    /// What people read of it.
    pub page: Page,
}

impl Audited {
    /// The plans of every site, for the page.
    #[must_use]
    pub fn plans(&self, units: Units) -> Vec<Vec<ApplicationDrawing>> {
        html::plans(&self.audit, &self.sites, &self.outcomes, units)
    }

    /// What maps and pages draw, the plans in these units.
    #[must_use]
    pub fn drawn(&self, units: Units) -> Drawn<'_> {
        Drawn {
            shapes: earth::shapes(&self.sites, &self.outcomes),
            plans: self.plans(units),
            trails: &self.trails,
        }
    }

    /// How often the general overlay engine had to do the work of the house's at the sites.
    #[must_use]
    pub fn fallbacks(&self) -> u32 {
        self.outcomes.iter().map(|outcome| outcome.fallbacks).sum()
    }
}

/// A night up to its sites' work: everything that the sites' work reads.
pub struct Gathered {
    /// What its files say; the logs are let go.
    pub files: input::night::NightFiles,
    /// From its first fix to its last.
    pub span: Option<NightSpan>,
    findings: Vec<Finding>,
    log_ends: Vec<LogEnd>,
    /// By rig, then start.
    pub runs: Vec<Summary>,
    /// The ground.
    pub sites: Vec<Site>,
    /// What counts at each site.
    pub rules: Vec<site::Rules>,
    /// What the rigs did at each site, in the order of the runs.
    pub legs: Vec<Vec<Leg>>,
}

/// Audits a night.
///
/// # Errors
/// When the fleet, sites or orders file cannot be used, or none of the logs can.
pub fn audit(paths: &NightPaths, settings: Settings, progress: Progress) -> Result<Audited> {
    let gathered = gather(paths, settings, progress)?;
    let (sites, rules) = (gathered.sites, gathered.rules);
    let outcomes = treat(&sites, gathered.legs, &rules, settings, progress);
    progress("findings", 0, 1);
    let mut night = Night {
        fleet: &gathered.files.fleet,
        sites: &sites,
        rules: &rules,
        runs: &gathered.runs,
        ledgers: &ledger::balance(&gathered.runs, &sites, &outcomes),
        outcomes: &outcomes,
        span: gathered.span,
        files: &gathered.files.files,
        files_lost: gathered.files.files_lost,
        outside: Vec::new(),
    };
    night.outside = outside::find(&night);
    let mut findings = gathered.findings;
    findings.extend(verdict::judge(&night));
    log_ends::tell(
        &mut findings,
        &gathered.log_ends,
        &gathered.files.drawn.zones,
    );
    verdict::rank(&mut findings);
    let audit = document::audit(&night, findings);
    let page = page::of(&night, &audit);
    let trails = gathered.runs.into_iter().map(|run| run.trail).collect();
    Ok(Audited {
        audit,
        page,
        sites,
        outcomes,
        trails,
    })
}

/// Reads a night, divides its ground, follows its rigs and cuts their runs into legs.
///
/// # Errors
/// When the fleet, sites or orders file cannot be used, or none of the logs can.
pub fn gather(paths: &NightPaths, settings: Settings, progress: Progress) -> Result<Gathered> {
    let mut files = input::night::read(paths, settings.sites_epsg, progress)?;
    if is_plan(&files.logs)? {
        files.fleet = files.fleet.of_plan();
    }
    run::set_clocks(&files.fleet, &mut files.logs);
    let span = night::span(&files.logs);
    let log_ends = log_ends::ends(&files.logs);
    let mut findings = std::mem::take(&mut files.drawn.findings);
    findings.extend(files.fleet.remarks());
    findings.append(&mut files.findings);
    progress("zones", 0, 1);
    let mut ground = ground_of(paths, &files, &[])?;
    if let Some(error) = apart::check(&files.logs, &files.drawn.zones, files.drawn.epsg) {
        return Err(error.at(&paths.sites));
    }
    let logs = std::mem::take(&mut files.logs);
    let followed = follow(&files.fleet, &ground, logs, progress);
    let drawn = &files.drawn.zones;
    // A plan's times are made up: they say nothing of when ground is blocked.
    let (lifted, notes) = if files.fleet.planned {
        (Vec::new(), Vec::new())
    } else {
        site::blocked::lifted(drawn, &ground.sites, &followed.legs, &ground.rules)
    };
    if !lifted.is_empty() {
        ground = ground_of(paths, &files, &lifted)?;
    }
    if ground.sites.iter().all(|site| site.zones.is_empty()) {
        return Err(no_ground(paths, &notes));
    }
    findings.extend(notes);
    findings.extend(ground.notes);
    findings.extend(followed.notes);
    Ok(Gathered {
        files,
        span,
        log_ends,
        findings,
        runs: followed.runs,
        sites: ground.sites,
        rules: ground.rules,
        legs: followed.legs,
    })
}

/// Whether the logs are plans.
///
/// # Errors
/// When some are and some are not.
fn is_plan(logs: &[Log]) -> Result<bool> {
    let planned = logs.iter().filter(|log| log.planned).count();
    if planned > 0 && planned < logs.len() {
        return Err(Error::new("some of the logs are plans, not drives")
            .advice("Audit plans by themselves."));
    }
    Ok(planned > 0)
}

/// The divided ground with what counts on it.
struct Ground {
    sites: Vec<Site>,
    rules: Vec<site::Rules>,
    notes: Vec<Finding>,
}

/// Divides the ground, without the blocked zones that are lifted, and places the orders on it.
fn ground_of(
    paths: &NightPaths,
    night: &input::night::NightFiles,
    lifted: &[usize],
) -> Result<Ground> {
    let divided = ground::divide(&night.drawn.zones, lifted);
    let (sites, mut notes) = divided.map_err(|error| error.at(&paths.sites))?;
    if sites.is_empty() {
        return Err(no_ground(paths, &notes));
    }
    let mut orders = None;
    if let Some((reading, file)) = &night.orders {
        notes.extend(reading.findings.iter().cloned());
        let placed = crate::orders::place(reading.orders.clone(), &sites, file);
        let path = paths.orders.as_deref().unwrap_or(&paths.sites);
        let (placed, remarks) = placed.map_err(|error| error.at(path))?;
        notes.extend(remarks);
        orders = Some(placed);
    }
    let placed = |site: usize| orders.as_ref().map(|orders| orders.sites[site].as_slice());
    let rules = (0..sites.len()).map(|site| site::Rules::of(&night.fleet, placed(site)));
    Ok(Ground {
        rules: rules.collect(),
        sites,
        notes,
    })
}

/// What all runs came to.
struct Followed {
    /// By rig, then start.
    runs: Vec<Summary>,
    /// Of each site, in the order of the runs.
    legs: Vec<Vec<Leg>>,
    notes: Vec<Finding>,
}

/// Follows each rig and cuts its runs into legs; a run is let go as soon as it is cut.
fn follow(fleet: &Fleet, ground: &Ground, logs: Vec<Log>, progress: Progress) -> Followed {
    let mut by_rig: Vec<Vec<Log>> = fleet.rigs.iter().map(|_| Vec::new()).collect();
    for log in logs {
        by_rig[log.rig].push(log);
    }
    let count = Count::of("rigs", by_rig.len(), progress);
    let grounds = Grounds::of(&ground.sites, &ground.rules, fleet);
    let followed: Vec<_> = by_rig
        .into_par_iter()
        .enumerate()
        .map(|(rig, logs)| {
            let (runs, notes) = run::follow(fleet, rig, logs);
            let cut = runs.into_iter().map(|run| grounds.cut(&run));
            let cut: Vec<_> = cut.collect();
            count.one_more();
            (cut, notes)
        })
        .collect();
    let mut all = Followed {
        runs: Vec::new(),
        legs: ground.sites.iter().map(|_| Vec::new()).collect(),
        notes: Vec::new(),
    };
    for (cut, notes) in followed {
        all.notes.extend(notes);
        for (legs, summary) in cut {
            for (site, leg) in legs {
                let run = all.runs.len();
                all.legs[site].push(Leg { run, ..leg });
            }
            all.runs.push(summary);
        }
    }
    all
}

/// Works on every site; its legs are let go with it.
fn treat(
    sites: &[Site],
    legs: Vec<Vec<Leg>>,
    rules: &[site::Rules],
    settings: Settings,
    progress: Progress,
) -> Vec<Outcome> {
    let count = Count::of("sites", sites.len(), progress);
    legs.into_par_iter()
        .zip(sites.par_iter().zip(rules))
        .map(|(legs, (site, rules))| {
            let outcome = site::treat(site, &legs, rules, settings.keep_strips);
            count.one_more();
            outcome
        })
        .collect()
}

/// The error of a sites file whose every zone was left out when the ground was divided.
fn no_ground(paths: &NightPaths, notes: &[Finding]) -> Error {
    let why = notes.iter().find_map(|finding| match &finding.kind {
        Kind::Sites(AboutSites::SiteRemark { what, feature }) => {
            let style = Style::of(None, Units::Metric, RateUnit::MlPerM2);
            Some(format!(": feature {} {}", feature + 1, what.clause(&style)))
        }
        _ => None,
    });
    let why = why.unwrap_or_default();
    Error::new(format!("no zone can be used{why}"))
        .at(&paths.sites)
        .advice("Each zone is a Polygon or MultiPolygon feature of one property, in longitude and latitude.")
}
