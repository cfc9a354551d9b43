//! The night's plan: who goes where, and the one thing that is tweaked.

use crate::machine;
use crate::scene::Scene;
use making::chance::Chance;
use making::rig::Rig;
use making::route::{Pour, Route, Stretch};

/// One rig's way through the night, and what its logger does with it.
#[derive(Debug, Clone)]
pub(crate) struct Outing {
    /// The id under which its log goes.
    pub id: &'static str,
    /// Seconds since the first midnight.
    pub start_s: f64,
    pub route: Route,
    /// Set rate over target, logged where the rig logs it.
    pub set_rate: f64,
    /// The log goes on in a second file from this share of the time on.
    pub split_at: Option<f64>,
    /// The log is lost.
    pub lost: bool,
    /// Its dates are 1,024 weeks back.
    pub rolled_over: bool,
}

impl Outing {
    fn new(rig: Rig, start_s: f64) -> Self {
        Self {
            id: rig.id,
            start_s,
            route: Route::from_yard(rig),
            set_rate: 1.0,
            split_at: None,
            lost: false,
            rolled_over: false,
        }
    }
}

/// What is different at one site.
#[derive(Debug, Clone)]
pub(crate) struct Tweak {
    pub skip_lane: Option<usize>,
    pub skip_drive: bool,
    /// Lane, section that stays closed in it.
    pub closed: Option<(usize, usize)>,
    /// A section that stays closed all over.
    pub never: Option<usize>,
    /// Lane, metres on, seconds.
    pub dry: Option<(usize, f64, f64)>,
    pub silent: Option<(usize, f64, f64)>,
    /// Lane, metres on, seconds, L/s.
    pub parked: Option<(usize, f64, f64, f64)>,
    /// Rate over target.
    pub rate: f64,
    /// Speed in every third lane while the flow stays.
    pub fixed_flow: Option<f64>,
    pub times: usize,
}

impl Default for Tweak {
    fn default() -> Self {
        Self {
            skip_lane: None,
            skip_drive: false,
            closed: None,
            never: None,
            dry: None,
            silent: None,
            parked: None,
            rate: 1.0,
            fixed_flow: None,
            times: 1,
        }
    }
}

/// What is different on a rig's whole night.
#[derive(Debug, Clone, Default)]
pub(crate) struct RigTweak {
    pub set_rate: Option<f64>,
    pub lost: bool,
    /// Roadside stop on the way to the first site with the meter running: seconds, L/s.
    pub leak: Option<(f64, f64)>,
    /// The boom stays open on the way home from the last site.
    pub strays: bool,
    /// Another rig under the same id does the last site at the same time.
    pub twin: bool,
    /// The receiver's week number rolled over: dates 1,024 weeks back.
    pub rolled_over: bool,
}

/// What the orders of a night do not say as it is driven.
#[derive(Debug, Clone, Default)]
pub(crate) struct Orders {
    /// A site that nobody ordered.
    pub without: Option<usize>,
    /// A site that is ordered to be finished before anybody gets there.
    pub early: Option<usize>,
    /// A site for which another product is ordered.
    pub other_product: Option<usize>,
    /// The sites that nobody treats are ordered too.
    pub untreated: bool,
}

/// A night before it is driven.
#[derive(Debug, Clone)]
pub(crate) struct Plan {
    pub fleet: Vec<Rig>,
    pub scene: Scene,
    /// One for each site.
    pub tweaks: Vec<Tweak>,
    /// One for each rig.
    pub rig_tweaks: Vec<RigTweak>,
    /// The site in which a rig runs empty half-way, of those that are treated.
    pub refill: Option<usize>,
    /// Half of the nights have an orders file.
    pub orders: Option<Orders>,
}

impl Plan {
    pub(crate) fn healthy(seed: u64) -> Self {
        let fleet = machine::fleet(&mut Chance::new(seed, 1));
        let mut chance = Chance::new(seed, 2);
        let scene = Scene::new(&fleet, &mut chance);
        let refill = (chance.uniform() < 0.5).then(|| chance.below(scene.sites.len()));
        Self {
            tweaks: vec![Tweak::default(); scene.sites.len()],
            rig_tweaks: vec![RigTweak::default(); fleet.len()],
            fleet,
            scene,
            refill,
            orders: seed.is_multiple_of(2).then(Orders::default),
        }
    }

