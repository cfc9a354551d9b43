//! The table of faults: what is planted, and what the audit must say about it.
//!
//! A kind is one entry: a function that changes the plan at a place drawn by chance and returns what
//! is to be found, or nothing where the night has no room for it.

use crate::plan::Plan;
use making::chance::Chance;
use making::lot::{At, Lot};
use making::rig::{Liquid, Rig};

/// A finding that must be there.
#[derive(Debug, Clone, Default)]
pub(crate) struct Expect {
    /// One of these codes.
    pub codes: &'static [&'static str],
    pub rig: Option<&'static str>,
    pub site: Option<&'static str>,
    pub zone: Option<&'static str>,
    /// The finding's place lies within so many metres of this line.
    pub near: Option<(At, At, f64)>,
    /// Name of a figure, its true value, how far off it may be.
    pub figure: Option<(&'static str, f64, f64)>,
}

/// What was planted.
#[derive(Debug, Clone, Default)]
pub(crate) struct Planted {
    /// All of them.
    pub expect: Vec<Expect>,
    /// Codes that follow from the same cause at these sites and rigs.
    pub follows: &'static [&'static str],
    pub sites: Vec<&'static str>,
    pub rig: Option<&'static str>,
}

/// One kind of fault.
pub(crate) struct Kind {
    pub name: &'static str,
    /// Size and tolerance, for the table.
    pub size: &'static str,
    pub plant: fn(&mut Plan, &mut Chance) -> Option<Planted>,
}

/// All kinds.
pub(crate) const KINDS: &[Kind] = &[
    Kind {
        name: "lane left out",
        size: "a whole lane; area +- 40 %",
        plant: missed_lane,
    },
    Kind {
        name: "section closed for a pass",
        size: "4 ft or more wide; area +- 60 %",
        plant: closed_section,
    },
    Kind {
        name: "dry stretch",
        size: "25 to 35 s, no meter of whole gallons; +- 4 s",
        plant: dry_stretch,
    },
    Kind {
        name: "rate 20 % high on a lot",
        size: "+- 5 % of target",
        plant: high_rate,
    },
    Kind {
        name: "rate 20 % low on a lot",
        size: "+- 5 % of target",
        plant: low_rate,
    },
    Kind {
        name: "zone left out",
        size: "a drive",
        plant: missed_zone,
    },
    Kind {
        name: "lot done twice",
        size: "overlap 75 to 125 % of it",
        plant: twice,
    },
    Kind {
        name: "keep-off ground sprayed",
        size: "60 m2 and more; area +- 35 %",
        plant: bed_sprayed,
    },
    Kind {
        name: "dropout at work, short",
        size: "6 to 10 s; +- 1 s",
        plant: short_dropout,
    },
    Kind {
        name: "dropout at work, long",
        size: "11 to 20 s",
        plant: long_dropout,
    },
    Kind {
        name: "sprayed on the road",
        size: "boom open all the way home, 50 L at least",
        plant: strayed,
    },
    Kind {
        name: "flow while parked",
        size: "48 L in 60 s; +- 30 %",
        plant: parked_flow,
    },
    Kind {
        name: "leak, boom closed",
        size: "a fifth of the night, 120 L at least; +- 10 %",
        plant: leak,
    },
    Kind {
        name: "section never opens",
        size: "all night",
        plant: never_opens,
    },
    Kind {
        name: "set rate 15 % off",
        size: "+- 1 %",
        plant: set_rate,
    },
    Kind {
        name: "log lost",
        size: "a truck's",
        plant: lost_log,
    },
    Kind {
        name: "one id in two places",
        size: "two trucks",
        plant: shared_id,
    },
    Kind {
        name: "controller blind to speed",
        size: "every third lane at 0.37 of the speed",
        plant: fixed_flow,
    },
    Kind {
        name: "ordered, not done",
        size: "a lot",
        plant: not_done,
    },
    Kind {
        name: "done, not ordered",
        size: "a lot",
        plant: not_ordered,
    },
    Kind {
        name: "finished late",
        size: "after all of the work's time",
        plant: late,
    },
    Kind {
        name: "another product than ordered",
        size: "a lot",
        plant: other_product,
    },
    Kind {
        name: "date 1,024 weeks back",
        size: "a truck's logs",
        plant: rolled_over,
    },
];

/// A site that is treated.
fn treated(plan: &Plan, chance: &mut Chance) -> usize {
    let sites: Vec<usize> = (0..plan.scene.sites.len())
        .filter(|&site| plan.scene.sites[site].truck.is_some())
        .collect();
    sites[chance.below(sites.len())]
}

