//! Step 2: the ground. Sites along a road, in metres on a plane that is turned and put somewhere in
//! mid-ocean by the seed.

use crate::chance::Chance;
use crate::machine::Machine;
use crate::rig::Rig;
use geographiclib_rs::{DirectGeodesic, Geodesic};
use serde_json::{Value, json};

/// A place on the plane: east, north, m (before the plane is turned).
pub(crate) type At = (f64, f64);

/// Swaths reach this far over a lot's line, m.
pub(crate) const OVER_M: f64 = 0.4;
/// Ground left between a swath and an island, m.
pub(crate) const CLEAR_M: f64 = 0.3;
/// Names of sites.
pub(crate) const NAMES: [&str; 6] = ["gannet", "fulmar", "petrel", "tern", "skua", "auk"];
/// Where drives run, seen from the road.
pub(crate) const DRIVE_Y_M: (f64, f64) = (20.0, 80.0);

/// Ground in the middle of a lot that lanes stop at: ends, and the lanes on either side of it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Island {
    pub x_m: (f64, f64),
    pub lanes: (usize, usize),
}

/// A lot of parallel lanes along the road; `s` counts from its line by the road, away from it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Lot {
    pub rig: Rig,
    pub x_m: (f64, f64),
    pub y0_m: f64,
    pub away: f64,
    pub lanes: usize,
    pub height_m: f64,
    /// An L: lanes from this number on end at this x.
    pub short: Option<(usize, f64)>,
    pub island: Option<Island>,
    /// The lot's drive begins at this x.
    pub drive_x_m: Option<f64>,
}

impl Lot {
    pub(crate) fn spacing_m(&self) -> f64 {
        self.rig.spacing_m()
    }

    /// Centre of a lane; the last one keeps to the lot's far line.
    pub(crate) fn lane_s_m(&self, lane: usize) -> f64 {
        let half_m = self.rig.width_m() / 2.0 - OVER_M;
        (half_m + lane as f64 * self.spacing_m()).min(self.height_m - half_m)
    }

    pub(crate) fn y_m(&self, s_m: f64) -> f64 {
        self.y0_m + self.away * s_m
    }

    pub(crate) fn lane_y_m(&self, lane: usize) -> f64 {
        self.y_m(self.lane_s_m(lane))
    }

    /// Far line of the part that only lanes before `lane` cover.
    pub(crate) fn step_s_m(&self, lane: usize) -> f64 {
        self.lane_s_m(lane - 1) + self.rig.width_m() / 2.0 - OVER_M
    }

    /// Both ends of a lane's ground.
    pub(crate) fn ends_m(&self, lane: usize) -> (f64, f64) {
        match self.short {
            Some((first, x_m)) if lane >= first => (self.x_m.0, x_m),
            _ => self.x_m,
        }
    }

    pub(crate) fn ring_m(&self) -> Vec<At> {
        let ((x0, x1), top) = (self.x_m, self.y_m(self.height_m));
        match self.short {
            None => vec![(x0, self.y0_m), (x1, self.y0_m), (x1, top), (x0, top)],
            Some((lane, xs)) => {
                let step = self.y_m(self.step_s_m(lane));
                vec![
                    (x0, self.y0_m),
                    (x1, self.y0_m),
                    (x1, step),
                    (xs, step),
                    (xs, top),
                    (x0, top),
                ]
            }
        }
    }

    /// Near and far line of the island.
    pub(crate) fn island_s_m(&self, island: &Island) -> (f64, f64) {
        let half_m = self.rig.width_m() / 2.0 + CLEAR_M;
        (
            self.lane_s_m(island.lanes.0) + half_m,
            self.lane_s_m(island.lanes.1) - half_m,
        )
    }

    /// Centre lines of the drive's two lanes, x.
    pub(crate) fn drive_lanes_m(&self) -> Option<(f64, f64)> {
        let first_m = self.drive_x_m? + self.rig.width_m() / 2.0 - OVER_M;
        Some((first_m, first_m + self.spacing_m()))
    }
}

