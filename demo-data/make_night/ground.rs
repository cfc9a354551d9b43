//! The invented ground: sites, zones and lanes, in metres east and north of 45 N 30 W.

use crate::rigs::{NORTH, SOUTH, TRAIL};
use making::files;
use making::lot::{At, Island, Lot, rectangle_m};
use making::rig::FT_M;
use serde_json::{Value, json};

/// WGS 84: semi-major axis, m, and first eccentricity squared (NIMA TR8350.2).
const A_M: f64 = 6_378_137.0;
const E2: f64 = 6.694_379_990_14e-3;
const ORIGIN_LON_DEG: f64 = -30.0;
const ORIGIN_LAT_DEG: f64 = 45.0;

/// Longitude and latitude, degrees. East and north lengths are true at the origin's curvature to
/// 1e-4 within 5 km, which is far under the figures that the planted list gives.
pub(crate) fn lon_lat_deg((x_m, y_m): At) -> [f64; 2] {
    let sin = ORIGIN_LAT_DEG.to_radians().sin();
    let meridian_m = A_M * (1.0 - E2) / (1.0 - E2 * sin * sin).powf(1.5);
    let lat_rad = ORIGIN_LAT_DEG.to_radians() + y_m / meridian_m;
    let normal_m = A_M / (1.0 - E2 * lat_rad.sin().powi(2)).sqrt();
    [
        ORIGIN_LON_DEG + (x_m / (normal_m * lat_rad.cos())).to_degrees(),
        lat_rad.to_degrees(),
    ]
}

/// One drawn polygon.
pub(crate) struct Zone {
    pub site: &'static str,
    pub zone: &'static str,
    pub land_use: &'static str,
    pub method: Option<&'static str>,
    pub target: Option<&'static str>,
    /// Corners, counter-clockwise, not closed.
    pub ring_m: Vec<(f64, f64)>,
}

pub(crate) const GANNET: Lot = Lot {
    island: Some(ISLAND),
    ..Lot::rectangle(NORTH, (1150.0, 1310.0), 40.0, 1.0, 22)
};
/// The planted island.
pub(crate) const ISLAND: Island = Island {
    x_m: (1230.0, 1262.0),
    lanes: (9, 12),
    clear_m: 0.1,
};
pub(crate) const FULMAR: Lot = Lot {
    drive_x_m: Some(2760.0),
    ..Lot::rectangle(NORTH, (2720.0, 2815.0), 80.0, 1.0, 18)
};
pub(crate) const PETREL: Lot = Lot::rectangle(NORTH, (4500.0, 4576.0), 40.0, 1.0, 11);
pub(crate) const TERN: Lot = Lot::rectangle(SOUTH, (1540.0, 1690.0), -40.0, -1.0, 14);
/// The line that both zones of the site share.
pub(crate) const TERN_SHARED_X_M: f64 = 1615.0;
pub(crate) const BED_X_M: (f64, f64) = (1640.0, 1662.0);
pub(crate) const BED_LANE: usize = 9;
const BED_HEIGHT_M: f64 = 4.5;
/// The L: a long part by the road, and a short one behind it.
pub(crate) const SKUA: Lot = Lot {
    short: Some((SKUA_LONG_LANES, SKUA_SHORT_X1_M)),
    ..Lot::rectangle(SOUTH, (2500.0, 2615.0), -45.0, -1.0, 14)
};
pub(crate) const SKUA_LONG_LANES: usize = 7;
pub(crate) const SKUA_SHORT_X1_M: f64 = 2555.0;
pub(crate) const AUK: Lot = Lot::rectangle(SOUTH, (3600.0, 3672.0), -40.0, -1.0, 12);

pub(crate) const DUNLIN: Lot = Lot::rectangle(TRAIL, (420.0, 504.0), 30.0, 1.0, 8);
/// The bay behind dunlin's lot: trucks are parked in it all night.
const BAY_X_M: (f64, f64) = (446.0, 464.0);
const BAY_DEPTH_M: f64 = 9.0;
/// Planted: ordered, and nobody went there.
const NODDY_M: ((f64, f64), (f64, f64)) = ((800.0, -82.0), (864.0, -40.0));

