//! swathbook audits a night of liquid de-icing: from the rigs' logs, the sites' polygons and a
//! description of the fleet it says what was treated, missed, done twice, at what rate, where the
//! liquid went, and how sure that is.
//!
//! # The flow
//!
//! | step | module | from | to |
//! |---|---|---|---|
//! | 1 read | [`job`], [`input`] | files | logs, drawn zones, fleet, orders |
//! | 2 divide, order | [`ground`], [`orders`], [`night`] | drawn zones, rows, logs | sites: at most one zone on every spot; orders on their ground; which date is the night |
//! | 2b apart | [`apart`] | logs, drawn zones | an error where they lie in different parts of the world |
//! | 3 follow | [`run`]: [`track`], [`position`], [`meter`], [`pose`], [`timeline`] | logs of a rig | clean fixes, litres, curve and heading, sections over time |
//! | 4 cut | [`site`]: `near`, `presence`, `cutting` | runs, sites | legs: what each rig did at each site |
//! | 5 treat | [`site`]: `swath`, `applications`, [`coverage`], [`dose`], `orders`, `facts` | a site's ground, legs and rules | its outcome |
//! | 6 balance | [`ledger`] | outcomes, runs | every litre in one line |
//! | 7 judge | [`verdict`], [`wording`] | outcomes | findings: what to read first |
//! | 7b breaks | [`log_ends`] | findings, logs | which missed ground a broken log may explain |
//! | 8 read | [`document`], [`page`] | outcomes, findings | the document; where to go back to, and in which order to read |
//! | 9 write | [`report`] | document, page, outcomes | files and the terminal's page |
//!
//! [`measure`] stands beside the flow: from steps 1 and 2 to plans, which the whole flow then audits.
//! [`audit`] is the whole flow as one page of calls; step 5 is a closed function, [`site::treat`]. Base modules,
//! used by any step: [`place`], [`bounds`], [`plane`], [`extent`], [`overlay`], [`raster`], [`boom`], [`targets`],
//! [`units`], [`digest`], [`error`], [`findings`], [`progress`], [`result`].
//!
//! # Units
//!
//! SI inside, the unit in every name; US or metric only in [`report`].
//!
//! | suffix | unit |
//! |---|---|
//! | `_m`, `_m2` | metre, square metre |
//! | `_s` | second; instants are whole microseconds ([`place::Instant`]) |
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

pub mod apart;
pub mod audit;
pub mod boom;
pub mod bounds;
pub mod cli;
pub mod coverage;
pub mod digest;
pub mod document;
pub mod dose;
pub mod error;
pub mod extent;
pub mod findings;
pub mod ground;
pub mod input;
pub mod job;
pub mod ledger;
pub mod log_ends;
pub mod measure;
pub mod meter;
pub mod night;
pub mod orders;
pub mod overlay;
pub mod page;
pub mod place;
pub mod plane;
pub mod pose;
pub mod position;
pub mod progress;
pub mod raster;
pub mod report;
pub mod result;
pub mod run;
pub mod site;
pub mod targets;
pub mod timeline;
pub mod track;
pub mod units;
pub mod verdict;
pub mod wording;
