//! The page's line on blocked ground, where there is any.

use crate::notation::clean::clean;
use crate::notation::numbers::count;
use crate::notation::style::Style;
use crate::report::table::wrap;
use crate::result;

/// Reasons that the line names; the rest is in `coverage.geojson` (layout).
const MOST_REASONS: usize = 4;

/// How much ground to be treated was blocked, on how many sites and why; nothing where none was.
pub(super) fn lines(sites: &[result::Site], style: &Style, width: usize) -> Vec<String> {
    let excluded_m2: Vec<f64> = sites.iter().map(excluded_m2).collect();
    let number = excluded_m2.iter().filter(|m2| **m2 > 0.0).count();
    if number == 0 {
        return Vec::new();
    }
    let area = style.area(excluded_m2.iter().sum());
    let on = count(number as u64, "site", "sites");
    wrap(
        "",
        &format!("Blocked: {area} on {on}{}.", why(sites)),
        width,
    )
}

/// Ground of a site that would be to treat if it were not blocked.
fn excluded_m2(site: &result::Site) -> f64 {
    let zones = site.ground.iter().filter(|ground| ground.to_treat());
    zones.map(|ground| ground.excluded_m2).sum()
}

/// The reasons given, each once, in the order of the sites file.
fn why(sites: &[result::Site]) -> String {
    let mut reasons: Vec<&str> = Vec::new();
    let given = sites.iter().flat_map(|site| &site.ground);
    for reason in given.filter_map(|ground| ground.reason.as_deref()) {
        if !reasons.contains(&reason) {
            reasons.push(reason);
        }
    }
    if reasons.is_empty() {
        return String::new();
    }
    let named: Vec<_> = reasons
        .iter()
        .take(MOST_REASONS)
        .map(|r| clean(r))
        .collect();
    let more = match reasons.len() - named.len() {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    format!(" ({}{more})", named.join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::notation::numbers::{RateUnit, Units};
    use crate::report::sample;

    fn line(sites: &[result::Site]) -> String {
        let style = Style::of(
            sample::audit().timezone.as_ref(),
            Units::Us,
            RateUnit::GalPer1000Ft2,
        );
        lines(sites, &style, 400).join(" ")
    }

    #[test]
    fn blocked_ground_is_one_line_with_its_reasons() {
        let mut sites = sample::audit().sites;
        // 40 m2 are 431 ft2.
        assert_eq!(line(&sites), "Blocked: 430 ft2 on 1 site (snow pile).");
        sites[1].ground[0].excluded_m2 = 60.0;
        for (index, reason) in ["snow pile", "parked cars", "a", "b", "c"]
            .into_iter()
            .enumerate()
        {
            let mut ground = sites[1].ground[0].clone();
            ground.excluded_m2 = 0.0;
            ground.reason = (index < 2).then(|| reason.to_owned());
            sites[1].ground.push(ground);
        }
        // 100 m2 are 1,076 ft2.
        let two = "Blocked: 1,080 ft2 on 2 sites (snow pile, parked cars).";
        assert_eq!(line(&sites), two);
        for (ground, reason) in sites[1].ground.iter_mut().zip(["a", "b", "c"]) {
            ground.reason = Some(reason.to_owned());
        }
        let many = "(snow pile, a, b, c and 1 more).";
        assert!(line(&sites).ends_with(many), "{}", line(&sites));
    }

    #[test]
    fn there_is_no_line_where_nothing_was_blocked() {
        let mut sites = sample::audit().sites;
        for ground in sites.iter_mut().flat_map(|site| &mut site.ground) {
            ground.excluded_m2 = 0.0;
        }
        assert!(line(&sites).is_empty());
    }
}