/// A lane inside the lot that neither an island interrupts nor the last one overlaps.
fn plain_lane(lot: &Lot, chance: &mut Chance) -> Option<usize> {
    let lanes: Vec<usize> = (1..lot.lanes - 2)
        .filter(|&lane| {
            lot.island
                .is_none_or(|island| lane < island.lanes.0 || lane > island.lanes.1)
        })
        .filter(|&lane| {
            lot.short
                .is_none_or(|(first, _)| lane + 1 < first || lane > first)
        })
        .collect();
    (!lanes.is_empty()).then(|| lanes[chance.below(lanes.len())])
}

/// Centre line of a lane between the crosswise passes.
fn lane_line(lot: &Lot, lane: usize) -> (At, At) {
    let ((from_m, to_m), y_m) = (lot.inner_m(lane), lot.lane_y_m(lane));
    ((from_m, y_m), (to_m, y_m))
}

struct Spot {
    site: usize,
    lane: usize,
    lot: Lot,
    name: &'static str,
    rig: &'static str,
    line: (At, At),
    length_m: f64,
}

fn spot(plan: &Plan, chance: &mut Chance) -> Option<Spot> {
    let site = treated(plan, chance);
    let lot = plan.scene.sites[site].lot;
    let lane = plain_lane(&lot, chance)?;
    let line = lane_line(&lot, lane);
    Some(Spot {
        site,
        lane,
        lot,
        name: plan.scene.sites[site].name,
        rig: lot.rig.id,
        line,
        length_m: line.1.0 - line.0.0,
    })
}

impl Spot {
    fn expect(&self, codes: &'static [&'static str]) -> Expect {
        Expect {
            codes,
            site: Some(self.name),
            ..Expect::default()
        }
    }

    fn on_lot(&self, codes: &'static [&'static str]) -> Expect {
        Expect {
            zone: Some("lot"),
            ..self.expect(codes)
        }
    }

    fn on_lane(&self, codes: &'static [&'static str], off_m: f64) -> Expect {
        Expect {
            near: Some((self.line.0, self.line.1, off_m)),
            ..self.expect(codes)
        }
    }

    fn planted(&self, expect: Vec<Expect>, follows: &'static [&'static str]) -> Planted {
        Planted {
            expect,
            follows,
            sites: vec![self.name],
            rig: None,
        }
    }
}

fn missed_lane(plan: &mut Plan, chance: &mut Chance) -> Option<Planted> {
    let spot = spot(plan, chance)?;
    plan.tweaks[spot.site].skip_lane = Some(spot.lane);
    let area_m2 = spot.length_m * (spot.lot.rig.width_m() - 2.0 * spot.lot.rig.lap_m);
    let expect = Expect {
        zone: Some("lot"),
        figure: Some(("area_m2", area_m2, 0.4 * area_m2)),
        ..spot.on_lane(&["bare_patch"], spot.lot.rig.width_m() / 2.0 + 2.0)
    };
    Some(spot.planted(vec![expect], &["thin_cover"]))
}

fn closed_section(plan: &mut Plan, chance: &mut Chance) -> Option<Planted> {
    let spot = spot(plan, chance)?;
    let sections = spot.lot.rig.sections_m;
    // An inner section: its whole width stays bare, whatever the lap.
    let section = 1 + chance.below(sections.len() - 2);
    if sections[section] < 1.2 {
        return None;
    }
    plan.tweaks[spot.site].closed = Some((spot.lane, section));
    let area_m2 = spot.length_m * sections[section];
    let expect = Expect {
        zone: Some("lot"),
        figure: Some(("area_m2", area_m2, 0.6 * area_m2)),
        ..spot.on_lane(&["bare_patch"], spot.lot.rig.width_m() / 2.0 + 1.0)
    };
    Some(spot.planted(vec![expect], &["thin_cover"]))
}

fn dry_stretch(plan: &mut Plan, chance: &mut Chance) -> Option<Planted> {
    let spot = spot(plan, chance)?;
    // A meter of whole gallons does not show a dry spell that lacks under three of them (docs/method.md).
    let is_coarse = |rig: &Rig| rig.id == spot.rig && rig.logger.liquid == Liquid::WholeGallons;
    if plan.fleet.iter().any(is_coarse) {
        return None;
    }
    let speed_m_s = spot.lot.rig.lane_speed_m_s;
    // The lane must hold it.
    let most_s = (spot.length_m - 12.0) / speed_m_s;
    let seconds = chance.between(25.0, 35.0);
    if seconds > most_s {
        return None;
    }
    plan.tweaks[spot.site].dry = Some((spot.lane, 6.0, seconds));
    let expect = Expect {
        rig: Some(spot.rig),
        figure: Some(("seconds", seconds, 4.0)),
        ..spot.on_lane(&["dry_run"], 8.0)
    };
    let patch = spot.on_lane(&["bare_patch"], spot.lot.rig.width_m() / 2.0 + 2.0);
    Some(spot.planted(vec![expect, patch], &["thin_cover"]))
}