    /// The orders file: whole sites, all night long.
    pub(crate) fn orders_csv(&self, orders: &Orders) -> String {
        let mut text = String::from("site,product,from,by,order\n");
        for (index, site) in self.scene.sites.iter().enumerate() {
            let wanted = site.truck.is_some() || orders.untreated;
            if !wanted || orders.without == Some(index) {
                continue;
            }
            let by = if orders.early == Some(index) {
                "2026-01-11T20:10:00Z"
            } else {
                "2026-01-12T12:00:00Z"
            };
            let product = match orders.other_product {
                Some(other) if other == index => {
                    format!("of {}", self.fleet[self.fleet.len() - 1].id)
                }
                _ => String::new(),
            };
            text += &format!(
                "{},{product},2026-01-11T19:00:00Z,{by},D-{index}\n",
                site.name
            );
        }
        text
    }

    /// Sites that a truck treats, in order.
    pub(crate) fn sites_of(&self, truck: usize) -> Vec<usize> {
        (0..self.scene.sites.len())
            .filter(|&site| self.scene.sites[site].truck == Some(truck))
            .collect()
    }

    /// Everybody's way. Each has a stream of chance of its own, so that a tweak leaves the others alone.
    pub(crate) fn outings(&self, seed: u64) -> Vec<Outing> {
        let mut outings = Vec::new();
        for truck in 0..self.fleet.len() - 1 {
            let mut sites = self.sites_of(truck);
            let start_s = 72_000.0 + 1_000.0 * truck as f64;
            let twin = self.rig_tweaks[truck].twin.then(|| sites.pop()).flatten();
            outings.push(self.truck(truck, &sites, start_s, seed));
            outings.extend(twin.map(|site| self.truck(truck, &[site], start_s + 60.0, seed)));
        }
        outings.push(self.cart(seed));
        outings
    }

    fn truck(&self, truck: usize, sites: &[usize], start_s: f64, seed: u64) -> Outing {
        let mut chance = Chance::new(seed, 100 + truck as u64);
        let (mut outing, rig_tweak) = (
            Outing::new(self.fleet[truck], start_s),
            &self.rig_tweaks[truck],
        );
        outing.set_rate = rig_tweak.set_rate.unwrap_or(1.0);
        outing.lost = rig_tweak.lost;
        outing.rolled_over = rig_tweak.rolled_over;
        outing.split_at = (chance.uniform() < 0.4).then(|| chance.between(0.2, 0.8));
        let load_l = chance.between(300.0, 900.0);
        outing.route.load(600.0, load_l);
        if let Some((seconds, l_s)) = rig_tweak.leak {
            outing.route.road_to(200.0);
            outing.route.pours.push(Pour {
                at_m: outing.route.length_m,
                after_s: 5.0,
                seconds,
                l_s,
            });
            outing.route.stop(seconds + 10.0);
        }
        for &site in sites {
            // Streams by site: what a tweak draws at one site leaves the next ones alone.
            let mut chance = Chance::new(seed, 200 + site as u64);
            let mut tweak = self.tweaks[site].clone();
            tweak.rate *= outing.set_rate;
            outing.treat(
                &self.scene.sites[site],
                &tweak,
                self.refill == Some(site),
                &mut chance,
            );
        }
        let foreign = (0..self.scene.sites.len()).find(|site| !self.sites_of(truck).contains(site));
        if let Some(site) = foreign
            && chance.uniform() < 0.7
            && !rig_tweak.strays
        {
            outing.pass_through(&self.scene.sites[site].lot);
        }
        if rig_tweak.strays {
            outing.stray_home();
        }
        outing.route.home(180.0);
        outing
    }

    fn cart(&self, seed: u64) -> Outing {
        let mut chance = Chance::new(seed, 150);
        let cart = self.fleet.len() - 1;
        let mut outing = Outing::new(self.fleet[cart], 75_000.0);
        outing.lost = self.rig_tweaks[cart].lost;
        outing.split_at = (chance.uniform() < 0.2).then(|| chance.between(0.2, 0.8));
        outing.route.load(400.0, 60.0);
        for site in self
            .scene
            .sites
            .iter()
            .filter(|site| !site.walks_m.is_empty())
        {
            outing.walks(site);
        }
        outing.route.home(120.0);
        outing
    }
}

impl Outing {
    /// Along the road with the boom open.
    fn stray_home(&mut self) {
        self.route.road_to((self.route.pose.x_m - 120.0).max(100.0));
        let from_m = self.route.length_m - 1.0;
        self.route.road_to(0.0);
        let like = self.route.stretches.last().cloned();
        self.route.stretches.extend(like.map(|like| Stretch {
            open_at_m: from_m,
            close_at_m: self.route.length_m - 20.0,
            open: vec![true; like.open.len()],
            as_if_at_m_s: None,
            dry: None,
            silent: None,
            ..like
        }));
    }
}
