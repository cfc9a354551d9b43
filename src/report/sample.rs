//! A made-up audit for the reports' tests: one site treated twice, one not at all, a yard.

use crate::findings::cause::GapCause;
use crate::findings::cover::AboutCover;
use crate::findings::log::AboutLog;
use crate::findings::sample::{TARGET_ML_M2, at};
use crate::findings::sections::ClosedSections;
use crate::findings::{Finding, Kind, Severity};
use crate::geometry::place::LonLat;
use crate::input::digest::InputFile;
use crate::input::sites::{LandUse, Method};
use crate::notation::numbers::{RateUnit, Units};
use crate::report::Drawn;
use crate::report::drawing::Drawing;
use crate::report::earth::{EarthShapes, WetKeepOff, ZoneShapes};
use crate::report::html::ApplicationDrawing;
use crate::report::page::{Due, Effort, Page, Part, RigState, Spot, Strip, Trip, merge};
use crate::result::{
    self, Audit, Dose, Driving, Dropout, GapCauses, Ground, Ledger, NightSpan, OrderStatus, Patch,
    ProductVolume, VisitKind, ZoneVerdict,
};
use crate::rig::run::minutes::Minute;
use crate::site::summary::Trail;
use geo::{MultiPolygon, Rect, coord};

/// Longitude and latitude of the three patches.
pub(crate) const PATCHES: [(f64, f64); 3] = [
    (-30.000_12, 45.000_31),
    (-30.000_45, 45.000_12),
    (-30.000_2, 45.000_2),
];

pub(crate) fn audit() -> Audit {
    Audit {
        inputs: vec![InputFile {
            role: "log",
            name: "logs/north.gpx".into(),
            bytes: 1_204_331,
            sha256: "0123456789abcdef".repeat(4),
        }],
        span: Some(NightSpan {
            first: at(0),
            last: at(510),
        }),
        planned: false,
        logs_missing: true,
        timezone: Some(jiff::tz::TimeZone::get("America/Winnipeg").expect("bundled")),
        band: 0.1,
        runs: vec![run("north", 470.0, 441.0), run("cart", 95.0, 80.0)],
        sites: vec![quay(), mill(), depot()],
        orders: Some(orders()),
        findings: findings(),
        strips: vec![],
    }
}

fn run(rig: &str, metered: f64, zones: f64) -> result::Run {
    let is_cart = rig == "cart";
    let ledger_l = if is_cart {
        Ledger {
            metered,
            zones,
            gun: 15.0,
            ..Ledger::default()
        }
    } else {
        Ledger {
            metered,
            zones,
            keep_off: 2.0,
            fringe: 11.0,
            outside: 3.0,
            yard: 4.0,
            gun: 0.0,
            closed: 1.0,
            dropout: 6.0,
            between_logs: 2.0,
        }
    };
    result::Run {
        rig: rig.into(),
        logs: vec![format!("logs/{rig}.gpx")],
        start: at(-55),
        end: at(400),
        fixes: 27_301,
        fixes_used: 27_300,
        fixes_repeated: 1,
        distance_m: 31_400.0,
        wet_s: 5_400.0,
        reverse_wet_s: 486.0,
        gear_from: "motion",
        position_m: 1.0,
        position_from: "hdop",
        clock_offset_s: 0.0,
        metered_by: "flow_and_volume",
        dropouts: vec![Dropout {
            start: at(50),
            end: at(51),
            seconds: 60.0,
            volume_l: Some(6.0),
        }],
        ledger_l,
    }
}

