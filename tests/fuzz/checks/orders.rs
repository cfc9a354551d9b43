//! Any bytes as an orders file, for two sites with zones of every kind.

use std::path::Path;
use std::sync::LazyLock;
use swathbook::ground::{self, Site};
use swathbook::input::fleet::{self, Fleet};
use swathbook::input::orders;
use swathbook::input::sites;

const FLEET: &str = r#"
[defaults]
timezone = "America/Winnipeg"
[[product]]
id = "brine"
[[rig]]
id = "north"
sections = ["1 m"]
"#;

const SITES: &str = r#"{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"site":"quay","zone":"lot","use":"lot"},"geometry":{"type":"Polygon","coordinates":[[[-30,45],[-29.999,45],[-29.999,45.001],[-30,45]]]}},
{"type":"Feature","properties":{"site":"quay","zone":"bed","use":"keep_off"},"geometry":{"type":"Polygon","coordinates":[[[-30,45.002],[-29.999,45.002],[-29.999,45.003],[-30,45.002]]]}},
{"type":"Feature","properties":{"site":"yard","zone":"1","use":"yard"},"geometry":{"type":"Polygon","coordinates":[[[-30,45.1],[-29.999,45.1],[-29.999,45.101],[-30,45.1]]]}}
]}"#;

static RIGS: LazyLock<Fleet> =
    LazyLock::new(|| fleet::read(FLEET, Path::new("fleet.toml")).expect("the fleet above"));

/// Planes of PROJ stay in their thread, so each thread divides the ground for itself.
fn with_sites(work: impl FnOnce(&[Site])) {
    thread_local! {
        static GROUND: Vec<Site> = {
            let drawn = sites::read(SITES, Path::new("sites.geojson"), None).expect("the sites above");
            ground::divide(&drawn.zones, &[]).expect("a plane in mid-ocean").0
        };
    }
    GROUND.with(|sites| work(sites));
}

/// Reads the bytes as an orders file.
pub(crate) fn check(bytes: &[u8]) {
    let Some(text) = super::text(bytes) else {
        return;
    };
    let reading = match orders::read(&text, Path::new("orders.csv"), "orders.csv", &RIGS) {
        Ok(reading) => reading,
        Err(error) => return assert!(!error.to_string().is_empty()),
    };
    super::log::worded(&reading.findings);
    let lines = text
        .bytes()
        .filter(|&byte| byte == b'\n' || byte == b'\r')
        .count() as u64
        + 1;
    for order in &reading.orders {
        assert!(
            !order.site.is_empty() && (2..=lines).contains(&order.line),
            "line {}",
            order.line
        );
        assert!(
            order
                .target_ml_m2
                .is_none_or(|rate| rate > 0.0 && rate.is_finite())
        );
        assert!(order.product.as_deref().is_none_or(|id| id == "brine"));
        assert!(!matches!((order.from, order.by), (Some(from), Some(by)) if from >= by));
    }
    let rows = reading.orders.len();
    with_sites(|sites| {
        if let Ok((placed, findings)) =
            swathbook::orders::place(reading.orders, sites, "orders.csv")
        {
            super::log::worded(&findings);
            let placed = placed.sites.iter().flatten();
            assert!(placed.clone().count() <= rows);
            assert!(placed.clone().all(|placed| placed.order.site == "quay"));
        }
    });
}
