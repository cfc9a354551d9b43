//! What came out, class by class.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::calibration::calibration;
use crate::classes::{ALL, Class, Kind};
use crate::drive::TICK_S;
use crate::judge::{Patch, SMALLEST_M2, Verdict, meant_share, share};
use crate::night::Night;
use crate::planted::{Found, found};
use crate::pump::TREATED_SHARE;

/// So many times the floor a fault should be found whatever the errors of the night.
const WELL_OVER: f64 = 1.5;

/// One night's outcome.
#[derive(Clone, Serialize, Deserialize)]
pub(crate) struct Row {
    pub(crate) class: Class,
    pub(crate) seed: u64,
    pub(crate) crashed: Option<String>,
    pub(crate) made_s: f64,
    pub(crate) audit_s: f64,
    pub(crate) false_go_backs: usize,
    pub(crate) false_look_intos: usize,
    look_intos: usize,
    /// Findings of severities go back and look into: code, severity, whether the truth bears it out, text.
    alarms: Vec<(String, bool, Option<bool>, String)>,
    records: Vec<String>,
    pub(crate) orders_wrong: usize,
    pub(crate) patches: Vec<Patch>,
    pub(crate) found: Option<Found>,
    /// Places of 10 m2 or more that truly are bare though nothing is planted (parked cars, mostly), and how many are shown.
    pub(crate) bare_places: (usize, usize),
    /// Treated share of what was meant, on each site worked on; share laid twice; minutes driven.
    treated: Vec<f64>,
    twice: f64,
    minutes: f64,
}

impl Row {
    /// Before the audit.
    pub(crate) fn of(night: &Night) -> Self {
        let worked = |s: &usize| {
            night
                .works
                .iter()
                .any(|w| w.ticks.iter().any(|t| t.site == Some(*s) && t.open != 0))
        };
        let least = TREATED_SHARE as f32 * night.target_ml_m2 as f32;
        let dose = |s: usize, c: usize| night.truths[s].dose.cells[c];
        Self {
            class: night.class,
            seed: night.seed,
            crashed: None,
            made_s: 0.0,
            audit_s: 0.0,
            false_go_backs: 0,
            false_look_intos: 0,
            look_intos: 0,
            alarms: Vec::new(),
            records: Vec::new(),
            orders_wrong: 0,
            patches: Vec::new(),
            found: None,
            bare_places: (0, 0),
            treated: (0..night.sites.len())
                .filter(worked)
                .map(|s| meant_share(night, s))
                .collect(),
            twice: share(
                night,
                0,
                |c| dose(0, c) >= least,
                |d| f64::from(d) > 1.6 * night.target_ml_m2,
            ),
            minutes: night
                .works
                .iter()
                .map(|w| w.ticks.len() as f64 * TICK_S / 60.0)
                .sum(),
        }
    }

    /// Some finding of this code, go back or look into, is false.
    pub(crate) fn has_false(&self, code: &str) -> bool {
        let mut alarms = self.alarms.iter();
        alarms.any(|(own, _, holds, _)| own == code && *holds == Some(false))
    }

    /// After it.
    pub(crate) fn fill(&mut self, night: &Night, verdict: Verdict) {
        self.found = found(night, &verdict);
        for f in &verdict.findings {
            let back = f.severity == "go_back";
            if f.severity == "for_the_record" {
                self.records.push(f.code.clone());
                continue;
            }
            self.look_intos += usize::from(!back);
            if f.holds == Some(false) {
                *(if back {
                    &mut self.false_go_backs
                } else {
                    &mut self.false_look_intos
                }) += 1;
            }
            self.alarms
                .push((f.code.clone(), back, f.holds, f.text.clone()));
        }
        for bare in &verdict.bare {
            for group in bare.cells.groups() {
                if group.len() as f64 * bare.cells.cell_m2() >= SMALLEST_M2 {
                    let shown = group.iter().filter(|c| {
                        let label = bare.label.cells[**c] as usize;
                        label > 0 && verdict.patches[label - 1].sure
                    });
                    self.bare_places.0 += 1;
                    self.bare_places.1 += usize::from(2 * shown.count() >= group.len());
                }
            }
        }
        self.orders_wrong = verdict.orders_wrong;
        self.patches = verdict.patches;
    }
}

