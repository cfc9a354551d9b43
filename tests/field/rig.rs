//! Rigs: their true dimensions and habits, and what the fleet file says of them.

use crate::chance::Chance;
use crate::plane::{P, ahead};

/// How a trailer hangs on its vehicle, metres.
#[derive(Clone, Copy)]
pub(crate) struct Hitch {
    pub(crate) behind_axle_m: f64,
    pub(crate) to_axle_m: f64,
    pub(crate) axle_to_boom_m: f64,
}

/// How a meter reads: its lateness is delay + half the window + the filter's time.
#[derive(Clone, Copy)]
pub(crate) struct Meter {
    pub(crate) flow: bool,
    /// Size of a tick of the total, litres; `None`: no total.
    pub(crate) tick_l: Option<f64>,
    pub(crate) window_s: f64,
    pub(crate) filter_s: f64,
    pub(crate) delay_s: f64,
    pub(crate) gallons: bool,
}

/// What a receiver shows.
#[derive(Clone, Copy)]
pub(crate) struct Receiver {
    /// 95 % of its positions are within this.
    pub(crate) within_m: f64,
    pub(crate) hdop: bool,
    /// The fleet file says `within_m`.
    pub(crate) told: bool,
    pub(crate) interval_s: f64,
    pub(crate) decimals: usize,
    /// Share of fixes that get lost.
    pub(crate) lost: f64,
    pub(crate) multipath: bool,
    pub(crate) heading: bool,
}

/// One rig.
#[derive(Clone)]
pub(crate) struct Rig {
    pub(crate) id: String,
    pub(crate) sections_m: Vec<f64>,
    pub(crate) boom_behind_axle_m: f64,
    pub(crate) antenna_ahead_axle_m: f64,
    pub(crate) antenna_right_m: f64,
    pub(crate) hitch: Option<Hitch>,
    pub(crate) least_radius_m: f64,
    pub(crate) lane_speed_mps: f64,
    /// One lever for the whole boom, instead of sections that follow the ground each for itself.
    pub(crate) one_lever: bool,
    /// Backs its trailer out of some lanes, spraying.
    pub(crate) pushes: bool,
    /// Stands still between the gears.
    pub(crate) full_stop: bool,
    pub(crate) open_delay_s: f64,
    pub(crate) close_delay_s: f64,
    pub(crate) meter: Meter,
    pub(crate) receiver: Receiver,
}

/// Where a rig is: rear axle, heading, heading of its trailer (its own without one).
#[derive(Clone, Copy)]
pub(crate) struct Pose {
    pub(crate) axle: P,
    pub(crate) heading: f64,
    pub(crate) trailer: f64,
}

impl Rig {
    /// Sprayed width.
    pub(crate) fn width_m(&self) -> f64 {
        self.sections_m.iter().sum()
    }

    /// Boom's centre and the direction that its sections stand across.
    pub(crate) fn boom(&self, pose: Pose) -> (P, f64) {
        match self.hitch {
            None => (
                ahead(pose.axle, pose.heading, -self.boom_behind_axle_m),
                pose.heading,
            ),
            Some(h) => {
                let pin = ahead(pose.axle, pose.heading, -h.behind_axle_m);
                (
                    ahead(pin, pose.trailer, -(h.to_axle_m + h.axle_to_boom_m)),
                    pose.trailer,
                )
            }
        }
    }

    /// How far the boom trails the rear axle when all is straight.
    pub(crate) fn boom_behind_m(&self) -> f64 {
        self.hitch.map_or(self.boom_behind_axle_m, |h| {
            h.behind_axle_m + h.to_axle_m + h.axle_to_boom_m
        })
    }

    /// Ends of the sections, left to right: one more than there are sections.
    pub(crate) fn section_ends(&self, pose: Pose) -> Vec<P> {
        let (centre, direction) = self.boom(pose);
        let mut left = self.width_m() / 2.0;
        let mut ends = vec![ahead(centre, direction + std::f64::consts::FRAC_PI_2, left)];
        for width in &self.sections_m {
            left -= width;
            ends.push(ahead(centre, direction + std::f64::consts::FRAC_PI_2, left));
        }
        ends
    }

    /// Where its antenna is.
    pub(crate) fn antenna(&self, pose: Pose) -> P {
        let on_axis = ahead(pose.axle, pose.heading, self.antenna_ahead_axle_m);
        ahead(
            on_axis,
            pose.heading - std::f64::consts::FRAC_PI_2,
            self.antenna_right_m,
        )
    }

    /// A truck as they come: boom, sections, antenna, meter and receiver differ.
    pub(crate) fn truck(id: &str, chance: &mut Chance) -> Self {
        let booms: [&[f64]; 6] = [
            &[0.75, 0.75, 0.75, 0.75, 0.75, 0.75],
            &[2.1, 1.8, 2.1],
            &[1.2, 1.2, 1.2, 1.2],
            &[1.5, 1.5],
            &[0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9],
            &[0.6, 0.6, 0.6, 0.6, 0.6],
        ];
        let sections_m = chance.pick(&booms).to_vec();
        let small = sections_m.iter().sum::<f64>() < 3.5;
        let ticks = [None, Some(0.001), Some(0.01), None];
        let tick_l = chance.pick(&ticks);
        Self {
            id: id.to_owned(),
            sections_m,
            boom_behind_axle_m: chance.even(0.8, 1.8),
            antenna_ahead_axle_m: chance.even(0.0, 3.0),
            antenna_right_m: if chance.yes(0.3) {
                chance.even(-0.6, 0.6)
            } else {
                0.0
            },
            hitch: None,
            least_radius_m: if small { 3.8 } else { 4.8 },
            lane_speed_mps: if small {
                chance.even(2.0, 3.2)
            } else {
                chance.even(2.5, 4.5)
            },
            one_lever: chance.yes(0.3),
            pushes: false,
            full_stop: true,
            open_delay_s: chance.even(0.1, 0.6),
            close_delay_s: chance.even(0.1, 0.4),
            meter: Meter {
                flow: tick_l.is_none() || chance.yes(0.6),
                tick_l,
                window_s: 0.2,
                filter_s: chance.even(0.0, 0.15),
                delay_s: 0.0,
                gallons: chance.yes(0.5),
            },
            receiver: Receiver {
                within_m: chance.pick(&[0.3, 0.6, 1.0, 1.0, 1.5, 2.0, 3.0]),
                hdop: chance.yes(0.6),
                told: true,
                interval_s: chance.pick(&[1.0, 1.0, 1.0, 0.5, 0.2, 2.0]),
                decimals: chance.pick(&[7, 7, 7, 6]),
                lost: chance.pick(&[0.0, 0.003, 0.01]),
                multipath: false,
                heading: chance.yes(0.15),
            },
        }
    }

    /// The same with its boom on a trailer.
    pub(crate) fn towing(mut self, chance: &mut Chance) -> Self {
        self.hitch = Some(Hitch {
            behind_axle_m: chance.even(1.0, 1.4),
            to_axle_m: chance.even(2.0, 3.2),
            axle_to_boom_m: chance.even(0.3, 0.9),
        });
        self
    }

    /// The small rig that does walks.
    pub(crate) fn cart(chance: &mut Chance) -> Self {
        let mut cart = Self::truck("cart", chance);
        cart.sections_m = vec![0.9, 0.9];
        cart.least_radius_m = 2.8;
        cart.lane_speed_mps = 1.8;
        cart.one_lever = true;
        cart
    }
}