/// One client property.
#[derive(Debug, Clone)]
pub(crate) struct Site {
    pub name: &'static str,
    pub lot: Lot,
    /// Index of the truck that treats it; none: nobody asked for it.
    pub truck: Option<usize>,
    /// Centre lines of walks.
    pub walks_m: Vec<(At, At)>,
    /// Steps that are treated by hand.
    pub steps_m: Option<At>,
    /// Beds: level keep-off ground.
    pub beds_m: Vec<(At, At)>,
}

/// The whole ground.
#[derive(Debug, Clone)]
pub(crate) struct Scene {
    pub sites: Vec<Site>,
    lon_deg: f64,
    lat_deg: f64,
    turn_deg: f64,
}

/// Half the width of walks, m: under three times the position error, so that areas are not judged.
pub(crate) const WALK_HALF_M: f64 = 0.85;
const YARD_M: (At, At) = ((-110.0, -90.0), (-30.0, -18.0));
/// Size of steps, m.
const STEPS_M: f64 = 8.0;

impl Scene {
    pub(crate) fn new(fleet: &[Machine], chance: &mut Chance) -> Self {
        let (lon_deg, lat_deg) = (chance.between(-34.0, -28.0), chance.between(44.0, 56.0));
        let turn_deg = chance.between(0.0, 360.0);
        let trucks = fleet.len() - 1;
        let count = 3 + chance.below(4);
        let mut sites = Vec::new();
        let mut x_m = chance.between(400.0, 900.0);
        for (i, name) in NAMES.into_iter().enumerate().take(count) {
            let truck = i % trucks;
            let lot = lot(
                &fleet[truck].rig,
                x_m,
                i == 0 || chance.uniform() < 0.3,
                chance,
            );
            x_m = lot.x_m.1 + chance.between(120.0, 500.0);
            let asked = i < 2 * trucks || chance.uniform() < 0.8;
            sites.push(site(name, lot, asked.then_some(truck), i == 0, chance));
        }
        Self {
            sites,
            lon_deg,
            lat_deg,
            turn_deg,
        }
    }

    /// Longitude and latitude of a place.
    pub(crate) fn lon_lat_deg(&self, (x_m, y_m): At) -> [f64; 2] {
        let azimuth_deg = x_m.atan2(y_m).to_degrees() + self.turn_deg;
        let (lat_deg, lon_deg) =
            Geodesic::wgs84().direct(self.lat_deg, self.lon_deg, azimuth_deg, x_m.hypot(y_m));
        [lon_deg, lat_deg]
    }

    /// The sites file.
    pub(crate) fn geojson(&self) -> String {
        let mut features = Vec::new();
        for site in &self.sites {
            let mut add = |zone: String, land_use: &str, method: &str, ring: &[At]| {
                features.push(self.feature(site.name, &zone, (land_use, method), ring));
            };
            let lot = &site.lot;
            add("lot".into(), "lot", "boom", &lot.ring_m());
            if let Some(island) = lot.island {
                let (near, far) = lot.island_s_m(&island);
                let ring = rectangle((island.x_m.0, lot.y_m(near)), (island.x_m.1, lot.y_m(far)));
                add("island".into(), "keep_off", "boom", &ring);
            }
            for (k, bed) in site.beds_m.iter().enumerate() {
                add(
                    format!("bed-{k}"),
                    "keep_off",
                    "boom",
                    &rectangle(bed.0, bed.1),
                );
            }
            if let (Some(x0), Some((_, last))) = (lot.drive_x_m, lot.drive_lanes_m()) {
                let x1 = last + lot.rig.width_m() / 2.0 - OVER_M;
                let ring = rectangle((x0, lot.away * DRIVE_Y_M.0), (x1, lot.away * DRIVE_Y_M.1));
                add("drive".into(), "drive", "boom", &ring);
            }
            for (k, (a, b)) in site.walks_m.iter().enumerate() {
                let across = (0.0, WALK_HALF_M);
                let ring = rectangle((a.0, a.1 - across.1), (b.0, b.1 + across.1));
                add(format!("walk-{k}"), "walk", "boom", &ring);
            }
            if let Some((x, y)) = site.steps_m {
                add(
                    "steps".into(),
                    "walk",
                    "hand",
                    &rectangle((x, y), (x + STEPS_M, y + STEPS_M)),
                );
            }
        }
        features.push(self.feature(
            "yard",
            "yard",
            ("yard", "boom"),
            &rectangle(YARD_M.0, YARD_M.1),
        ));
        json!({ "type": "FeatureCollection", "features": features }).to_string()
    }

