//! The invented ground: sites, zones and lanes, in metres east and north of 45 N 30 W.

use crate::rig::{FT_M, Rig};
use crate::rigs::{NORTH, SOUTH, TRAIL};
use serde_json::{Value, json};

/// WGS 84: semi-major axis, m, and first eccentricity squared (NIMA TR8350.2).
const A_M: f64 = 6_378_137.0;
const E2: f64 = 6.694_379_990_14e-3;
const ORIGIN_LON_DEG: f64 = -30.0;
const ORIGIN_LAT_DEG: f64 = 45.0;

/// The boom's end reaches this far over a lot's line, m.
const OVER_M: f64 = 0.4;
/// Ground left between the boom's end and the bed or island beside it, m.
const CLEAR_M: f64 = 0.1;

/// Longitude and latitude, degrees. East and north lengths are true at the origin's curvature to
/// 1e-4 within 5 km, which is far under the figures that the planted list gives.
pub(crate) fn lon_lat_deg(x_m: f64, y_m: f64) -> [f64; 2] {
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

/// A rectangle of parallel lanes, numbered from the road.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Lot {
    pub rig: Rig,
    pub x0_m: f64,
    pub length_m: f64,
    /// The line nearest to the road, and away from the road: 1 north, -1 south.
    pub y0_m: f64,
    pub away: f64,
    pub lanes: usize,
}

impl Lot {
    pub(crate) fn x1_m(&self) -> f64 {
        self.x0_m + self.length_m
    }

    /// Centre of a lane.
    pub(crate) fn lane_y_m(&self, lane: usize) -> f64 {
        self.y0_m
            + self.away * (self.rig.width_m() / 2.0 - OVER_M + lane as f64 * self.rig.spacing_m())
    }

    /// The lot's line beyond a lane.
    pub(crate) fn line_beyond_m(&self, lane: usize) -> f64 {
        self.lane_y_m(lane) + self.away * (self.rig.width_m() / 2.0 - OVER_M)
    }

    pub(crate) fn y1_m(&self) -> f64 {
        self.line_beyond_m(self.lanes - 1)
    }

    /// Centre of the crosswise pass at an end that lies at `x_m`; `inward` is the way to the lanes.
    pub(crate) fn cross_x_m(&self, x_m: f64, inward: f64) -> f64 {
        x_m + inward * (self.rig.width_m() / 2.0 - OVER_M)
    }

    /// Where that pass's swath ends and only lanes cover the ground.
    pub(crate) fn inner_x_m(&self, x_m: f64, inward: f64) -> f64 {
        x_m + inward * (self.rig.width_m() - OVER_M)
    }

    /// Both lines of an island that takes the place of the lanes after `before` and before `after`.
    pub(crate) fn island_y_m(&self, before: usize, after: usize) -> (f64, f64) {
        let half_m = self.away * (self.rig.width_m() / 2.0 + CLEAR_M);
        (
            self.lane_y_m(before) + half_m,
            self.lane_y_m(after) - half_m,
        )
    }
}

pub(crate) const GANNET: Lot = Lot {
    rig: NORTH,
    x0_m: 1150.0,
    length_m: 160.0,
    y0_m: 40.0,
    away: 1.0,
    lanes: 22,
};
/// Ends of the planted island, and the lanes beside it.
pub(crate) const ISLAND_X_M: (f64, f64) = (1230.0, 1262.0);
pub(crate) const ISLAND_LANES: (usize, usize) = (9, 12);
pub(crate) const FULMAR: Lot = Lot {
    rig: NORTH,
    x0_m: 2720.0,
    length_m: 95.0,
    y0_m: 80.0,
    away: 1.0,
    lanes: 18,
};
pub(crate) const PETREL: Lot = Lot {
    rig: NORTH,
    x0_m: 4500.0,
    length_m: 76.0,
    y0_m: 40.0,
    away: 1.0,
    lanes: 11,
};
pub(crate) const TERN: Lot = Lot {
    rig: SOUTH,
    x0_m: 1540.0,
    length_m: 150.0,
    y0_m: -40.0,
    away: -1.0,
    lanes: 14,
};
/// The line that both zones of the site share.
pub(crate) const TERN_SHARED_X_M: f64 = 1615.0;
pub(crate) const BED_X_M: (f64, f64) = (1640.0, 1662.0);
pub(crate) const BED_LANE: usize = 9;
const BED_HEIGHT_M: f64 = 4.5;
/// The L: a long part by the road, and a short one behind it.
pub(crate) const SKUA: Lot = Lot {
    rig: SOUTH,
    x0_m: 2500.0,
    length_m: 115.0,
    y0_m: -45.0,
    away: -1.0,
    lanes: 14,
};
pub(crate) const SKUA_LONG_LANES: usize = 7;
pub(crate) const SKUA_SHORT_X1_M: f64 = 2555.0;
pub(crate) const AUK: Lot = Lot {
    rig: SOUTH,
    x0_m: 3600.0,
    length_m: 72.0,
    y0_m: -40.0,
    away: -1.0,
    lanes: 12,
};

pub(crate) const DUNLIN: Lot = Lot {
    rig: TRAIL,
    x0_m: 420.0,
    length_m: 84.0,
    y0_m: 30.0,
    away: 1.0,
    lanes: 8,
};
/// The bay behind dunlin's lot: trucks are parked in it all night.
const BAY_X_M: (f64, f64) = (446.0, 464.0);
const BAY_DEPTH_M: f64 = 9.0;
/// Planted: ordered, and nobody went there.
const NODDY_M: ((f64, f64), (f64, f64)) = ((800.0, -82.0), (864.0, -40.0));