fn rate(plan: &mut Plan, chance: &mut Chance, rate: f64) -> Option<Planted> {
    let spot = spot(plan, chance)?;
    plan.tweaks[spot.site].rate = rate;
    let expect = Expect {
        figure: Some(("rate_share", rate, 0.05)),
        ..spot.on_lot(&["off_rate"])
    };
    Some(spot.planted(vec![expect], &["off_rate", "uneven"]))
}

fn high_rate(plan: &mut Plan, chance: &mut Chance) -> Option<Planted> {
    rate(plan, chance, 1.2)
}

fn low_rate(plan: &mut Plan, chance: &mut Chance) -> Option<Planted> {
    rate(plan, chance, 0.8)
}

fn missed_zone(plan: &mut Plan, _: &mut Chance) -> Option<Planted> {
    // The first site always has a drive.
    plan.tweaks[0].skip_drive = true;
    let name = plan.scene.sites[0].name;
    Some(Planted {
        // With orders it is work not done; without, one great patch.
        expect: vec![Expect {
            codes: &["bare_patch", "not_done"],
            site: Some(name),
            zone: Some("drive"),
            ..Expect::default()
        }],
        follows: &["off_rate", "uneven"],
        sites: vec![name],
        rig: None,
    })
}

fn twice(plan: &mut Plan, chance: &mut Chance) -> Option<Planted> {
    let spot = spot(plan, chance)?;
    plan.tweaks[spot.site].times = 2;
    // A rig that comes back after 100 minutes and does all of it makes a second application.
    plan.refill = plan.refill.filter(|&site| site != spot.site);
    let expect = Expect {
        figure: Some(("overlap_share", 1.0, 0.25)),
        ..spot.on_lot(&["doubled"])
    };
    Some(spot.planted(vec![expect], &["uneven"]))
}

fn bed_sprayed(plan: &mut Plan, chance: &mut Chance) -> Option<Planted> {
    let spot = spot(plan, chance)?;
    let (half_m, x_m) = (
        0.7 * spot.lot.rig.width_m(),
        spot.line.0.0 + 0.4 * spot.length_m,
    );
    let size_m = (chance.between(16.0, 20.0), 2.0 * half_m);
    let y_m = spot.line.0.1;
    let bed = ((x_m, y_m - half_m), (x_m + size_m.0, y_m + half_m));
    plan.scene.sites[spot.site].beds_m.push(bed);
    // The lane through it and its neighbours spray all of it.
    let area_m2 = size_m.0 * size_m.1;
    let expect = Expect {
        rig: Some(spot.rig),
        near: Some(((bed.0.0, y_m), (bed.1.0, y_m), half_m + 1.0)),
        figure: Some(("area_m2", area_m2, 0.35 * area_m2)),
        ..spot.expect(&["keep_off_wet"])
    };
    Some(spot.planted(vec![expect], &[]))
}

fn silence(
    plan: &mut Plan,
    chance: &mut Chance,
    (low_s, high_s): (f64, f64),
) -> Option<(Spot, f64)> {
    let spot = spot(plan, chance)?;
    let seconds = chance.between(low_s, high_s).round();
    if (spot.length_m - 20.0) / spot.lot.rig.lane_speed_m_s < seconds {
        return None;
    }
    plan.tweaks[spot.site].silent = Some((spot.lane, 10.0, seconds));
    Some((spot, seconds))
}

fn short_dropout(plan: &mut Plan, chance: &mut Chance) -> Option<Planted> {
    let (spot, seconds) = silence(plan, chance, (6.0, 10.0))?;
    let expect = Expect {
        rig: Some(spot.rig),
        figure: Some(("seconds", seconds, 1.0)),
        ..spot.on_lane(&["dropout_nearby"], 8.0)
    };
    Some(spot.planted(vec![expect], &["bare_patch", "thin_cover"]))
}

fn long_dropout(plan: &mut Plan, chance: &mut Chance) -> Option<Planted> {
    let (spot, _) = silence(plan, chance, (11.0, 20.0))?;
    // Without a total nobody knows whether it sprayed: the ground is bare and a dropout is near.
    let expect = spot.on_lane(&["dropout_nearby", "bare_patch"], 8.0);
    Some(spot.planted(
        vec![expect],
        &["bare_patch", "dropout_nearby", "thin_cover"],
    ))
}