    fn feature(
        &self,
        site: &str,
        zone: &str,
        (land_use, method): (&str, &str),
        ring: &[At],
    ) -> Value {
        let mut ring: Vec<[f64; 2]> = ring
            .iter()
            .map(|&at| self.lon_lat_deg(at).map(|deg| (deg * 1e8).round() / 1e8))
            .collect();
        ring.push(ring[0]);
        let mut properties =
            json!({ "site": site, "zone": zone, "use": land_use, "method": method });
        if land_use == "walk" {
            properties["target"] = json!("45 gal/ac");
        }
        json!({ "type": "Feature", "properties": properties, "geometry": { "type": "Polygon", "coordinates": [ring] } })
    }
}

fn rectangle(a: At, b: At) -> Vec<At> {
    let ((x0, x1), (y0, y1)) = ((a.0.min(b.0), a.0.max(b.0)), (a.1.min(b.1), a.1.max(b.1)));
    vec![(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
}

fn lot(rig: &Rig, x0_m: f64, drive: bool, chance: &mut Chance) -> Lot {
    let length_m = chance.between(70.0, 140.0);
    let lanes = 7 + chance.below(9);
    let away = if chance.uniform() < 0.5 { 1.0 } else { -1.0 };
    let width_m = rig.width_m();
    let whole_m = (lanes - 1) as f64 * rig.spacing_m() + width_m - 2.0 * OVER_M;
    let mut lot = Lot {
        rig: *rig,
        x_m: (x0_m, x0_m + length_m),
        y0_m: away
            * if drive {
                DRIVE_Y_M.1
            } else {
                chance.between(30.0, 50.0)
            },
        away,
        lanes,
        // The last lane overlaps what is left over.
        height_m: whole_m - chance.between(0.0, 0.7) * rig.spacing_m(),
        short: None,
        island: None,
        drive_x_m: drive.then(|| x0_m + chance.between(10.0, length_m - 25.0)),
    };
    match chance.below(3) {
        0 => lot.short = Some((lanes / 2, x0_m + chance.between(0.45, 0.7) * length_m)),
        1 if length_m > 95.0 => {
            let from_m = x0_m + chance.between(0.4, 0.5) * length_m;
            lot.island = Some(Island {
                x_m: (from_m, from_m + chance.between(6.0, 14.0)),
                lanes: (lanes / 2 - 2, lanes / 2 + 1),
            });
        }
        _ => {}
    }
    lot
}

fn site(
    name: &'static str,
    lot: Lot,
    truck: Option<usize>,
    first: bool,
    chance: &mut Chance,
) -> Site {
    let (x0, x1) = lot.x_m;
    let far = lot.y_m(lot.height_m);
    let behind = |m: f64| far + lot.away * m;
    let mut walks_m = Vec::new();
    if truck.is_some() && (first || chance.uniform() < 0.5) {
        for k in 0..1 + chance.below(3) {
            let y = behind(12.0 + 10.0 * k as f64);
            walks_m.push(((x0, y), (x0 + chance.between(30.0, x1 - x0), y)));
        }
    }
    let steps_m = (!walks_m.is_empty() && chance.uniform() < 0.5).then(|| (x1 + 8.0, behind(15.0)));
    let mut beds_m = Vec::new();
    if chance.uniform() < 0.5 {
        // A bed along the far line, behind a kerb that takes what reaches over the line.
        beds_m.push((
            (x0, behind(OVER_M)),
            (lot.ends_m(lot.lanes - 1).1, behind(6.0)),
        ));
    }
    Site {
        name,
        lot,
        truck,
        walks_m,
        steps_m,
        beds_m,
    }
}
