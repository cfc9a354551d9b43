//! `report.html` as a whole. `tests/browser` looks at it in a browser.

use crate::night::{FLEET, Night, rectangle, sites, zone};
use std::path::Path;

fn page(outcome: &crate::night::Outcome) -> String {
    std::fs::read_to_string(outcome.out.join("report.html")).unwrap()
}

/// `SWATHBOOK_WRITE_PAGE=1 cargo test --test suite the_demos_page` keeps it anew: look at it first.
#[test]
fn the_demos_page_is_the_kept_one() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let (night, kept) = (
        root.join("demo-data/night"),
        root.join("demo-data/report.html"),
    );
    let folder = Night::empty();
    let out = folder.path("out");
    let arguments = [
        "audit",
        night.to_str().unwrap(),
        "--out",
        out.to_str().unwrap(),
    ];
    let made = page(&folder.run(&arguments, &out, &[]));
    if std::env::var_os("SWATHBOOK_WRITE_PAGE").is_some() {
        std::fs::write(&kept, &made).unwrap();
    }
    let kept = std::fs::read_to_string(&kept).unwrap();
    let first = kept
        .lines()
        .zip(made.lines())
        .position(|(kept, made)| kept != made);
    assert!(
        kept == made,
        "demo-data/report.html is not what the program writes (first at line {first:?}); see this test's comment"
    );
}

#[test]
fn a_night_without_treatment_has_a_page_with_the_bare_ground() {
    let lot = zone("quay", "lot", &rectangle(0.0, 0.0, 80.0, 12.0));
    let night = Night::empty()
        .fleet(FLEET)
        .sites(&sites(&[lot]))
        .file("orders.csv", "site,by\nquay,2026-01-12 09:00\n")
        .driven_at([-30.0, 45.001]);
    let page = page(&night.audit(&["--fail-on", "never"]));
    assert!(page.contains("No treatment in the logs"));
    // Nothing treated, no arrow, no number, no dose.
    for class in ["class=\"m\"", "svg class=\"plan dose\"", "class=\"chart\""] {
        assert!(!page.contains(class), "{class}");
    }
    assert!(page.contains("class=\"z p\""), "the whole lot is hatched");
}

#[test]
fn a_healthy_night_folds_its_sites_and_says_that_there_is_nothing_to_go_back_for() {
    let page = page(&Night::new().audit(&[]));
    assert!(page.contains("Nothing to go back for in the logs."));
    assert!(page.contains("<summary>Nothing to look into: 1</summary>"));
    assert!(page.contains("class=\"site well\""));
}

/// Lots alike that nobody treated are listed in the order of their file: they differ by what a degree of longitude loses
/// on 300 m to the north, 0.05 m2, which is nobody's reason to drive one way or the other.
#[test]
fn sites_alike_are_gone_back_to_in_the_order_of_their_file() {
    let ids = ["f", "a", "e", "b", "d", "c"];
    let lots = ids.iter().zip((1..=6).rev()).map(|(id, row)| {
        let south_m = 300.0 * f64::from(row);
        zone(id, "lot", &rectangle(0.0, south_m, 80.0, south_m + 12.0))
    });
    let orders: String = ids.map(|id| format!("{id},2026-01-12 09:00\n")).concat();
    let night = Night::empty()
        .fleet(FLEET)
        .sites(&sites(&lots.collect::<Vec<_>>()))
        .file("orders.csv", format!("site,by\n{orders}"))
        .driven_at([-30.0, 45.0]);
    let page = page(&night.audit(&["--fail-on", "never"]));
    let places = ids.map(|id| page.find(&format!("<li><b>{id}</b>")).unwrap());
    assert!(places.is_sorted(), "{places:?}");
}
