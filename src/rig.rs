//! What one rig did in a night: from its logs to boom, litres and sections over time. Step 4 of the flow, once a
//! rig; the order of the table is the order of the work.
//!
//! | module | from | to |
//! |---|---|---|
//! | [`track`] | logs | clean fixes, silences, segments |
//! | [`position`] | clean fixes | how far off each may be |
//! | [`meter`] | readings | litres of every interval |
//! | [`pose`] | clean fixes | the antenna's curve, the rig's heading, gears |
//! | [`boom`] | pose | where the boom's ends were |
//! | [`timeline`] | sections, delays | what was open when, bouts of spraying |
//! | [`run`] | all of these | one rig's run and its summary |

pub mod boom;
pub mod meter;
pub mod pose;
pub mod position;
pub mod run;
pub mod timeline;
pub mod track;
