use super::*;
use crate::findings::GapCause;
use crate::geometry::place::Instant;
use crate::report::numbers::{RateUnit, Units};
use crate::report::sample;
use std::collections::HashSet;

fn us() -> Style {
    Style::of(&sample::audit(), Units::Us, RateUnit::GalPer1000Ft2)
}

fn plain(matter: Matter) -> Finding {
    Finding::new(Severity::LookInto, matter)
}

/// The text of the sample's matter with this code, without place and time.
fn text_of(code: &str) -> String {
    let matter = sample::matters()
        .into_iter()
        .rfind(|matter| matter.code() == code);
    text(&plain(matter.expect("the sample has every kind")), &us())
}

#[test]
fn every_kind_has_its_own_title_sentence_and_check() {
    let matters = sample::matters();
    let codes: HashSet<&str> = matters.iter().map(Matter::code).collect();
    let titles: HashSet<&str> = matters.iter().map(title).collect();
    let checks: HashSet<std::borrow::Cow<str>> = matters
        .iter()
        .cloned()
        .map(|matter| check(&plain(matter)))
        .collect();
    assert_eq!(codes.len(), 52);
    assert_eq!(titles.len(), codes.len());
    // `unit_taken`, `outside_time` and `not_visited` have two, `not_done` three: with and without missing logs, and treated later.
    assert_eq!(checks.len(), matters.len());
    for matter in matters {
        let sentence = text(&plain(matter.clone()), &us());
        assert!(
            sentence.ends_with('.') && sentence.len() > title(&matter).len(),
            "{sentence}"
        );
        assert!(
            sentence.matches(". ").count() < 2,
            "more than two sentences: {sentence}"
        );
    }
}

#[test]
fn nothing_is_called_safe_and_no_ice_is_claimed() {
    for matter in sample::matters() {
        let finding = plain(matter);
        let words = format!("{} {}", text(&finding, &us()), check(&finding)).to_lowercase();
        for word in ["safe", " ice", "icy", "slippery", "guarantee"] {
            assert!(!words.contains(word), "{word}: {words}");
        }
    }
}

#[test]
fn place_rig_and_local_time_come_first() {
    let mut finding = plain(Matter::DryRun {
        seconds: 31.0,
        length_m: 119.0,
        count: 2,
        limit_s: 10.0,
    });
    finding.site = Some("quay".into());
    finding.zone = Some("main".into());
    finding.rig = Some("north".into());
    finding.start = Some(Instant(1_768_185_300_000_000)); // 2026-01-12T02:35:00Z
    assert_eq!(
        text(&finding, &us()),
        "quay/main, rig north, 2026-01-11 20:35 CST: Sections were open without liquid for 31 s over \
         390 ft, in 2 stretches (smallest counted: 10 s)."
    );
}

#[test]
fn missing_logs_change_the_words() {
    let sites = vec!["a".to_owned(), "b".to_owned()];
    let missing = Matter::NotVisited {
        sites: sites.clone(),
        some_l: None,
        logs_missing: true,
    };
    let complete = Matter::NotVisited {
        sites,
        some_l: None,
        logs_missing: false,
    };
    assert_eq!(
        text(&plain(missing), &us()),
        "No treatment in the logs received at 2 sites (a, b)."
    );
    assert_eq!(
        text(&plain(complete), &us()),
        "The logs show no treatment at 2 sites (a, b)."
    );
}

#[test]
fn figures_are_in_the_units_chosen() {
    assert_eq!(
        text_of("off_rate"),
        "The swept rate is 1.00 gal/1000 ft2 (44 gal/ac), 25 % over the target of 0.80 gal/1000 ft2 \
         (35 gal/ac); the band is 10 % either way."
    );
    let metric = Style {
        units: Units::Metric,
        rate_unit: RateUnit::LPerHa,
        ..us()
    };
    let off = Matter::OffRate {
        rate_ml_m2: 30.0,
        target_ml_m2: 40.0,
        band: 0.1,
    };
    assert_eq!(
        text(&plain(off), &metric),
        "The swept rate is 300 L/ha, 25 % under the target of 400 L/ha; the band is 10 % either way."
    );
}

#[test]
fn patches_name_their_cause_and_a_silence_nearby() {
    assert_eq!(
        text_of("bare_patch"),
        "The logs show no liquid on 3 patches, 2,310 ft2 together, the largest 1,290 ft2 (likely \
         bare: 97 in 100, 930 ft2 to 1,180 ft2 inside the edge; smallest counted: 110 ft2): mostly a boom passed over with section 2 of 4 (left side) closed and others open."
    );
    let one = Matter::BarePatch {
        count: 1,
        area_m2: 120.0,
        greatest_m2: 120.0,
        probability: 0.8,
        interval_m2: (86.0, 110.0),
        limit_m2: 10.0,
        cause: GapCause::NeverReached,
        closed: None,
        near_dropout: true,
        treated_share: None,
    };
    let sentence = text(&plain(one), &us());
    assert!(sentence.contains("on a patch of 1,290 ft2"), "{sentence}");
    assert!(
        sentence.ends_with("the rig may have treated it."),
        "{sentence}"
    );
}

#[test]
fn long_lists_are_counted() {
    let sites: Vec<String> = (1..=12).map(|number| format!("s{number}")).collect();
    let sentence = text(
        &plain(Matter::NotVisited {
            sites,
            some_l: None,
            logs_missing: false,
        }),
        &us(),
    );
    assert_eq!(
        sentence,
        "The logs show no treatment at 12 sites (s1, s2, s3, s4, s5, s6, s7, s8 and 4 more)."
    );
}

#[test]
fn the_figure_and_its_limit_are_those_in_the_words() {
    let off = figure(&Matter::OffRate {
        rate_ml_m2: 30.0,
        target_ml_m2: 40.0,
        band: 0.1,
    });
    let off = off.expect("a rate");
    assert!((off.figure - 30.0).abs() < 1e-12 && off.quantity == Quantity::Rate);
    assert!((off.limit.expect("the band") - 36.0).abs() < 1e-12);
    let uneven = Matter::Uneven {
        share_low: 0.11,
        limit_low: 0.1,
        share_high: 0.2,
        limit_high: 0.05,
    };
    let uneven = figure(&uneven).expect("a share");
    assert!(
        (uneven.figure - 0.2).abs() < 1e-12,
        "the one farther over its limit"
    );
    assert_eq!(figure(&Matter::NoLog), None);
}

#[test]
fn a_file_that_fails_says_where_and_why_on_one_line() {
    let why = "expected a GPX file, found HTML.\nExport it again.".to_owned();
    let matter = Matter::InputSkipped {
        file: "logs/a.gpx".into(),
        line: Some(1),
        count: 0,
        why,
    };
    assert_eq!(
        text(&plain(matter), &us()),
        "logs/a.gpx, line 1: not used, or not in full: expected a GPX file, found HTML. Export it again."
    );
}
