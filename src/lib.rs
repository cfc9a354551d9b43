//! swathbook audits a night of liquid de-icing: from the rigs' logs, the sites' polygons and a
//! description of the fleet it says what was treated, missed, done twice, at what rate, where the
//! liquid went, and how sure that is.
//!
//! # The flow
//!
//! | step | module | from | to |
//! |---|---|---|---|
//! | 1 read | [`input`] | files | logs, drawn zones, fleet, orders; an error where they lie in different parts of the world |
//! | 2 divide | [`ground`] | drawn zones | sites: at most one zone on every spot |
//! | 3 order | [`orders`] | rows, logs | orders on their ground, targets; which date is the night |
//! | 4 follow | [`rig`] | logs of a rig | clean fixes, litres, curve and heading, sections over time |
//! | 5 cut | [`site`]: `near`, `presence`, `cutting` | runs, sites | legs: what each rig did at each site |
//! | 6 treat | [`site::treat`] | a site's ground, legs and rules | its outcome: areas, doses, applications, facts |
//! | 7 judge | [`verdict`] | outcomes, runs | every litre in one line; findings: what to read first |
//! | 8 write | [`report`] | outcomes, findings | the document, the page, files, words |
//!
//! [`audit`] is the whole flow as one page of calls, [`cli`] its commands. [`measure`] stands beside the flow: from
//! steps 1 and 2 to plans, which the whole flow then audits. Base modules, used by any step: [`units`], [`error`],
//! [`geometry`], [`notation`], [`findings`], [`result`]. A step uses earlier steps and the base modules, never later ones.
//!
//! # Units
//!
//! SI inside, the unit in every name; US or metric only in [`notation`] and what prints with it.
//!
//! | suffix | unit |
//! |---|---|
//! | `_m`, `_m2` | metre, square metre |
//! | `_s` | second; instants are whole microseconds ([`geometry::place::Instant`]) |
//! | `_l`, `_l_s` | litre, litre a second |
//! | `_ml_m2` | millilitre a square metre, the unit of every rate and dose |
//! | `_m_s` | metre a second |
//! | `_rad`, `_deg` | radian, counter-clockwise from east; degree, for positions and logged headings |
//! | `_share` | fraction of one |
//!
//! # Assumptions
//!
//! "Treated" means inside a swath. Nothing here says that a surface is safe.

#![cfg_attr(test, allow(clippy::unwrap_used, clippy::float_cmp))]

pub mod audit;
pub mod cli;
pub mod error;
pub mod findings;
pub mod geometry;
pub mod ground;
pub mod input;
pub mod measure;
pub mod notation;
pub mod orders;
pub mod record;
pub mod report;
pub mod result;
pub mod rig;
pub mod site;
pub mod units;
pub mod verdict;