/// What maps and charts show of each run of [`audit`]: of both the same.
pub(crate) fn trails() -> Vec<Trail> {
    let trail = Trail {
        outside: (
            vec![
                [(0.0, 0.0), (1e-5, 0.0), (1e-5, 2e-5), (0.0, 2e-5)].map(|(east, north)| LonLat {
                    lon_deg: -30.0 + east,
                    lat_deg: 45.0 + north,
                }),
            ],
            1.75,
        ),
        driven: vec![vec![
            LonLat {
                lon_deg: -30.001,
                lat_deg: 45.0,
            },
            LonLat {
                lon_deg: -30.0,
                lat_deg: 45.001,
            },
        ]],
        minutes: minutes(),
    };
    vec![trail.clone(), trail]
}

/// Three minutes at the target, one at twice it, one after the silence, and one hardly wet.
fn minutes() -> Vec<Minute> {
    let minute = |(minute, of_target, wet_s): (i64, f64, f64)| Minute {
        start: at(minute),
        wet_s,
        volume_l: Some(of_target * TARGET_ML_M2 * 4.0 * wet_s / 1000.0),
        swept_m2: 4.0 * wet_s,
    };
    let minutes = [
        (31, 1.0, 60.0),
        (32, 1.0, 60.0),
        (33, 1.0, 60.0),
        (34, 2.0, 60.0),
        (55, 1.0, 60.0),
        (56, 1.0, 2.0),
    ];
    minutes.map(minute).into()
}

fn quay() -> result::Site {
    let ground = [
        ("main", LandUse::Lot),
        ("walk", LandUse::Walk),
        ("steps", LandUse::Walk),
        ("pile", LandUse::Blocked),
    ];
    result::Site {
        site: "quay".into(),
        name: Some("Long Quay lot".into()),
        client: None,
        area_m2: 9_900.0,
        ground: ground
            .map(|(zone, land_use)| ground_of(zone, land_use, 9_712.0))
            .into(),
        applications: vec![application(1, 31), application(2, 365)],
        other_visits: vec![visit(
            "north",
            VisitKind::Present,
            200,
            "NaCl 23.3 %",
            Some(0.0),
        )],
    }
}

fn mill() -> result::Site {
    result::Site {
        site: "=mill".into(),
        name: None,
        client: Some("somebody".into()),
        area_m2: 2_000.0,
        ground: vec![
            ground_of("court", LandUse::Lot, 2_000.0),
            ground_of("bed", LandUse::KeepOff, 60.0),
        ],
        applications: vec![],
        other_visits: vec![],
    }
}

fn depot() -> result::Site {
    result::Site {
        site: "depot".into(),
        name: None,
        client: None,
        area_m2: 0.0,
        ground: vec![ground_of("all", LandUse::Yard, 900.0)],
        applications: vec![],
        other_visits: vec![],
    }
}

fn ground_of(zone: &str, land_use: LandUse, area_m2: f64) -> Ground {
    Ground {
        zone: zone.into(),
        land_use,
        method: Method::Boom,
        area_m2,
        area_drawn_m2: area_m2 + 50.0,
        excluded_m2: if zone == "main" { 40.0 } else { 0.0 },
        target_ml_m2: Some(TARGET_ML_M2),
        priority: 1.0,
        from: (land_use == LandUse::Blocked).then(|| at(-300)),
        until: None,
        reason: (land_use == LandUse::Blocked).then(|| "snow pile".into()),
        properties: serde_json::Map::from_iter([("stalls".to_owned(), serde_json::json!(40))]),
    }
}

fn application(number: usize, start_min: i64) -> result::Application {
    result::Application {
        number,
        start: at(start_min),
        end: at(start_min + 27),
        driving: Driving {
            speed_m_s: Some(2.75),
            lap_m: Some(0.31),
            turns: 12,
            turning_s: 264.0,
            field_efficiency: Some(0.41),
        },
        rigs: vec!["north".into(), "cart".into()],
        visits: vec![
            visit(
                "north",
                VisitKind::Treating,
                start_min - 3,
                "NaCl 23.3 %",
                Some(250.0),
            ),
            visit("cart", VisitKind::Treating, start_min, "unmetered", None),
        ],
        zones: vec![
            main_zone(),
            other_zone("walk", ZoneVerdict::TooNarrow),
            other_zone("steps", ZoneVerdict::Hand),
        ],
    }
}

