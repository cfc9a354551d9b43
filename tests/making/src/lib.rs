//! Makes nights of de-icing: a world, rigs that are driven over it, and what their loggers write.
//!
//! | step | module |
//! |---|---|
//! | rigs, their meters, loggers and receivers; seeded chance | [`rig`], [`receiver`], [`chance`] |
//! | lots of lanes | [`lot`] |
//! | a route: shortest paths ([`dubins`]), stretches that are sprayed, stops | [`route`] |
//! | how drivers go to a lot and treat it | [`driving`] |
//! | the route in time: speed, acceleration, a trailer | [`motion`] |
//! | switches, pump, meter | [`pump`] |
//! | what the logger saw, as GPX | [`log`], [`gpx`] |
//! | sites files, folders | [`files`] |
//!
//! Who uses it decides what is driven where and what goes wrong: `demo-data/make_night` (one night, its truth on a
//! grid), `tests/nights` (random nights with a planted fault each), `tests/bench` (nights of any size). It does not know
//! the audit, only its file formats. Same seeds, same bytes.

pub mod chance;
pub mod driving;
pub mod dubins;
pub mod files;
pub mod gpx;
pub mod log;
pub mod lot;
pub mod motion;
pub mod pump;
pub mod receiver;
pub mod rig;
pub mod route;