/// Half the width of a walk: 5 ft 11 in of concrete.
const WALK_HALF_M: f64 = 71.0 / 12.0 * FT_M / 2.0;
/// A zone and both ends of its centre line.
type Walk = (&'static str, (f64, f64), (f64, f64));

/// Centre lines of the walks of fulmar, in the order in which the cart treats them.
pub(crate) fn walks_m() -> [Walk; 3] {
    let behind_m = FULMAR.y1_m() + 20.0;
    [
        ("walk-drive", (2748.0, 20.0), (2748.0, 60.0)),
        ("walk-west", (2688.0, 70.0), (2688.0, behind_m - 10.0)),
        ("walk-back", (2704.0, behind_m), (2810.0, behind_m)),
    ]
}

/// The steps that are treated by hand.
pub(crate) fn steps_m() -> ((f64, f64), (f64, f64)) {
    let y_m = FULMAR.y1_m() + 24.0;
    ((2834.0, y_m - 8.0), (2852.0, y_m + 4.0))
}

pub(crate) const YARD_M: ((f64, f64), (f64, f64)) = ((-110.0, -90.0), (-30.0, -18.0));

fn zone(
    site: &'static str,
    zone: &'static str,
    land_use: &'static str,
    ring_m: Vec<(f64, f64)>,
) -> Zone {
    Zone {
        site,
        zone,
        land_use,
        method: None,
        target: None,
        ring_m,
    }
}

/// Every polygon, in the order of the file.
pub(crate) fn zones() -> Vec<Zone> {
    let lot = |site, lot: &Lot| zone(site, "lot", "lot", lot.ring_m());
    let bed_y_m = TERN.lane_y_m(BED_LANE);
    let tern = |x0_m, x1_m| rectangle_m((x0_m, TERN.y0_m), (x1_m, TERN.y1_m()));
    let bed = rectangle_m(
        (BED_X_M.0, bed_y_m - BED_HEIGHT_M / 2.0),
        (BED_X_M.1, bed_y_m + BED_HEIGHT_M / 2.0),
    );
    let mut zones = vec![
        lot("gannet", &GANNET),
        zone(
            "gannet",
            "island",
            "keep_off",
            GANNET.island_ring_m(&ISLAND),
        ),
        lot("fulmar", &FULMAR),
        zone(
            "fulmar",
            "drive",
            "drive",
            FULMAR.drive_ring_m().unwrap_or_default(),
        ),
        lot("petrel", &PETREL),
        zone("tern", "west", "lot", tern(TERN.x_m.0, TERN_SHARED_X_M)),
        zone("tern", "east", "lot", tern(TERN_SHARED_X_M, TERN.x_m.1)),
        zone("tern", "bed", "keep_off", bed),
        lot("skua", &SKUA),
        lot("auk", &AUK),
        zone("dunlin", "lot", "lot", dunlin_ring_m()),
        zone("dunlin", "bay", "blocked", bay_ring_m()),
        zone("noddy", "lot", "lot", rectangle_m(NODDY_M.0, NODDY_M.1)),
        zone("yard", "yard", "yard", rectangle_m(YARD_M.0, YARD_M.1)),
    ];
    for (name, a, b) in walks_m() {
        // A walk runs east or north; it is widened across.
        let (across_x_m, across_y_m) = if b.0 > a.0 {
            (0.0, WALK_HALF_M)
        } else {
            (WALK_HALF_M, 0.0)
        };
        let ring_m = rectangle_m(
            (a.0 - across_x_m, a.1 - across_y_m),
            (b.0 + across_x_m, b.1 + across_y_m),
        );
        zones.push(Zone {
            target: Some("45 gal/ac"),
            ..zone("fulmar", name, "walk", ring_m)
        });
    }
    let (a, b) = steps_m();
    zones.push(Zone {
        method: Some("hand"),
        target: Some("45 gal/ac"),
        ..zone("fulmar", "steps", "walk", rectangle_m(a, b))
    });
    zones
}

fn bay_ring_m() -> Vec<(f64, f64)> {
    let y_m = DUNLIN.y1_m();
    rectangle_m((BAY_X_M.0, y_m), (BAY_X_M.1, y_m + BAY_DEPTH_M))
}

/// The lot with its bay.
fn dunlin_ring_m() -> Vec<(f64, f64)> {
    let ((x0, x1), y0, y1) = (DUNLIN.x_m, DUNLIN.y0_m, DUNLIN.y1_m());
    let (bay0, bay1) = BAY_X_M;
    let behind = y1 + BAY_DEPTH_M;
    vec![
        (x0, y0),
        (x1, y0),
        (x1, y1),
        (bay1, y1),
        (bay1, behind),
        (bay0, behind),
        (bay0, y1),
        (x0, y1),
    ]
}

/// The sites file.
pub(crate) fn geojson() -> String {
    let features: Vec<Value> = zones().iter().map(feature).collect();
    files::collection(&features)
}

/// What people call a site: most go by their id.
fn name(site: &str) -> &str {
    match site {
        "tern" => "Tern Place",
        id => id,
    }
}

/// Where a crew is sent: along one road that does not exist. Not every site has an address on file.
fn address(site: &str) -> Option<&'static str> {
    Some(match site {
        "noddy" => "2 Ledge Road",
        "gannet" => "5 Ledge Road",
        "skua" => "8 Ledge Road",
        "fulmar" => "9 Ledge Road",
        _ => return None,
    })
}

fn feature(zone: &Zone) -> Value {
    let mut properties = json!({ "site": zone.site, "zone": zone.zone, "use": zone.land_use,
        "name": name(zone.site), "client": format!("client of {}", zone.site) });
    if let Some(address) = address(zone.site) {
        properties["address"] = json!(address);
    }
    if let Some(method) = zone.method {
        properties["method"] = json!(method);
    }
    if zone.land_use == "blocked" {
        properties["from"] = json!("2026-01-11T18:00:00-02:00");
        properties["until"] = json!("2026-01-12T07:00:00-02:00");
        properties["reason"] = json!("parked trucks");
    }
    if let Some(target) = zone.target {
        properties["target"] = json!(target);
    }
    let ring_deg = zone.ring_m.iter().copied().map(lon_lat_deg).collect();
    files::feature(&properties, &[ring_deg])
}