fn visit(
    rig: &str,
    kind: VisitKind,
    arrive_min: i64,
    product: &str,
    volume_l: Option<f64>,
) -> result::Visit {
    let sprays = kind == VisitKind::Treating;
    result::Visit {
        rig: rig.into(),
        kind,
        arrive: at(arrive_min),
        spray_start: sprays.then(|| at(arrive_min + 3)),
        spray_end: sprays.then(|| at(arrive_min + 30)),
        depart: at(arrive_min + 33),
        wet_s: 1_210.0,
        wet_length_m: 2_904.0,
        passes: 14,
        gun_l: None,
        products: vec![ProductVolume {
            product: Some(product.into()),
            volume_l,
        }],
    }
}

fn main_zone() -> result::Zone {
    let areas_m2 = [
        (120.0, 98.0, Some((0.97, 86.0, 110.0))),
        (75.0, 60.0, Some((0.95, 46.0, 74.0))),
        (20.0, 4.0, None),
    ];
    let patches =
        PATCHES
            .iter()
            .zip(areas_m2)
            .map(|(&(lon_deg, lat_deg), (area_m2, core_m2, chance))| {
                let place = LonLat { lon_deg, lat_deg };
                Patch {
                    area_m2,
                    core_m2,
                    place,
                    cause: GapCause::Closed,
                    closed_sections: vec![2],
                    probability: chance.map(|(probability, ..)| probability),
                    area_low_m2: chance.map(|(_, low_m2, _)| low_m2),
                    area_high_m2: chance.map(|(.., high_m2)| high_m2),
                    likely: chance.is_some(),
                    unsure: false,
                }
            });
    result::Zone {
        area_m2: 9_712.123_456_789,
        area_drawn_m2: 9_800.0,
        excluded_m2: 40.0,
        treated_m2: Some(9_297.0),
        gap_m2: Some(415.123_456_789),
        unlogged_m2: Some(0.0),
        overlap_m2: Some(3_010.0),
        core_m2: 9_300.0,
        core_treated_m2: Some(9_050.0),
        volume_l: Some(250.123_456_789_12),
        rate_over_zone_ml_m2: Some(25.753_7),
        rate_where_treated_ml_m2: Some(26.903_7),
        rate_swept_ml_m2: Some(34.3),
        swept_m2: Some(7_292.2),
        wet_length_m: Some(2_904.0),
        gap_causes_m2: Some(GapCauses {
            never_reached: 165.123_456_789,
            spraying_off: 0.0,
            closed: 250.0,
            dry: 0.0,
            silence: 0.0,
        }),
        dose: Some(dose()),
        patches: Some(patches.collect()),
        ..other_zone("main", ZoneVerdict::Area)
    }
}

fn other_zone(zone: &str, verdict: ZoneVerdict) -> result::Zone {
    result::Zone {
        zone: zone.into(),
        land_use: if zone == "main" {
            LandUse::Lot
        } else {
            LandUse::Walk
        },
        method: if verdict == ZoneVerdict::Hand {
            Method::Hand
        } else {
            Method::Boom
        },
        verdict,
        area_m2: 90.0,
        area_drawn_m2: 90.0,
        excluded_m2: 0.0,
        treated_m2: None,
        gap_m2: None,
        unlogged_m2: None,
        overlap_m2: None,
        core_m2: 0.0,
        core_treated_m2: None,
        volume_l: Some(2.5),
        target_ml_m2: Some(TARGET_ML_M2),
        order: Some("A-17".into()),
        rate_over_zone_ml_m2: None,
        rate_where_treated_ml_m2: None,
        rate_swept_ml_m2: None,
        swept_m2: None,
        wet_length_m: None,
        gap_causes_m2: None,
        near_dropout: false,
        dose: None,
        patches: None,
    }
}