/// Wilson's 95 % bounds of a share (E. B. Wilson, 1927).
pub(crate) fn wilson(hits: usize, of: usize) -> (f64, f64) {
    if of == 0 {
        return (0.0, 1.0);
    }
    let (n, z) = (of as f64, 1.959_964);
    let p = hits as f64 / n;
    let middle = p + z * z / (2.0 * n);
    let half = z * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt();
    let scale = 1.0 + z * z / n;
    ((middle - half) / scale, (middle + half) / scale)
}

/// A share with its bounds, in words.
pub(crate) fn share_text(hits: usize, of: usize) -> String {
    let (low, high) = wilson(hits, of);
    format!(
        "{hits} of {of} ({:.0} to {:.0} %)",
        100.0 * low,
        100.0 * high
    )
}

/// Prints all tables.
pub(crate) fn print(rows: &[Row], position_factor: f64) {
    println!("other people's nights; stated position error x {position_factor}");
    println!(
        "go-backs and look-intos: all, of these false / not for the truth to say; patches: sure, of these with under 10 m2 / under 3 m2 truly bare"
    );
    println!(
        "{:15}{:>5}{:>9}{:>7}{:>16}{:>18}{:>9}{:>17}{:>13}  planted: found, size, cause (at the floor or above; from 1.5 times it)",
        "class",
        "n",
        "treated",
        "twice",
        "go-backs",
        "look-intos",
        "orders",
        "patches",
        "bare places"
    );
    for (class, _) in ALL {
        let own: Vec<&Row> = rows.iter().filter(|r| r.class == class).collect();
        if !own.is_empty() {
            line(class.name(), &own);
        }
    }
    for (kind, name) in [
        (Kind::Sound, "all sound"),
        (Kind::PoorLog, "all poor logs"),
        (Kind::Fault, "all faults"),
    ] {
        let own: Vec<&Row> = rows.iter().filter(|r| r.class.kind() == kind).collect();
        if own.is_empty() {
            continue;
        }
        line(name, &own);
        if kind == Kind::Fault {
            continue;
        }
        let nights = own.iter().filter(|r| r.false_go_backs > 0).count();
        println!(
            "  nights with a false go-back: {}",
            share_text(nights, own.len())
        );
        let places = own.iter().fold((0, 0), |s, r| {
            (s.0 + r.bare_places.0, s.1 + r.bare_places.1)
        });
        println!(
            "  places truly bare that are shown: {}",
            share_text(places.1, places.0)
        );
    }
    codes(rows);
    alarms(rows);
    calibration(rows);
}

fn line(name: &str, own: &[&Row]) {
    let sum = |of: &dyn Fn(&Row) -> usize| own.iter().map(|r| of(r)).sum::<usize>();
    let backs = sum(&|r| r.alarms.iter().filter(|a| a.1).count());
    let backs_open = sum(&|r| r.alarms.iter().filter(|a| a.1 && a.2.is_none()).count());
    let looks_open = sum(&|r| r.alarms.iter().filter(|a| !a.1 && a.2.is_none()).count());
    let sure = sum(&|r| r.patches.iter().filter(|p| p.sure).count());
    let small = sum(&|r| {
        r.patches
            .iter()
            .filter(|p| p.sure && p.true_m2 < SMALLEST_M2)
            .count()
    });
    let empty = sum(&|r| {
        r.patches
            .iter()
            .filter(|p| p.sure && p.true_m2 < 3.0)
            .count()
    });
    let treated: Vec<f64> = own.iter().flat_map(|r| r.treated.iter().copied()).collect();
    let mean = treated.iter().sum::<f64>() / treated.len().max(1) as f64;
    let twice = own.iter().map(|r| r.twice).sum::<f64>() / own.len() as f64;
    let counted: Vec<&Found> = own.iter().filter_map(|r| r.found.as_ref()).collect();
    let count = |of: &dyn Fn(&Found) -> bool| counted.iter().filter(|f| of(f)).count();
    let planted = if counted.is_empty() {
        String::new()
    } else {
        let from = |least: f64| {
            format!(
                "{} of {}, {}, {}",
                count(&|f| f.found && f.over_floor >= least),
                count(&|f| f.over_floor >= least),
                count(&|f| f.size && f.over_floor >= least),
                count(&|f| f.cause && f.over_floor >= least),
            )
        };
        format!("{} ({}; {})", from(0.0), from(1.0), from(WELL_OVER))
    };
    println!(
        "{name:15}{:>5}{:>9}{:>7}{:>16}{:>18}{:>9}{:>17}{:>13}  {planted}",
        own.len(),
        format!("{:.1} %", 100.0 * mean),
        format!("{:.0} %", 100.0 * twice),
        format!("{backs}, {}/{backs_open}", sum(&|r| r.false_go_backs)),
        format!(
            "{}, {}/{looks_open}",
            sum(&|r| r.look_intos),
            sum(&|r| r.false_look_intos)
        ),
        sum(&|r| r.orders_wrong),
        format!("{sure}, {small}/{empty}"),
        format!(
            "{} of {}",
            sum(&|r| r.bare_places.1),
            sum(&|r| r.bare_places.0)
        ),
    );
}

