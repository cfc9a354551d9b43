//! A great night: the demo's night over and over, each copy farther east, with sites, rigs, logs and orders of its
//! own. For looking at a page of hundreds of sites.

use serde_json::Value;

/// One copy of the night; number 0 is the demo's own.
#[derive(Clone, Copy)]
pub(crate) struct Copy(pub(crate) u32);

/// So far east of each other, degrees: the demo's lots and roads reach over 0.06.
const APART_DEG: f64 = 0.08;

impl Copy {
    fn east_deg(self) -> f64 {
        f64::from(self.0) * APART_DEG
    }

    /// An id of this copy.
    fn id(self, id: &str) -> String {
        if self.0 == 0 {
            id.to_owned()
        } else {
            format!("{id}-{}", self.0)
        }
    }

    /// The name of a log: `south-1.gpx.gz` becomes `south-1-7.gpx.gz`.
    pub(crate) fn file(self, name: &str) -> String {
        match name.split_once('.') {
            Some((stem, end)) => format!("{}.{end}", self.id(stem)),
            None => self.id(name),
        }
    }

    /// A log.
    pub(crate) fn log(self, text: &str) -> String {
        if self.0 == 0 {
            return text.to_owned();
        }
        let mut parts = text.split(" lon=\"");
        let mut moved = parts.next().unwrap_or_default().to_owned();
        for part in parts {
            let (lon, rest) = part.split_once('"').unwrap_or((part, ""));
            let lon_deg = lon.parse::<f64>().unwrap_or_default() + self.east_deg();
            moved += &format!(" lon=\"{lon_deg:.7}\"{rest}");
        }
        moved.replace("</s:rig>", &format!("-{}</s:rig>", self.0))
    }

    /// The features of a sites file.
    pub(crate) fn features(self, sites: &str) -> serde_json::Result<Vec<Value>> {
        let mut whole: Value = serde_json::from_str(sites)?;
        let mut features = match whole["features"].take() {
            Value::Array(features) if self.0 > 0 => features,
            Value::Array(features) => return Ok(features),
            _ => Vec::new(),
        };
        for feature in &mut features {
            for name in ["site", "name"] {
                if let Some(text) = feature["properties"][name].as_str() {
                    feature["properties"][name] = self.id(text).into();
                }
            }
            self.move_east(&mut feature["geometry"]["coordinates"]);
        }
        Ok(features)
    }

    fn move_east(self, coordinates: &mut Value) {
        let Some(parts) = coordinates.as_array_mut() else {
            return;
        };
        match parts.first().and_then(Value::as_f64) {
            Some(lon_deg) => parts[0] = ((lon_deg + self.east_deg()) * 1e8).round().into(),
            None => return parts.iter_mut().for_each(|part| self.move_east(part)),
        }
        parts[0] = (parts[0].as_f64().unwrap_or_default() / 1e8).into();
    }

    /// What stands before the rigs of a fleet file.
    pub(crate) fn before_rigs(fleet: &str) -> &str {
        fleet.split("[[rig]]").next().unwrap_or_default()
    }

    /// The rigs of a fleet file, without what stands before and after them.
    pub(crate) fn rigs(self, fleet: &str) -> String {
        let end = fleet.find("[estimate]").unwrap_or(fleet.len());
        let mut rigs = String::new();
        for line in fleet[Self::before_rigs(fleet).len()..end].lines() {
            let line = match line
                .strip_prefix("id = \"")
                .and_then(|id| id.strip_suffix('"'))
            {
                Some(id) => format!("id = \"{}\"", self.id(id)),
                None if self.0 > 0 && line.starts_with("logs = ") => {
                    line.replace("*\"", &format!("*-{}.gpx*\"", self.0))
                }
                None => line.to_owned(),
            };
            rigs += &line;
            rigs.push('\n');
        }
        rigs
    }

    /// The rows of an orders file, without its heading.
    pub(crate) fn orders(self, orders: &str) -> String {
        let row = |row: &str| {
            let mut cells: Vec<String> = row.split(',').map(str::to_owned).collect();
            cells
                .iter_mut()
                .take(2)
                .for_each(|cell| *cell = self.id(cell));
            cells.join(",") + "\n"
        };
        orders.lines().skip(1).map(row).collect()
    }
}