fn dose() -> Dose {
    Dose {
        cell_m: 0.5,
        mean_ml_m2: 25.75,
        p05_ml_m2: 0.0,
        p50_ml_m2: 26.1,
        p95_ml_m2: 52.3,
        cv: Some(0.41),
        share_under: Some(0.2),
        share_within: Some(0.6),
        share_over: Some(0.2),
        share_unknown: 0.0,
        treated_share_low: Some(0.04),
        treated_share_high: Some(0.01),
    }
}

fn square(lon_deg: f64, lat_deg: f64, size_deg: f64) -> MultiPolygon<f64> {
    let corner = coord! { x: lon_deg, y: lat_deg };
    let far = coord! { x: lon_deg + size_deg, y: lat_deg + size_deg };
    MultiPolygon::new(vec![Rect::new(corner, far).to_polygon()])
}

/// Of the sites of [`audit`].
pub(crate) fn shapes() -> Vec<EarthShapes> {
    let of_site = |site: &result::Site| EarthShapes {
        ground: vec![square(-30.001, 45.0, 1e-3); site.ground.len()],
        applications: vec![
            vec![main_shapes(), ZoneShapes::default(), ZoneShapes::default()];
            site.applications.len()
        ],
        keep_off: if site.site == "=mill" {
            vec![WetKeepOff {
                zone: 1,
                run: 0,
                area_m2: 25.0,
                volume_l: Some(1.0),
                ground: square(-30.000_8, 45.0, 1e-4),
            }]
        } else {
            Vec::new()
        },
    };
    audit().sites.iter().map(of_site).collect()
}

/// Plans of the sites of [`audit`], drawn as empty boxes.
pub(crate) fn plans() -> Vec<Vec<ApplicationDrawing>> {
    // The first run swept the lot, the second all else.
    let swept_by = |zone: &result::Zone| vec![usize::from(zone.zone != "main")];
    let plan = |zones: &[result::Zone]| ApplicationDrawing {
        plan: Drawing {
            svg: "<svg class=\"plan k6\" role=\"img\"><title>A plan.</title></svg>".to_owned(),
            letters: vec![("a".to_owned(), "walk".to_owned())],
            numbered_m2: vec![27.0],
            scale: 6,
        },
        dose: None,
        swept_by: zones.iter().map(swept_by).collect(),
    };
    let of_site = |site: &result::Site| match site.applications.as_slice() {
        [] => vec![plan(&[])],
        applications => applications.iter().map(|of| plan(&of.zones)).collect(),
    };
    audit().sites.iter().map(of_site).collect()
}

fn main_shapes() -> ZoneShapes {
    ZoneShapes {
        treated: square(-30.001, 45.0, 9e-4),
        gap: square(-30.000_5, 45.000_1, 4e-4),
        overlap: square(-30.000_9, 45.0, 1e-4),
        unlogged: MultiPolygon::new(vec![]),
        patches: PATCHES
            .iter()
            .map(|&(lon, lat)| square(lon - 5e-5, lat - 5e-5, 1e-4))
            .collect(),
    }
}

fn orders() -> Vec<result::Order> {
    let order = |line: u64, site: &str, status: OrderStatus| result::Order {
        order: (line == 2).then(|| "A-17".into()),
        line,
        site: site.into(),
        zone: None,
        service: Some("post-treat".into()),
        product: Some("NaCl 23.3 %".into()),
        target_ml_m2: Some(TARGET_ML_M2),
        from: None,
        by: Some(at(60)),
        status,
        application: (status == OrderStatus::Done).then_some(1),
        treated_share: (status == OrderStatus::Done).then_some(0.957),
        finished: (status == OrderStatus::Done).then(|| at(58)),
        not_shown: vec!["steps".into()],
    };
    vec![
        order(2, "quay", OrderStatus::Done),
        order(3, "=mill", OrderStatus::NotDone),
        order(4, "quay", OrderStatus::OutsideLogs),
    ]
}

