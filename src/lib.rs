//! swathbook audits a night of liquid de-icing: from the rigs' logs, the sites' polygons and a
//! description of the fleet it says what was treated, missed, done twice, at what rate, where the
//! liquid went, and how sure that is.
//!
//! # The flow
//!
//! | step | module | from | to |
//! |---|---|---|---|
//! | 1 read | [`job`], [`input`] | files | logs, drawn zones, fleet, orders |
//! | 1b divide | [`ground`] | drawn zones | sites: at most one zone on every spot |
//! | 1b night | [`night`] | logs | which date is the night, from when to when |
//! | 1c order | [`orders`] | rows, sites | orders on their ground; after step 7, which application serves which |
//! | 2 clean | [`track`] | logs of a rig | tracks |
//! | 2b position | [`position`] | track | how far off its positions may be |
//! | 3 meter | [`meter`] | track | litres for each step |
//! | 4 pose | [`pose`] | track | curve and heading |
//! | 5 timeline | [`timeline`] | track, litres | sections and litres on the ground over time |
//! | 6 strips | [`near`], [`swath`], [`parcels`] | poses, timeline | strips on a site's plane |
//! | 7 passes, visits, applications | [`passes`], [`visit`], [`application`] | timeline, distances, strips | who treated what when |
//! | 8 coverage | [`coverage`] | strips, zones | treated, gap, overlap, unlogged |
//! | 9 dose | [`dose`] | strips, zones | litres per area on each spot |
//! | 10 rates | [`treatment`] | sums | litres over areas |
//! | 11 ledger | [`ledger`] | everything | every litre in one line |
//! | 12 findings | [`verdict`], [`wording`] | numbers | what to read first |
//! | 13 page | [`page`] | outcomes, findings, [`result::Audit`] | where to go back to, and in which order to read |
//! | report | [`report`] | [`result::Audit`], [`page::Page`] | files and the terminal's page |
//!
//! [`run`] holds steps 2 to 5 of one rig, [`treatment`] steps 6 to 10 of one site, [`audit`] all of
//! them. Base modules, used by any step: [`place`], [`bounds`], [`plane`], [`extent`], [`overlay`], [`raster`], [`boom`],
//! [`units`], [`error`], [`findings`], [`result`].
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

pub mod audit;
pub mod boom;
pub mod bounds;
pub mod cli;
pub mod coverage;
pub mod document;
pub mod dose;
pub mod error;
pub mod extent;
pub mod findings;
pub mod ground;
pub mod input;
pub mod job;
pub mod ledger;
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
