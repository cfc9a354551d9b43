//! The ground: sites along a road, in metres on a plane that is turned and put somewhere in mid-ocean by the seed.

use geographiclib_rs::{DirectGeodesic, Geodesic};
use making::chance::Chance;
use making::files;
use making::lot::{At, DRIVE_Y_M, Island, Lot, OVER_M, rectangle_m};
use making::rig::Rig;
use serde_json::{Value, json};

/// Ground left between a swath and an island, m.
pub(crate) const CLEAR_M: f64 = 0.3;
/// Names of sites.
pub(crate) const NAMES: [&str; 6] = ["gannet", "fulmar", "petrel", "tern", "skua", "auk"];
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
    pub(crate) fn new(fleet: &[Rig], chance: &mut Chance) -> Self {
        let (lon_deg, lat_deg) = (chance.between(-34.0, -28.0), chance.between(44.0, 56.0));
        let turn_deg = chance.between(0.0, 360.0);
        let trucks = fleet.len() - 1;
        let count = 3 + chance.below(4);
        let mut sites = Vec::new();
        let mut x_m = chance.between(400.0, 900.0);
        for (i, name) in NAMES.into_iter().enumerate().take(count) {
            let truck = i % trucks;
            let lot = lot(&fleet[truck], x_m, i == 0 || chance.uniform() < 0.3, chance);
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
            let mut add = |zone: &str, (land_use, method): (&str, &str), ring: &[At]| {
                features.push(self.feature(site.name, zone, (land_use, method), ring));
            };
            let lot = &site.lot;
            add("lot", ("lot", "boom"), &lot.ring_m());
            if let Some(island) = lot.island {
                add("island", ("keep_off", "boom"), &lot.island_ring_m(&island));
            }
            for (k, bed) in site.beds_m.iter().enumerate() {
                let ring = rectangle_m(bed.0, bed.1);
                add(&format!("bed-{k}"), ("keep_off", "boom"), &ring);
            }
            if let Some(ring) = lot.drive_ring_m() {
                add("drive", ("drive", "boom"), &ring);
            }
            for (k, (a, b)) in site.walks_m.iter().enumerate() {
                let ring = rectangle_m((a.0, a.1 - WALK_HALF_M), (b.0, b.1 + WALK_HALF_M));
                add(&format!("walk-{k}"), ("walk", "boom"), &ring);
            }
            if let Some((x, y)) = site.steps_m {
                let ring = rectangle_m((x, y), (x + STEPS_M, y + STEPS_M));
                add("steps", ("walk", "hand"), &ring);
            }
        }
        let yard = rectangle_m(YARD_M.0, YARD_M.1);
        features.push(self.feature("yard", "yard", ("yard", "boom"), &yard));
        files::collection(&features)
    }

    fn feature(
        &self,
        site: &str,
        zone: &str,
        (land_use, method): (&str, &str),
        ring: &[At],
    ) -> Value {
        let ring = ring.iter().map(|&at| self.lon_lat_deg(at)).collect();
        let mut properties =
            json!({ "site": site, "zone": zone, "use": land_use, "method": method });
        if land_use == "walk" {
            properties["target"] = json!("45 gal/ac");
        }
        files::feature(&properties, &[ring])
    }
}

fn lot(rig: &Rig, x0_m: f64, drive: bool, chance: &mut Chance) -> Lot {
    let length_m = chance.between(70.0, 140.0);
    let lanes = 7 + chance.below(9);
    let away = if chance.uniform() < 0.5 { 1.0 } else { -1.0 };
    let y0_m = if drive {
        DRIVE_Y_M.1
    } else {
        chance.between(30.0, 50.0)
    };
    let mut lot = Lot::rectangle(*rig, (x0_m, x0_m + length_m), away * y0_m, away, lanes);
    // The last lane overlaps what is left over.
    lot.height_m -= chance.between(0.0, 0.7) * rig.spacing_m();
    lot.drive_x_m = drive.then(|| x0_m + chance.between(10.0, length_m - 25.0));
    match chance.below(3) {
        0 => lot.short = Some((lanes / 2, x0_m + chance.between(0.45, 0.7) * length_m)),
        1 if length_m > 95.0 => {
            let from_m = x0_m + chance.between(0.4, 0.5) * length_m;
            lot.island = Some(Island {
                x_m: (from_m, from_m + chance.between(6.0, 14.0)),
                lanes: (lanes / 2 - 2, lanes / 2 + 1),
                clear_m: CLEAR_M,
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
    let far = lot.y1_m();
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