/// What people read of [`audit`]: patches of `quay` to go back for; the rest as entries.
pub(crate) fn page() -> Page {
    let strip = |index: usize, area_m2: f64, ends: Option<[LonLat; 2]>| {
        let (lon_deg, lat_deg) = PATCHES[index];
        Strip {
            area_m2,
            place: LonLat { lon_deg, lat_deg },
            ends,
            length_m: 40.0,
        }
    };
    let end = |lon_deg: f64| LonLat {
        lon_deg,
        lat_deg: 45.000_31,
    };
    let part = Part {
        findings: vec![0],
        zones: vec!["main".into()],
        spot: Some(Spot::AllOver(2)),
        strips: vec![
            strip(0, 120.0, Some([end(-30.000_4), end(-29.999_8)])),
            strip(1, 75.0, None),
        ],
        area_m2: 195.0,
        litres: Some(195.0 * TARGET_ML_M2 / 1000.0),
        rig: Some(RigState {
            rig: "north".into(),
            cause: GapCause::Closed,
            closed: Some(ClosedSections::sample()),
            again: None,
        }),
        wrong_lot: None,
    };
    let (lon_deg, lat_deg) = PATCHES[0];
    let trip = Trip {
        site: 0,
        address: Some("1 Quay Row".into()),
        due: Some(Due {
            by: at(60),
            open: true,
            over: true,
        }),
        priority: 1.0,
        parts: vec![part],
        place: LonLat { lon_deg, lat_deg },
    };
    let audit = audit();
    let entries = |severity| merge::entries(&audit.findings, severity, &[0]);
    let mut page = Page {
        trips: vec![trip],
        effort: Effort {
            litres: Some(6.4),
            spraying_s: Some(200.0),
        },
        look_into: entries(Severity::LookInto),
        record: entries(Severity::ForTheRecord),
        ..Page::default()
    };
    page.sort_sites(&audit);
    page
}

/// Findings as a night might have them, ranked.
fn findings() -> Vec<Finding> {
    let kept = [
        "bare_patch",
        "not_visited",
        "dry_run",
        "doubled",
        "off_rate",
        "keep_off_wet",
        "no_log",
        "dropout_nearby",
        "input_skipped",
    ];
    let kinds = Kind::samples();
    let of = |code: &str| kinds.iter().find(|kind| kind.code() == code).cloned();
    kept.iter()
        .filter_map(|code| of(code))
        .enumerate()
        .map(|(rank, kind)| dressed(rank, kind))
        .collect()
}

fn dressed(rank: usize, kind: Kind) -> Finding {
    let severity = match rank {
        0 => Severity::GoBack,
        1..8 => Severity::LookInto,
        _ => Severity::ForTheRecord,
    };
    let mut finding = Finding::new(severity, kind);
    finding.weight = 100.0 - rank as f64;
    match &finding.kind {
        Kind::Cover(AboutCover::NotVisited { .. }) | Kind::Log(AboutLog::InputSkipped { .. }) => {}
        Kind::Log(AboutLog::NoLog) => finding.rig = Some("south".into()),
        _ => {
            finding.rig = Some("north".into());
            finding.site = Some("quay".into());
            finding.zone = Some("main".into());
            finding.start = Some(at(35));
            finding.place = Some(LonLat {
                lon_deg: -30.000_12,
                lat_deg: 45.000_31,
            });
        }
    }
    finding
}

/// All files of the made-up night, in US units.
pub(crate) fn files() -> Vec<(&'static str, Vec<u8>)> {
    crate::report::files(
        &audit(),
        &page(),
        &Drawn {
            shapes: shapes(),
            plans: plans(),
            trails: &trails(),
        },
        Units::Us,
        RateUnit::GalPer1000Ft2,
        None,
    )
}
