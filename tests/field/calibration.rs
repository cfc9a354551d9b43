//! Stated probabilities and intervals held against the truth.

use crate::judge::{Patch, SMALLEST_M2};
use crate::table::{Row, share_text, wilson};

/// Stated probability against the truth, for audits that state one.
pub(crate) fn calibration(rows: &[Row]) {
    let stated: Vec<(f64, &Patch)> = rows
        .iter()
        .flat_map(|r| &r.patches)
        .filter_map(|p| p.probability.map(|q| (q, p)))
        .collect();
    if stated.is_empty() {
        println!("\nthe audit states no probabilities: no table of calibration");
        return;
    }
    println!("\ncalibration: stated, truly 10 m2 or more, count");
    let hold = |p: &Patch| if p.true_m2 >= SMALLEST_M2 { 1.0 } else { 0.0 };
    for step in 0..10 {
        let own: Vec<&(f64, &Patch)> = stated
            .iter()
            .filter(|(q, _)| ((q * 10.0) as usize).min(9) == step)
            .collect();
        if own.is_empty() {
            continue;
        }
        let n = own.len() as f64;
        let mean = own.iter().map(|o| o.0).sum::<f64>() / n;
        let hits = own.iter().filter(|o| o.1.true_m2 >= SMALLEST_M2).count();
        let (low, high) = wilson(hits, own.len());
        println!(
            "  {mean:.2}  {:.2} ({low:.2} to {high:.2})  {}",
            hits as f64 / n,
            own.len()
        );
    }
    let n = stated.len() as f64;
    let brier = stated
        .iter()
        .map(|(q, p)| (q - hold(p)).powi(2))
        .sum::<f64>()
        / n;
    let base = stated.iter().map(|s| hold(s.1)).sum::<f64>() / n;
    let skill = 1.0 - brier / (base * (1.0 - base)).max(1e-9);
    println!("Brier score {brier:.3}, skill against the base rate of {base:.2}: {skill:.2}");
    let likely: Vec<&Patch> = stated.iter().filter(|s| s.0 >= 0.8).map(|s| s.1).collect();
    println!(
        "stated 0.8 or more that truly hold 10 m2: {}",
        share_text(
            likely.iter().filter(|p| p.true_m2 >= SMALLEST_M2).count(),
            likely.len()
        )
    );
    let known: Vec<(&Patch, (f64, f64))> = stated
        .iter()
        .filter_map(|s| s.1.interval_m2.map(|i| (s.1, i)))
        .collect();
    let inside = |least: f64| {
        let own = known
            .iter()
            .filter(|(p, _)| p.probability.is_some_and(|q| q >= least));
        let all = own.clone().count();
        share_text(
            own.filter(|(p, (low, high))| p.true_m2 >= *low && p.true_m2 <= *high)
                .count(),
            all,
        )
    };
    println!(
        "90 % interval holds the truth: {}; of patches stated 0.3 or more: {}",
        inside(0.0),
        inside(0.3)
    );
}
