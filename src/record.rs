//! A service record: what the logs show of one site, for its property manager, so that its reader can compute it
//! again and learns of nobody else.
//!
//! # The flow
//!
//! | step | module | from | to |
//! |---|---|---|---|
//! | 1 disclose | [`disclose`] | a gathered night, a site | [`Evidence`]: its ground, rules and legs, cut to what is shown |
//! | 2 evidence | [`evidence`] | evidence | files, and back: the same to the bit |
//! | 3 figures | [`figures`] | evidence, [`crate::site::treat`] | what the record states |
//! | 4 commit | [`intake`], [`commit`] | the night's files | digests of the originals, each under a salt of its own |
//! | 5 page | [`document`], [`page`], [`sheet`] | figures | `service-record.json`, the page, the spreadsheet |
//! | 6 bag | [`bag`], [`name`] | all of these | a BagIt folder (RFC 8493) |
//! | 7 sign | [`sign`] | the bag's tag manifest | an Ed25519 signature (RFC 8032) |
//!
//! [`make`] is the way there as one page of calls, [`verify`] the way back: it reads a folder that anybody may have
//! changed, computes everything from the evidence again and says what holds.
//!
//! The figures are never copied from the audit: `make` writes the evidence, reads it back, treats it, and compares the
//! result with the audit's to the last bit.

pub mod bag;
pub mod commit;
pub mod disclose;
pub mod document;
pub mod evidence;
pub mod figures;
pub mod intake;
pub mod make;
pub mod name;
pub mod page;
pub mod sheet;
pub mod sign;
pub mod verify;
pub mod words;

pub use document::Record;
pub use evidence::Evidence;
pub use figures::Figures;

/// Name of the layout of a record's folder; a change of it is a new number.
pub const FORMAT: &str = "swathbook-record/1";
/// Number of the rules by which the stages after the evidence compute. A change that moves a figure of a kept record
/// by more than its tolerance is a new number (arithmetic).
pub const RULES: u32 = 1;

/// The first rules that there were: what states others was not computed by any release (arithmetic).
pub const FIRST_RULES: u32 = 1;
