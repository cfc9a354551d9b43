//! Sites files, and writing a night into its folder.

use serde_json::{Value, json};
use std::fs;
use std::io::{self, Write};
use std::path::Path;

/// A feature of a sites file: rings of longitudes and latitudes, not closed, written to 1e-8 degrees, a millimetre: what
/// a GIS would write.
pub fn feature(properties: &Value, rings_deg: &[Vec<[f64; 2]>]) -> Value {
    let ring = |ring: &Vec<[f64; 2]>| -> Vec<[f64; 2]> {
        let corners = ring.iter().chain(ring.first());
        corners
            .map(|corner| corner.map(|deg| (deg * 1e8).round() / 1e8))
            .collect()
    };
    let rings: Vec<_> = rings_deg.iter().map(ring).collect();
    json!({ "type": "Feature", "properties": properties, "geometry": { "type": "Polygon", "coordinates": rings } })
}

/// A sites file, a feature a line.
pub fn collection(features: &[Value]) -> String {
    let lines: Vec<String> = features.iter().map(Value::to_string).collect();
    format!(
        "{{ \"type\": \"FeatureCollection\", \"features\": [\n{}\n] }}\n",
        lines.join(",\n")
    )
}

/// Writes a log, compressed where its name says so. The gzip header carries no time.
///
/// # Errors
///
/// The file cannot be written.
pub fn write_log(path: &Path, text: &str) -> io::Result<()> {
    if path.extension().is_none_or(|extension| extension != "gz") {
        return fs::write(path, text);
    }
    let mut file = flate2::GzBuilder::new()
        .mtime(0)
        .write(fs::File::create(path)?, flate2::Compression::best());
    file.write_all(text.as_bytes())?;
    file.finish()?.flush()
}

/// Writes what a night has beside its logs, and makes the folder for them.
///
/// # Errors
///
/// A folder or file cannot be written.
pub fn write_ground(
    night: &Path,
    fleet: &str,
    sites: &str,
    orders: Option<&str>,
) -> io::Result<()> {
    fs::create_dir_all(night.join("logs"))?;
    fs::write(night.join("fleet.toml"), fleet)?;
    fs::write(night.join("sites.geojson"), sites)?;
    orders.map_or(Ok(()), |orders| fs::write(night.join("orders.csv"), orders))
}
