use super::*;
use crate::findings::Kind;
use crate::findings::card::Quantity;
use crate::findings::cause::GapCause;
use crate::findings::cover::{AboutCover, BarePatch};
use crate::findings::log::AboutLog;
use crate::findings::rate::AboutRate;
use crate::findings::rig::AboutRig;
use crate::geometry::place::Instant;
use crate::notation::numbers::{RateUnit, Units};
use crate::report::sample;
use std::collections::HashSet;

fn us() -> Style {
    Style::of(
        sample::audit().timezone.as_ref(),
        Units::Us,
        RateUnit::GalPer1000Ft2,
    )
}

fn plain(kind: impl Into<Kind>) -> Finding {
    Finding::new(Severity::LookInto, kind)
}

/// The text of the sample with this code, without place and time.
fn text_of(code: &str) -> String {
    let kind = Kind::samples()
        .into_iter()
        .rfind(|kind| kind.code() == code);
    plain(kind.expect("the sample has every kind")).text(&us())
}

/// The codes as the sources have them: `Card::new("late", ...`.
fn codes_in_the_sources() -> Vec<&'static str> {
    let sources = [
        include_str!("../clocks.rs"),
        include_str!("../cover.rs"),
        include_str!("../liquid.rs"),
        include_str!("../log.rs"),
        include_str!("../meter.rs"),
        include_str!("../orders.rs"),
        include_str!("../positions.rs"),
        include_str!("../rate.rs"),
        include_str!("../rig.rs"),
        include_str!("../sites.rs"),
    ];
    let after = |text: &'static str| text.split("Card::new(").skip(1);
    let codes = sources.into_iter().flat_map(after);
    codes.filter_map(|rest| rest.split('"').nth(1)).collect()
}

#[test]
fn every_kind_has_a_sample_and_its_own_code_title_and_check() {
    let kinds = Kind::samples();
    let codes: HashSet<&str> = kinds.iter().map(Kind::code).collect();
    let titles: HashSet<&str> = kinds.iter().map(|kind| kind.card().title).collect();
    let checks: HashSet<_> = kinds
        .iter()
        .map(|kind| plain(kind.clone()).check().into_owned())
        .collect();
    let written = codes_in_the_sources();
    assert_eq!(codes, written.iter().copied().collect());
    assert_eq!(codes.len(), written.len(), "a code that two kinds have");
    assert_eq!(titles.len(), codes.len());
    // A kind whose words differ has a sample for each of its ways.
    assert_eq!(checks.len(), kinds.len());
}

#[test]
fn every_kind_says_more_than_its_title_in_one_or_two_sentences() {
    for kind in Kind::samples() {
        let (title, sentence) = (kind.card().title, plain(kind.clone()).text(&us()));
        assert!(
            sentence.ends_with('.') && sentence.len() > title.len(),
            "{sentence}"
        );
        assert!(sentence.matches(". ").count() < 2, "{sentence}");
    }
}

#[test]
fn nothing_is_called_safe_and_no_ice_is_claimed() {
    for kind in Kind::samples() {
        let finding = plain(kind);
        let words = format!("{} {}", finding.text(&us()), finding.check()).to_lowercase();
        for word in ["safe", " ice", "icy", "slippery", "guarantee"] {
            assert!(!words.contains(word), "{word}: {words}");
        }
    }
}