/// The drive of fulmar as a lot turned by a quarter: two lanes along it.
pub(crate) const DRIVE_X0_M: f64 = 2760.0;
pub(crate) const DRIVE_Y_M: (f64, f64) = (20.0, 80.0);

/// Centre of a lane of the drive.
pub(crate) fn drive_lane_x_m(lane: usize) -> f64 {
    DRIVE_X0_M + NORTH.width_m() / 2.0 - OVER_M + lane as f64 * NORTH.spacing_m()
}

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

fn rectangle(a: (f64, f64), b: (f64, f64)) -> Vec<(f64, f64)> {
    let ((x0, x1), (y0, y1)) = ((a.0.min(b.0), a.0.max(b.0)), (a.1.min(b.1), a.1.max(b.1)));
    vec![(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
}

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
    let whole = |lot: &Lot| rectangle((lot.x0_m, lot.y0_m), (lot.x1_m(), lot.y1_m()));
    let island_y_m = GANNET.island_y_m(ISLAND_LANES.0, ISLAND_LANES.1);
    let bed_y_m = TERN.lane_y_m(BED_LANE);
    let drive_x1_m = drive_lane_x_m(1) + NORTH.width_m() / 2.0 - OVER_M;
    let mut zones = vec![
        zone("gannet", "lot", "lot", whole(&GANNET)),
        zone(
            "gannet",
            "island",
            "keep_off",
            rectangle((ISLAND_X_M.0, island_y_m.0), (ISLAND_X_M.1, island_y_m.1)),
        ),
        zone("fulmar", "lot", "lot", whole(&FULMAR)),
        zone(
            "fulmar",
            "drive",
            "drive",
            rectangle((DRIVE_X0_M, DRIVE_Y_M.0), (drive_x1_m, DRIVE_Y_M.1)),
        ),
        zone("petrel", "lot", "lot", whole(&PETREL)),
        zone(
            "tern",
            "west",
            "lot",
            rectangle((TERN.x0_m, TERN.y0_m), (TERN_SHARED_X_M, TERN.y1_m())),
        ),
        zone(
            "tern",
            "east",
            "lot",
            rectangle((TERN_SHARED_X_M, TERN.y0_m), (TERN.x1_m(), TERN.y1_m())),
        ),
        zone(
            "tern",
            "bed",
            "keep_off",
            rectangle(
                (BED_X_M.0, bed_y_m - BED_HEIGHT_M / 2.0),
                (BED_X_M.1, bed_y_m + BED_HEIGHT_M / 2.0),
            ),
        ),
        zone("skua", "lot", "lot", skua_ring_m()),
        zone("auk", "lot", "lot", whole(&AUK)),
        zone("dunlin", "lot", "lot", dunlin_ring_m()),
        zone("dunlin", "bay", "blocked", bay_ring_m()),
        zone("noddy", "lot", "lot", rectangle(NODDY_M.0, NODDY_M.1)),
        zone("yard", "yard", "yard", rectangle(YARD_M.0, YARD_M.1)),
    ];
    for (name, a, b) in walks_m() {
        // A walk runs east or north; it is widened across.
        let (across_x_m, across_y_m) = if b.0 > a.0 {
            (0.0, WALK_HALF_M)
        } else {
            (WALK_HALF_M, 0.0)
        };
        let ring_m = rectangle(
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
        ..zone("fulmar", "steps", "walk", rectangle(a, b))
    });
    zones
}

fn bay_ring_m() -> Vec<(f64, f64)> {
    let y_m = DUNLIN.y1_m();
    rectangle((BAY_X_M.0, y_m), (BAY_X_M.1, y_m + BAY_DEPTH_M))
}

/// The lot with its bay.
fn dunlin_ring_m() -> Vec<(f64, f64)> {
    let (x0, x1, y0, y1) = (DUNLIN.x0_m, DUNLIN.x1_m(), DUNLIN.y0_m, DUNLIN.y1_m());
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

fn skua_ring_m() -> Vec<(f64, f64)> {
    let (x0, x1, step_x) = (SKUA.x0_m, SKUA.x1_m(), SKUA_SHORT_X1_M);
    let (y0, y1, step_y) = (
        SKUA.y0_m,
        SKUA.y1_m(),
        SKUA.line_beyond_m(SKUA_LONG_LANES - 1),
    );
    vec![
        (x0, y1),
        (step_x, y1),
        (step_x, step_y),
        (x1, step_y),
        (x1, y0),
        (x0, y0),
    ]
}

/// The sites file.
pub(crate) fn geojson() -> String {
    let features: Vec<Value> = zones().iter().map(feature).collect();
    let mut text = String::from("{ \"type\": \"FeatureCollection\", \"features\": [\n");
    for (i, feature) in features.iter().enumerate() {
        text.push_str(&format!(
            "{}{}\n",
            feature,
            if i + 1 < features.len() { "," } else { "" }
        ));
    }
    text.push_str("] }\n");
    text
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
    // To 1e-8 degrees, a millimetre: what a GIS would write.
    let degrees =
        |&(x_m, y_m): &(f64, f64)| lon_lat_deg(x_m, y_m).map(|deg| (deg * 1e8).round() / 1e8);
    let mut ring: Vec<[f64; 2]> = zone.ring_m.iter().map(degrees).collect();
    ring.push(ring[0]);
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
    json!({ "type": "Feature", "properties": properties, "geometry": { "type": "Polygon", "coordinates": [ring] } })
}
