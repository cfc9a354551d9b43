//! Groups of flags that several commands share, and what the values of flags mean.

use super::threads::thread_count;
use crate::error::Result;
use crate::geometry::place::LonLat;
use crate::input::paths::{self, NightPaths};
use crate::notation::numbers::{RateUnit, Units};
use clap::ValueEnum;
use std::path::{Path, PathBuf};

/// The rigs and the ground.
#[derive(Debug, clap::Args)]
pub(super) struct GroundFlags {
    /// Fleet file, instead of the folder's fleet.toml.
    #[arg(long, value_name = "FILE")]
    pub(super) fleet: Option<PathBuf>,
    /// Sites file, instead of the folder's sites.geojson.
    #[arg(long, value_name = "FILE")]
    pub(super) sites: Option<PathBuf>,
    /// EPSG code of the sites file's coordinates, when they are not longitude and latitude.
    #[arg(long, value_name = "CODE")]
    pub(super) sites_crs: Option<EpsgCode>,
}

impl GroundFlags {
    /// The code of `--sites-crs`.
    pub(super) fn epsg(&self) -> Option<u32> {
        self.sites_crs.map(|code| code.0)
    }
}

/// The files of a night.
#[derive(Debug, clap::Args)]
pub(super) struct NightFlags {
    #[command(flatten)]
    pub(super) ground: GroundFlags,
    /// Orders file, instead of the night folder's orders.csv: the work asked for, by when and with what.
    #[arg(long, value_name = "FILE")]
    orders: Option<PathBuf>,
    /// A run log or a folder of them, instead of the night folder's logs/; may be given several times.
    #[arg(long, value_name = "PATH")]
    logs: Vec<PathBuf>,
}

impl NightFlags {
    /// No flag given but, perhaps, `--sites-crs`.
    pub(super) fn bare(sites_crs: Option<EpsgCode>) -> Self {
        Self {
            ground: GroundFlags {
                fleet: None,
                sites: None,
                sites_crs,
            },
            orders: None,
            logs: Vec::new(),
        }
    }

    /// The files of the night in this folder, or those that stand in for them.
    ///
    /// # Errors
    /// As [`paths::find`].
    pub(super) fn paths(&self, night: Option<&Path>) -> Result<NightPaths> {
        paths::find(
            night,
            self.ground.fleet.as_deref(),
            self.ground.sites.as_deref(),
            self.orders.as_deref(),
            &self.logs,
        )
    }
}

/// Where the files go.
#[derive(Debug, clap::Args)]
pub(super) struct OutputFlags {
    // Each command names its own files in the help of this flag.
    #[arg(long, value_name = "DIR")]
    pub(super) out: Option<PathBuf>,
}

/// How the work is done and shown.
#[derive(Debug, clap::Args)]
pub(super) struct WorkFlags {
    /// Units of tables, texts and pages; JSON is always SI.
    #[arg(long, value_enum, default_value_t = UnitsFlag::Us)]
    pub(super) units: UnitsFlag,
    /// Threads to work with, 1 or more; the default is one per core. The result does not depend on it.
    #[arg(long, value_name = "N", value_parser = thread_count)]
    pub(super) threads: Option<usize>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum UnitsFlag {
    /// Feet, acres, US gallons.
    Us,
    /// Metres, litres.
    Metric,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum RateUnitFlag {
    /// Gallons per acre.
    GalAc,
    /// Gallons per thousand square feet.
    #[value(name = "gal-1000ft2")]
    Gal1000Ft2,
    /// Gallons per mile of 12 ft lane.
    GalLaneMi,
    /// Litres per hectare.
    LHa,
    /// Millilitres per square metre.
    MlM2,
}

/// `2046`, `EPSG:2046` or `epsg:2046`.
#[derive(Debug, Clone, Copy)]
pub(super) struct EpsgCode(pub(super) u32);

impl std::str::FromStr for EpsgCode {
    type Err = String;
    fn from_str(text: &str) -> std::result::Result<Self, String> {
        let digits = text
            .strip_prefix("EPSG:")
            .or_else(|| text.strip_prefix("epsg:"))
            .unwrap_or(text);
        digits
            .parse()
            .map(Self)
            .map_err(|_| format!("expected an EPSG code such as EPSG:32614, found {text:?}"))
    }
}

/// `-30.01,45.02`: longitude and latitude, degrees.
#[derive(Debug, Clone, Copy)]
pub(super) struct StartPoint(pub(super) LonLat);

impl std::str::FromStr for StartPoint {
    type Err = String;
    fn from_str(text: &str) -> std::result::Result<Self, String> {
        let degrees = |text: &str, greatest: f64| {
            let number = text.trim().parse::<f64>().ok()?;
            (-greatest..=greatest).contains(&number).then_some(number)
        };
        text.split_once(',')
            .and_then(|(lon, lat)| {
                Some(Self(LonLat {
                    lon_deg: degrees(lon, 180.0)?,
                    lat_deg: degrees(lat, 90.0)?,
                }))
            })
            .ok_or_else(|| {
                format!("expected longitude, then latitude in degrees, such as -30.01,45.02, found {text:?}")
            })
    }
}

impl From<UnitsFlag> for Units {
    fn from(flag: UnitsFlag) -> Self {
        match flag {
            UnitsFlag::Us => Self::Us,
            UnitsFlag::Metric => Self::Metric,
        }
    }
}

/// The unit of rates; without a flag it follows the others.
pub(super) fn rate_unit(units: Units, flag: Option<RateUnitFlag>) -> RateUnit {
    match (flag, units) {
        (Some(RateUnitFlag::GalAc), _) => RateUnit::GalPerAcre,
        (Some(RateUnitFlag::Gal1000Ft2), _) | (None, Units::Us) => RateUnit::GalPer1000Ft2,
        (Some(RateUnitFlag::GalLaneMi), _) => RateUnit::GalPerLaneMile,
        (Some(RateUnitFlag::LHa), _) => RateUnit::LPerHa,
        (Some(RateUnitFlag::MlM2), _) | (None, Units::Metric) => RateUnit::MlPerM2,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_epsg_code_may_have_its_prefix() {
        assert_eq!("EPSG:32614".parse::<EpsgCode>().unwrap().0, 32614);
        assert!("utm".parse::<EpsgCode>().is_err());
    }
}