#[test]
fn place_rig_and_local_time_come_first() {
    let mut finding = plain(AboutRig::OpenDry {
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
        finding.text(&us()),
        "quay/main, rig north, 2026-01-11 20:35 CST: Sections were open without liquid for 31 s over \
         390 ft, in 2 stretches (smallest counted: 10 s)."
    );
}

#[test]
fn missing_logs_change_the_words() {
    let sites = vec!["a".to_owned(), "b".to_owned()];
    let missing = AboutCover::NotVisited {
        sites: sites.clone(),
        some_l: None,
        logs_missing: true,
    };
    let complete = AboutCover::NotVisited {
        sites,
        some_l: None,
        logs_missing: false,
    };
    assert_eq!(
        plain(missing).text(&us()),
        "No treatment in the logs received at 2 sites (a, b)."
    );
    assert_eq!(
        plain(complete).text(&us()),
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
    let off = AboutRate::OffRate {
        rate_ml_m2: 30.0,
        target_ml_m2: 40.0,
        band: 0.1,
    };
    assert_eq!(
        plain(off).text(&metric),
        "The swept rate is 300 L/ha, 25 % under the target of 400 L/ha; the band is 10 % either way."
    );
}

#[test]
fn patches_name_their_cause_and_a_silence_nearby() {
    let mut kinds = Kind::samples().into_iter();
    let likely = kinds.find(|kind| kind.code() == "bare_patch");
    assert_eq!(
        plain(likely.expect("the sample has every kind")).text(&us()),
        "The logs show no liquid on 3 patches, 2,310 ft2 in all, the largest 1,290 ft2 (likely \
         bare: 97 in 100, 930 ft2 to 1,180 ft2 inside the edge; smallest counted: 110 ft2): mostly passed over with section 2 of 4 (left side) closed and others open."
    );
    assert_eq!(
        text_of("bare_patch"),
        "The logs show no liquid on a patch of 200 ft2 (perhaps bare: 62 in 100, 50 ft2 to 360 ft2 inside the edge; \
         smallest counted: 110 ft2): mostly crossed with spraying off."
    );
    let one = AboutCover::BarePatch(BarePatch {
        count: 1,
        area_m2: 120.0,
        greatest_m2: 120.0,
        likely: true,
        probability: 0.8,
        interval_m2: (86.0, 110.0),
        limit_m2: 10.0,
        cause: GapCause::NeverReached,
        closed: None,
        near_dropout: true,
        treated_share: None,
    });
    let sentence = plain(one).text(&us());
    assert!(sentence.contains("on a patch of 1,290 ft2"), "{sentence}");
    assert!(
        sentence.ends_with("the rig may have treated it."),
        "{sentence}"
    );
}

#[test]
fn long_lists_are_counted() {
    let sites: Vec<String> = (1..=12).map(|number| format!("s{number}")).collect();
    let sentence = plain(AboutCover::NotVisited {
        sites,
        some_l: None,
        logs_missing: false,
    })
    .text(&us());
    assert_eq!(
        sentence,
        "The logs show no treatment at 12 sites (s1, s2, s3, s4, s5, s6, s7, s8 and 4 more)."
    );
}

#[test]
fn the_figure_and_its_limit_are_those_in_the_words() {
    let off = Kind::from(AboutRate::OffRate {
        rate_ml_m2: 30.0,
        target_ml_m2: 40.0,
        band: 0.1,
    })
    .figure();
    let off = off.expect("a rate");
    assert!((off.figure - 30.0).abs() < 1e-12 && off.quantity == Quantity::Rate);
    assert!((off.limit.expect("the band") - 36.0).abs() < 1e-12);
    let uneven = AboutRate::Uneven {
        share_low: 0.11,
        limit_low: 0.1,
        share_high: 0.2,
        limit_high: 0.05,
    };
    let uneven = Kind::from(uneven).figure().expect("a share");
    assert!(
        (uneven.figure - 0.2).abs() < 1e-12,
        "the one farther over its limit"
    );
    assert_eq!(Kind::from(AboutLog::NoLog).figure(), None);
}

#[test]
fn a_file_that_fails_says_where_and_why_on_one_line() {
    let why = "expected a GPX file, found HTML.\nExport it again.".to_owned();
    let kind = AboutLog::InputSkipped {
        file: "logs/a.gpx".into(),
        line: Some(1),
        count: 0,
        why,
    };
    assert_eq!(
        plain(kind).text(&us()),
        "logs/a.gpx, line 1: not used, or not in full: expected a GPX file, found HTML. Export it again."
    );
}