fn codes(rows: &[Row]) {
    println!(
        "\nfindings by code: go back (false) + look into (false); nights with a remark for the record"
    );
    for (class, _) in ALL {
        let mut count: BTreeMap<&str, [usize; 5]> = BTreeMap::new();
        for row in rows.iter().filter(|r| r.class == class) {
            for (code, back, holds, _) in &row.alarms {
                let entry = count.entry(code).or_default();
                let at = if *back { 0 } else { 2 };
                entry[at] += 1;
                entry[at + 1] += usize::from(*holds == Some(false));
            }
            let mut seen: Vec<&String> = row.records.iter().collect();
            seen.sort();
            seen.dedup();
            for code in seen {
                count.entry(code).or_default()[4] += 1;
            }
        }
        if count.is_empty() {
            continue;
        }
        let texts: Vec<String> = count
            .iter()
            .map(|(code, n)| {
                let mut parts = Vec::new();
                if n[0] > 0 {
                    parts.push(format!("{} ({})", n[0], n[1]));
                }
                if n[2] > 0 {
                    parts.push(format!("+ {} ({})", n[2], n[3]));
                }
                if n[4] > 0 {
                    parts.push(format!("r {}", n[4]));
                }
                format!("{code} {}", parts.join(" "))
            })
            .collect();
        println!("{:15} {}", class.name(), texts.join("; "));
    }
}

fn alarms(rows: &[Row]) {
    println!(
        "\nfalse alarms (class, seed, code, text), crashes, and what was planted and not found"
    );
    for row in rows {
        if let Some(message) = &row.crashed {
            println!("{} {} CRASH {message}", row.class.name(), row.seed);
        }
        for (code, back, holds, text) in &row.alarms {
            if *holds == Some(false) {
                let mark = if *back { "GO BACK" } else { "look into" };
                println!("{} {} {mark} {code}: {text}", row.class.name(), row.seed);
            }
        }
        if let Some(found) = row
            .found
            .as_ref()
            .filter(|f| !f.found || !f.size || !f.cause)
        {
            let sizes = found
                .sizes_m2
                .map(|(t, r)| format!(", {t:.0} m2 bare, {r:.0} reported"))
                .unwrap_or_default();
            let what = if !found.found {
                "not found"
            } else if !found.size {
                "other size"
            } else {
                "other cause"
            };
            let floor = if found.over_floor >= 1.0 {
                "above the floor"
            } else {
                "under the floor"
            };
            println!("{} {} {what}, {floor}{sizes}", row.class.name(), row.seed);
        }
    }
    let made: f64 = rows.iter().map(|r| r.made_s).sum();
    let audit: f64 = rows.iter().map(|r| r.audit_s).sum();
    let minutes: f64 = rows.iter().map(|r| r.minutes).sum();
    let n = rows.len().max(1) as f64;
    println!(
        "\na night: {:.0} rig-minutes, made in {:.2} s, audited in {:.2} s",
        minutes / n,
        made / n,
        audit / n
    );
    let worst = rows
        .iter()
        .filter(|r| r.class.kind() == Kind::Sound)
        .flat_map(|r| r.treated.iter().map(move |t| (*t, r.seed, r.class)))
        .min_by(|a, b| a.0.total_cmp(&b.0));
    if let Some((treated, seed, class)) = worst {
        println!(
            "least treated sound site: {:.1} % ({} {seed})",
            100.0 * treated,
            class.name()
        );
    }
}
