//! Other clients' sites, rigs and orders, added, changed or taken away, change no figure of a site.
//!
//! Not held: when a rig arrived and left (which of two sites side by side it was at depends on both), visits
//! without liquid, and sites that overlap this one.

use rand::seq::IndexedRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};
use std::path::Path;
use swathbook::audit::{Settings, audit};
use swathbook::input::paths;

/// Random changes tried.
const ROUNDS: u64 = 12;
/// Sites whose figures are watched: one alone, two side by side, one with two applications.
const WATCHED: [&str; 4] = ["gannet", "fulmar", "petrel", "tern"];

/// The demo night, to be changed.
struct Night {
    fleet: String,
    sites: Value,
    orders: Vec<String>,
    logs: Vec<(String, Vec<u8>)>,
}

fn demo() -> Night {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/night");
    let text = |name: &str| std::fs::read_to_string(dir.join(name)).unwrap();
    let mut logs: Vec<(String, Vec<u8>)> = std::fs::read_dir(dir.join("logs"))
        .unwrap()
        .map(|entry| {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_str().unwrap().to_owned();
            (name, std::fs::read(path).unwrap())
        })
        .collect();
    logs.sort();
    Night {
        fleet: text("fleet.toml"),
        sites: serde_json::from_str(&text("sites.geojson")).unwrap(),
        orders: text("orders.csv").lines().map(str::to_owned).collect(),
        logs,
    }
}

/// What is told of a site, without what may depend on its neighbours.
fn figures(night: &Night, site: &str) -> Value {
    let dir = tempfile::tempdir().unwrap();
    let write = |name: &str, bytes: &[u8]| std::fs::write(dir.path().join(name), bytes).unwrap();
    std::fs::create_dir(dir.path().join("logs")).unwrap();
    write("fleet.toml", night.fleet.as_bytes());
    write("sites.geojson", night.sites.to_string().as_bytes());
    write("orders.csv", (night.orders.join("\n") + "\n").as_bytes());
    for (name, bytes) in &night.logs {
        write(&format!("logs/{name}"), bytes);
    }
    let paths = paths::find(Some(dir.path()), None, None, None, &[]).unwrap();
    let audited = audit(&paths, Settings::default(), &|_, _, _| ()).unwrap();
    let document = audited
        .audit
        .sites
        .iter()
        .find(|of| of.site == site)
        .unwrap();
    let mut value = serde_json::to_value(document).unwrap();
    value.as_object_mut().unwrap().remove("other_visits");
    for application in value["applications"].as_array_mut().unwrap() {
        for visit in application["visits"].as_array_mut().unwrap() {
            let visit = visit.as_object_mut().unwrap();
            visit.remove("arrive");
            visit.remove("depart");
        }
    }
    value
}

/// Changes what is not this site's.
fn change(night: &mut Night, site: &str, random: &mut ChaCha8Rng) {
    let features = night.sites["features"].as_array_mut().unwrap();
    let others: Vec<String> = features
        .iter()
        .map(|feature| feature["properties"]["site"].as_str().unwrap().to_owned())
        .filter(|of| of != site)
        .collect();
    let chosen = others.choose(random).unwrap().clone();
    let is_chosen = |feature: &Value| feature["properties"]["site"] == json!(chosen);
    let of_chosen = |line: &String| line.starts_with(&format!("{chosen},"));
    match random.random_range(0..5) {
        // A client gone, with its orders.
        0 => {
            features.retain(|feature| !is_chosen(feature));
            night.orders.retain(|line| !of_chosen(line));
        }
        // Another client's ground asks for next to nothing, or for ten times as much.
        1 => {
            let target = ["2 mL/m2", "400 mL/m2"].choose(random).unwrap();
            for feature in features.iter_mut().filter(|feature| is_chosen(feature)) {
                feature["properties"]["target"] = json!(target);
            }
        }
        2 => night.orders.retain(|line| !of_chosen(line)),
        // A client far away whom nobody visits.
        3 => {
            let lon = -29.0 + f64::from(random.random_range(0..50_u32)) / 100.0;
            let ring = [[0.0, 0.0], [0.001, 0.0], [0.001, 0.001], [0.0, 0.0]];
            let ring = ring.map(|[x, y]| [lon + x, 45.5 + y]);
            features.insert(
                random.random_range(0..=features.len()),
                json!({"type": "Feature",
                    "properties": {"site": format!("far{}", random.random::<u32>()), "target": "1 mL/m2"},
                    "geometry": {"type": "Polygon", "coordinates": [ring]}}),
            );
        }
        // A rig in the fleet file that stayed in, and a product that nobody carried.
        _ if !night.fleet.contains("reserve") => {
            night.fleet += "\n[[product]]\nid = \"spare\"\ntarget = \"1 mL/m2\"\n";
            night.fleet +=
                "\n[[rig]]\nid = \"reserve\"\nproduct = \"spare\"\nsections = [\"9 m\"]\n";
        }
        _ => {}
    }
}

#[test]
fn other_clients_change_no_figure_of_a_site() {
    let mut random = ChaCha8Rng::seed_from_u64(9);
    for site in WATCHED {
        let before = figures(&demo(), site);
        for round in 0..ROUNDS / 4 {
            let mut night = demo();
            for _ in 0..3 {
                change(&mut night, site, &mut random);
            }
            assert_eq!(figures(&night, site), before, "{site}, round {round}");
        }
    }
}

/// Every leg of the demo night, written down and read back, gives the same outcome to the last bit.
#[test]
fn what_is_written_of_a_site_gives_its_figures_again() {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/night");
    let paths = paths::find(Some(&dir), None, None, None, &[]).unwrap();
    let gathered = swathbook::audit::gather(&paths, Settings::default(), &|_, _, _| ()).unwrap();
    for (index, legs) in gathered.legs.iter().enumerate() {
        let text = serde_json::to_string(legs).unwrap();
        let back: Vec<swathbook::site::Leg> = serde_json::from_str(&text).unwrap();
        let treat = |legs: &[swathbook::site::Leg]| {
            let (site, rules) = (&gathered.sites[index], &gathered.rules[index]);
            format!("{:?}", swathbook::site::treat(site, legs, rules, true))
        };
        assert_eq!(treat(legs), treat(&back));
    }
}