/// A truck with enough sites, its id and the names of its sites.
fn truck(
    plan: &Plan,
    chance: &mut Chance,
    least: usize,
) -> Option<(usize, &'static str, Vec<&'static str>)> {
    let truck = chance.below(plan.fleet.len() - 1);
    let sites = plan.sites_of(truck);
    let names = sites
        .iter()
        .map(|&site| plan.scene.sites[site].name)
        .collect();
    (sites.len() >= least).then(|| (truck, plan.fleet[truck].id, names))
}

fn of_rig(
    codes: &'static [&'static str],
    rig: &'static str,
    figure: Option<(&'static str, f64, f64)>,
) -> Expect {
    Expect {
        codes,
        rig: Some(rig),
        figure,
        ..Expect::default()
    }
}

fn strayed(plan: &mut Plan, chance: &mut Chance) -> Option<Planted> {
    let (truck, rig, sites) = truck(plan, chance, 1)?;
    let last = &plan.scene.sites[*plan.sites_of(truck).last()?].lot;
    let road_l = (last.x_m.0 - 150.0) * last.rig.width_m() * 0.0327;
    if road_l < (0.15 * night_l(plan, truck)).max(50.0) {
        return None;
    }
    plan.rig_tweaks[truck].strays = true;
    Some(Planted {
        expect: vec![of_rig(&["strayed"], rig, None)],
        follows: &[],
        sites,
        rig: Some(rig),
    })
}

fn parked_flow(plan: &mut Plan, chance: &mut Chance) -> Option<Planted> {
    let spot = spot(plan, chance)?;
    plan.tweaks[spot.site].parked = Some((spot.lane, 0.5 * spot.length_m, 60.0, 0.8));
    let expect = Expect {
        site: None,
        rig: Some(spot.rig),
        figure: Some(("volume_l", 48.0, 14.4)),
        ..spot.on_lane(&["parked_flow"], 8.0)
    };
    Some(Planted {
        rig: Some(spot.rig),
        ..spot.planted(vec![expect], &["off_rate"])
    })
}

/// Litres that a truck's lots take, by their drawn ground.
fn night_l(plan: &Plan, truck: usize) -> f64 {
    let lots = plan
        .sites_of(truck)
        .into_iter()
        .map(|site| plan.scene.sites[site].lot);
    lots.map(|lot| (lot.x_m.1 - lot.x_m.0) * lot.height_m * 0.0327)
        .sum()
}

fn leak(plan: &mut Plan, chance: &mut Chance) -> Option<Planted> {
    let (truck, rig, sites) = truck(plan, chance, 1)?;
    // A logger that goes quiet when parked shows nothing of it.
    if plan.fleet[truck].logger.quiet {
        return None;
    }
    let litres = (0.2 * night_l(plan, truck)).max(120.0);
    plan.rig_tweaks[truck].leak = Some((300.0, litres / 300.0));
    Some(Planted {
        expect: vec![of_rig(
            &["closed_flow", "perhaps_leaked"],
            rig,
            Some(("volume_l", litres, 0.1 * litres)),
        )],
        follows: &[],
        sites,
        rig: Some(rig),
    })
}

fn never_opens(plan: &mut Plan, chance: &mut Chance) -> Option<Planted> {
    let (truck, rig, sites) = truck(plan, chance, 1)?;
    // Long enough at work for the finding: ten minutes with the boom open.
    let machine = plan.fleet[truck];
    if night_l(plan, truck) / 0.0327 / (machine.width_m() * machine.lane_speed_m_s) < 700.0 {
        return None;
    }
    let section = chance.below(machine.sections_m.len());
    for site in plan.sites_of(truck) {
        plan.tweaks[site].never = Some(section);
    }
    Some(Planted {
        expect: vec![of_rig(
            &["never_opened"],
            rig,
            Some(("section", section as f64 + 1.0, 0.0)),
        )],
        follows: &["bare_patch", "thin_cover", "uneven", "off_rate"],
        sites,
        rig: Some(rig),
    })
}

