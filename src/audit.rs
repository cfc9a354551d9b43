//! The whole flow as one page of calls.

use crate::error::{Error, Result};
use crate::findings::{Finding, Matter, Severity};
use crate::ground;
use crate::input::fleet::{self, Fleet};
use crate::input::log::{self, Log};
use crate::input::orders as order_rows;
use crate::input::sites;
use crate::job::{self, Job};
use crate::ledger;
use crate::near;
use crate::night::NightSpan;
use crate::orders::{self, Orders};
use crate::result::{self, Audit, InputFile, Ledger};
use crate::run::{self, Run};
use crate::treatment::{self, Laid, Treatment, Work};
use crate::verdict::{self, Night};
use crate::visit::{self, Visit};
use rayon::prelude::*;
use std::path::Path;

/// Told how far the work is, from several threads: what is being done, done so far, of how many.
pub type Progress<'a> = &'a (dyn Fn(&'static str, usize, usize) + Sync);

/// What the caller may set beside the job's files.
#[derive(Debug, Clone, Copy, Default)]
pub struct Settings {
    /// Coordinate reference system of the sites file, when it is not WGS 84.
    pub sites_epsg: Option<u32>,
    /// Keep the strips in the result, for checking elsewhere.
    pub keep_strips: bool,
}

/// Audits a night.
///
/// # Errors
/// When the fleet or sites file cannot be used, or none of the logs can.
pub fn audit(job: &Job, settings: Settings, progress: Progress) -> Result<Audit> {
    let (mut fleet, fleet_file) = read_fleet(job)?;
    let (drawn, sites_file) = read_sites(job, settings)?;
    let mut read = read_logs(job, &fleet, progress)?;
    if is_plan(&read.logs)? {
        fleet = fleet.of_plan();
    }
    run::set_clocks(&fleet, &mut read.logs);
    let mut findings = drawn.findings;
    findings.extend(read.findings);
    progress("zones", 0, 1);
    let span = NightSpan::of(&read.logs);
    // A plan's times are made up: they say nothing of when ground is blocked.
    let night = span.filter(|_| !fleet.planned);
    let (sites, notes) =
        ground::divide(&drawn.zones, night).map_err(|error| error.at(&job.sites))?;
    if sites.is_empty() {
        return Err(no_ground(job, &notes));
    }
    findings.extend(notes);
    let (orders, orders_file, notes) = read_orders(job, &fleet, &sites)?;
    findings.extend(notes);

    let mut targets_ml_m2 = targets_ml_m2(&sites);
    targets_ml_m2.extend(orders.iter().flat_map(Orders::targets_ml_m2));
    let (runs, notes) = follow(&fleet, &targets_ml_m2, read.logs, progress);
    findings.extend(notes);
    progress("visits", 0, 1);
    let candidates = near::candidates(&sites, &runs);
    let nears: Vec<Vec<near::Near>> = sites
        .par_iter()
        .zip(&candidates)
        .map(|(site, ranges)| near::approach(site, &runs, ranges))
        .collect();
    let whereabouts: Vec<visit::Whereabouts> = (0..runs.len())
        .into_par_iter()
        .map(|index| visit::whereabouts(index, &runs[index], &nears))
        .collect();
    let visits: Vec<Visit> = (0..runs.len())
        .into_par_iter()
        .flat_map_iter(|index| visit::visits(index, &runs[index], &whereabouts[index]))
        .collect();

    let done = std::sync::atomic::AtomicUsize::new(0);
    let treatments: Vec<Treatment> = (0..sites.len())
        .into_par_iter()
        .map(|index| {
            let treatment = treatment::treat(&Work {
                index,
                site: &sites[index],
                fleet: &fleet,
                runs: &runs,
                whereabouts: &whereabouts,
                nears: &nears[index],
                visits: visits.iter().filter(|visit| visit.site == index).collect(),
                span,
                orders: orders.as_ref().map(|orders| orders.sites[index].as_slice()),
                record: settings.keep_strips,
            });
            progress(
                "sites",
                1 + done.fetch_add(1, std::sync::atomic::Ordering::Relaxed),
                sites.len(),
            );
            treatment
        })
        .collect();
    progress("ledger", 0, 1);
    let ledgers: Vec<Ledger> = (0..runs.len())
        .into_par_iter()
        .map(|index| {
            let laid: Vec<&Laid> = treatments
                .iter()
                .flat_map(|site| &site.laid)
                .filter(|laid| laid.run == index)
                .collect();
            ledger::balance(index, &runs[index], &whereabouts[index], &nears, &laid)
        })
        .collect();

    progress("findings", 0, 1);
    let night = Night {
        fleet: &fleet,
        runs: &runs,
        ledgers: &ledgers,
        whereabouts: &whereabouts,
        treatments: &treatments,
        has_orders: orders.is_some(),
        files_lost: read.files_lost,
    };
    findings.extend(verdict::judge(&night));
    let logs_missing = night.logs_missing();
    verdict::rank(&mut findings);
    let mut inputs = vec![fleet_file, sites_file];
    inputs.extend(orders_file);
    inputs.extend(read.files);
    inputs.sort();
    let order_reports = orders.map(|_| treatments.iter().flat_map(order_reports).collect());
    let (reports, strips): (Vec<_>, Vec<_>) = treatments
        .into_iter()
        .map(|treatment| (treatment.report, treatment.strips))
        .unzip();
    Ok(Audit {
        inputs,
        timezone: fleet.defaults.timezone.clone(),
        band: fleet.defaults.band,
        runs: runs
            .iter()
            .zip(&ledgers)
            .map(|(run, ledger)| run_report(&fleet, run, ledger))
            .collect(),
        sites: reports,
        orders: order_reports,
        findings,
        span,
        planned: fleet.planned,
        logs_missing,
        strips: strips.into_iter().flatten().collect(),
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

fn read_fleet(job: &Job) -> Result<(Fleet, InputFile)> {
    let (decoded, file) = read_text(job, &job.fleet, "fleet")?;
    if let Some(why) = decoded.damage {
        return Err(Error::new(why)
            .at(&job.fleet)
            .advice("A fleet file is UTF-8 text: save it as UTF-8."));
    }
    Ok((fleet::read(&decoded.text, &job.fleet)?, file))
}

fn read_sites(job: &Job, settings: Settings) -> Result<(sites::SitesReading, InputFile)> {
    let (decoded, file) = read_text(job, &job.sites, "sites")?;
    let mut reading = sites::read(&decoded.text, &job.sites, settings.sites_epsg)?;
    if let Some(why) = decoded.damage {
        reading.findings.push(damaged(&file.name, why));
    }
    Ok((reading, file))
}

/// The orders, if there is a file of them, on the divided ground.
fn read_orders(
    job: &Job,
    fleet: &Fleet,
    sites: &[ground::Site],
) -> Result<(Option<Orders>, Option<InputFile>, Vec<Finding>)> {
    let Some(path) = &job.orders else {
        return Ok((None, None, Vec::new()));
    };
    let (decoded, file) = read_text(job, path, "orders")?;
    if let Some(why) = decoded.damage {
        return Err(Error::new(why)
            .at(path)
            .advice("An orders file is UTF-8 text: save it as CSV UTF-8."));
    }
    let reading = order_rows::read(&decoded.text, path, &file.name, fleet)?;
    let mut findings = reading.findings;
    let (orders, notes) =
        orders::place(reading.orders, sites, &file.name).map_err(|error| error.at(path))?;
    findings.extend(notes);
    Ok((Some(orders), Some(file), findings))
}

/// One site's orders for the outputs.
fn order_reports(treatment: &Treatment) -> Vec<result::Order> {
    let report = |fact: &treatment::OrderFact| result::Order {
        order: fact.order.id.clone(),
        line: fact.order.line,
        site: fact.order.site.clone(),
        zone: fact.order.zone.clone(),
        service: fact.order.service.clone(),
        product: fact.order.product.clone(),
        target_ml_m2: fact.order.target_ml_m2,
        from: fact.order.from,
        by: fact.order.by,
        status: fact.status,
        application: fact.application.map(|index| index + 1),
        treated_share: fact.treated_share,
        finished: fact.finished,
    };
    treatment.orders.iter().map(report).collect()
}

/// The error of a sites file whose every zone was left out when the ground was divided.
fn no_ground(job: &Job, notes: &[Finding]) -> Error {
    let why = notes.iter().find_map(|finding| match &finding.matter {
        Matter::SiteRemark { what, feature } => Some(format!(": feature {} {what}", feature + 1)),
        _ => None,
    });
    let why = why.unwrap_or_default();
    Error::new(format!("there is no zone that can be used{why}"))
        .at(&job.sites)
        .advice("Each zone is a Polygon or MultiPolygon feature of one property, in longitude and latitude.")
}

fn read_text(job: &Job, path: &Path, role: &'static str) -> Result<(log::Decoded, InputFile)> {
    let (bytes, file) = job::read_file(path, role, job.night.as_deref())?;
    if bytes.iter().all(u8::is_ascii_whitespace) {
        let advice = "docs/formats.md says what it holds.";
        return Err(Error::new("the file is empty").at(path).advice(advice));
    }
    let decoded = log::decode(bytes, false).map_err(|error| error.at(path))?;
    Ok((decoded, file))
}

/// The finding of a file whose bytes are damaged but still worth reading.
fn damaged(file: &str, why: String) -> Finding {
    let matter = Matter::InputSkipped {
        file: file.to_owned(),
        line: None,
        count: 0,
        why,
    };
    Finding::new(Severity::LookInto, matter)
}

/// What all logs together gave.
struct Logs {
    logs: Vec<Log>,
    findings: Vec<Finding>,
    files: Vec<InputFile>,
    /// Some file gave nothing.
    files_lost: bool,
}

/// Reads all logs, each for itself: a file that cannot be used is a finding, unless all are.
fn read_logs(job: &Job, fleet: &Fleet, progress: Progress) -> Result<Logs> {
    progress("logs", 0, job.logs.len());
    let done = std::sync::atomic::AtomicUsize::new(0);
    let readings: Vec<(Option<InputFile>, Result<log::LogReading>)> = job
        .logs
        .par_iter()
        .map(|path| {
            let reading = read_log(job, path, fleet);
            progress(
                "logs",
                1 + done.fetch_add(1, std::sync::atomic::Ordering::Relaxed),
                job.logs.len(),
            );
            reading
        })
        .collect();
    let mut all = Logs {
        logs: Vec::new(),
        findings: Vec::new(),
        files: Vec::new(),
        files_lost: false,
    };
    let mut first_error: Option<Error> = None;
    for (path, (file, reading)) in job.logs.iter().zip(readings) {
        all.files.extend(file);
        match reading {
            Ok(reading) => {
                all.logs.extend(reading.logs);
                all.findings.extend(reading.findings);
            }
            Err(error) => {
                all.findings.push(unusable(job, path, &error));
                all.files_lost = true;
                first_error.get_or_insert(error);
            }
        }
    }
    match first_error {
        Some(error) if all.logs.is_empty() => Err(error),
        _ => Ok(all),
    }
}

fn read_log(job: &Job, path: &Path, fleet: &Fleet) -> (Option<InputFile>, Result<log::LogReading>) {
    let (bytes, file) = match job::read_file(path, "log", job.night.as_deref()) {
        Ok(read) => read,
        Err(error) => return (None, Err(error)),
    };
    let zipped = bytes.starts_with(&[0x1f, 0x8b]);
    let reading = log::decode(bytes, zipped).and_then(|decoded| {
        let mut reading = log::read(&file.name, &decoded.text, fleet)?;
        if let Some(why) = decoded.damage {
            reading.findings.push(damaged(&file.name, why));
        }
        Ok(reading)
    });
    (
        Some(file),
        reading.map_err(|error| {
            if error.path.is_none() {
                error.at(path)
            } else {
                error
            }
        }),
    )
}

fn unusable(job: &Job, path: &Path, error: &Error) -> Finding {
    let why = match &error.advice {
        Some(advice) => format!("{}\n{advice}", error.message),
        None => error.message.clone(),
    };
    let matter = Matter::InputSkipped {
        file: job::shown_name(path, job.night.as_deref()),
        line: error.line,
        count: 0,
        why,
    };
    let mut finding = Finding::new(Severity::LookInto, matter);
    // A whole log is missing: above remarks on single points.
    finding.weight = 1e6;
    finding
}

/// Rates asked for on the ground that is to be treated.
fn targets_ml_m2(sites: &[ground::Site]) -> Vec<f64> {
    let zones = sites.iter().flat_map(|site| &site.zones);
    zones
        .filter(|zone| zone.is_to_treat())
        .filter_map(|zone| zone.target_ml_m2)
        .collect()
}

/// Follows every rig's logs; runs come in the order of the fleet file.
fn follow(
    fleet: &Fleet,
    targets_ml_m2: &[f64],
    logs: Vec<Log>,
    progress: Progress,
) -> (Vec<Run>, Vec<Finding>) {
    let mut by_rig: Vec<Vec<Log>> = fleet.rigs.iter().map(|_| Vec::new()).collect();
    for log in logs {
        by_rig[log.rig].push(log);
    }
    let done = std::sync::atomic::AtomicUsize::new(0);
    let count = by_rig.len();
    let followed: Vec<(Vec<Run>, Vec<Finding>)> = by_rig
        .into_par_iter()
        .enumerate()
        .map(|(rig, logs)| {
            let followed = run::follow(fleet, targets_ml_m2, rig, logs);
            progress(
                "rigs",
                1 + done.fetch_add(1, std::sync::atomic::Ordering::Relaxed),
                count,
            );
            followed
        })
        .collect();
    let mut runs = Vec::new();
    let mut findings = Vec::new();
    for (own, notes) in followed {
        runs.extend(own);
        findings.extend(notes);
    }
    (runs, findings)
}

fn run_report(fleet: &Fleet, run: &Run, ledger: &Ledger) -> result::Run {
    let track = &run.track;
    let dropouts = track
        .steps
        .iter()
        .enumerate()
        .filter(|(_, step)| step.link == crate::track::Link::Dropout);
    result::Run {
        rig: fleet.rigs[track.rig].id.clone(),
        logs: track.logs.clone(),
        start: track.fixes[0].time,
        end: track.fixes[track.fixes.len() - 1].time,
        fixes: track.fixes_read,
        fixes_used: track.fixes_used(),
        fixes_repeated: track.fixes_repeated,
        distance_m: track.distance_m(),
        wet_s: run
            .timeline
            .spans
            .iter()
            .filter(|span| span.wet)
            .map(|span| span.share_of_step() * track.steps[span.step as usize].seconds)
            .sum(),
        reverse_wet_s: run.reverse_wet_s(),
        gear_from: run.posed.gear_from(),
        position_m: run.position_m,
        position_from: run.position_from.name(),
        clock_offset_s: run.clock_offset_s,
        metered_by: run.metered.by.name(),
        dropouts: dropouts
            .map(|(i, step)| result::Dropout {
                start: track.fixes[i].time,
                end: track.fixes[i + 1].time,
                seconds: step.seconds,
                volume_l: run.metered.gained_l(i),
            })
            .collect(),
        ledger_l: *ledger,
    }
}
