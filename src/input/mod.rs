//! Bytes to plain data, the place of everything kept. The first step of the flow.
//!
//! | module | reads | gives |
//! |---|---|---|
//! | [`fleet`] | `fleet.toml` | [`fleet::Fleet`] |
//! | [`sites`] | `sites.geojson` | [`sites::DrawnZone`] list |
//! | [`orders`] | `orders.csv` | [`orders::Order`] list |
//! | [`channels`] | - | names and default units of the channels that a log can carry |
//! | [`night`] | all of them | [`night::Night`] |
//! | [`log`] | one GPX run log | [`log::Log`] list, one for each rig in the file |

pub mod channels;
pub mod fleet;
mod gpx;
pub mod log;
pub mod night;
pub mod orders;
pub mod sites;
mod text;
