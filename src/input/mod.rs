//! Bytes to plain data, the place of everything kept. The first step of the flow.
//!
//! | module | reads | gives |
//! |---|---|---|
//! | [`paths`] | a folder or flags | which file is what |
//! | [`fleet`] | `fleet.toml` | [`fleet::Fleet`] |
//! | [`sites`] | `sites.geojson` | [`sites::DrawnZone`] list |
//! | [`orders`] | `orders.csv` | [`orders::Order`] list |
//! | [`channels`] | - | names and default units of the channels that a log can carry |
//! | [`night`] | all of them | [`night::NightFiles`] |
//! | [`log`] | one GPX run log | [`log::Log`] list, one for each rig in the file |
//! | [`apart`] | - | an error where logs and ground lie in different parts of the world |
//! | [`digest`], [`progress`] | - | SHA-256 of a file; how far the reading is |

pub mod apart;
pub mod channels;
pub mod digest;
pub mod fleet;
mod gpx;
pub mod log;
pub mod night;
pub mod orders;
pub mod paths;
pub mod progress;
pub mod sites;
mod text;