fn set_rate(plan: &mut Plan, chance: &mut Chance) -> Option<Planted> {
    let (truck, rig, sites) = truck(plan, chance, 1)?;
    if !plan.fleet[truck].logger.set_rate {
        return None;
    }
    let share = if chance.uniform() < 0.5 { 0.85 } else { 1.15 };
    plan.rig_tweaks[truck].set_rate = Some(share);
    let expect = sites.iter().map(|&site| Expect {
        site: Some(site),
        ..of_rig(
            &["set_rate_differs"],
            rig,
            Some(("rate_share", share, 0.01)),
        )
    });
    Some(Planted {
        expect: expect.collect(),
        follows: &["off_rate", "uneven", "set_rate_differs"],
        sites,
        rig: Some(rig),
    })
}

fn lost_log(plan: &mut Plan, chance: &mut Chance) -> Option<Planted> {
    let (truck, rig, sites) = truck(plan, chance, 1)?;
    plan.rig_tweaks[truck].lost = true;
    Some(Planted {
        expect: vec![
            of_rig(&["no_log"], rig, None),
            Expect {
                codes: &["not_visited", "not_done", "bare_patch"],
                ..Expect::default()
            },
        ],
        // The cart's walks are all that was treated of a site.
        follows: &["not_visited", "not_done", "thin_cover", "bare_patch"],
        sites,
        rig: Some(rig),
    })
}

fn shared_id(plan: &mut Plan, chance: &mut Chance) -> Option<Planted> {
    let (truck, rig, sites) = truck(plan, chance, 2)?;
    plan.rig_tweaks[truck].twin = true;
    Some(Planted {
        expect: vec![of_rig(&["shared_rig_id"], rig, None)],
        // Where files of both rigs follow one another, each may take up the other's way.
        follows: &[
            "jumps_dropped",
            "clock_odd",
            "meter_odd",
            "bare_patch",
            "thin_cover",
            "doubled",
        ],
        sites,
        rig: Some(rig),
    })
}

fn fixed_flow(plan: &mut Plan, chance: &mut Chance) -> Option<Planted> {
    let spot = spot(plan, chance)?;
    plan.tweaks[spot.site].fixed_flow = Some(0.37 * spot.lot.rig.lane_speed_m_s);
    let expect = spot.on_lot(&["uneven"]);
    Some(spot.planted(vec![expect], &["off_rate"]))
}

/// Orders for the sites that nobody treats: at least one such site in a night with orders.
fn not_done(plan: &mut Plan, _: &mut Chance) -> Option<Planted> {
    plan.orders.as_mut()?.untreated = true;
    let untreated = plan.scene.sites.iter().filter(|site| site.truck.is_none());
    let sites: Vec<&'static str> = untreated.map(|site| site.name).collect();
    let expect = |site| Expect {
        codes: &["not_done"],
        site: Some(site),
        ..Expect::default()
    };
    (!sites.is_empty()).then(|| Planted {
        expect: sites.iter().map(|site| expect(*site)).collect(),
        follows: &[],
        sites,
        rig: None,
    })
}

fn not_ordered(plan: &mut Plan, chance: &mut Chance) -> Option<Planted> {
    let site = treated(plan, chance);
    plan.orders.as_mut()?.without = Some(site);
    Some(about_order(plan, site, &["not_ordered"]))
}

fn late(plan: &mut Plan, chance: &mut Chance) -> Option<Planted> {
    let site = treated(plan, chance);
    plan.orders.as_mut()?.early = Some(site);
    Some(about_order(plan, site, &["late"]))
}

fn other_product(plan: &mut Plan, chance: &mut Chance) -> Option<Planted> {
    let site = treated(plan, chance);
    plan.orders.as_mut()?.other_product = Some(site);
    let mut planted = about_order(plan, site, &["other_product"]);
    // Its target is that of the product ordered.
    planted.follows = &["off_rate", "uneven", "set_rate_differs"];
    Some(planted)
}

fn about_order(plan: &Plan, site: usize, codes: &'static [&'static str]) -> Planted {
    let name = plan.scene.sites[site].name;
    Planted {
        expect: vec![Expect {
            codes,
            site: Some(name),
            ..Expect::default()
        }],
        follows: &[],
        sites: vec![name],
        rig: None,
    }
}

fn rolled_over(plan: &mut Plan, chance: &mut Chance) -> Option<Planted> {
    let (truck, rig, sites) = truck(plan, chance, 1)?;
    plan.rig_tweaks[truck].rolled_over = true;
    Some(Planted {
        expect: vec![of_rig(&["clock_odd"], rig, None)],
        // Until the clock is put right the truck's work stands under another date: its orders are not served, and
        // of a site where the cart came too only the cart's work counts as the night's.
        follows: &[
            "not_done",
            "not_ordered",
            "not_visited",
            "bare_patch",
            "thin_cover",
        ],
        sites,
        rig: Some(rig),
    })
}
