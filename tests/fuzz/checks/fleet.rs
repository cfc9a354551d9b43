//! Any bytes as a fleet file; one that can be read must read a log through its own channel map.

use std::collections::HashSet;
use std::path::Path;
use swathbook::input::fleet::{self, Fleet, Rig};
use swathbook::input::log;

/// A log that uses the program's own elements and a few that a mapping may name.
const LOG: &str = r#"<gpx><trk><extensions><s:product>brine</s:product></extensions><trkseg>
<trkpt lat="45" lon="-30"><time>2026-01-12T02:00:00Z</time><hdop>0.8</hdop><extensions><s:flow>20</s:flow><s:volume>100</s:volume><s:sections>1</s:sections><q v="3" w="1">4</q><valves>0x3</valves><x a="1" b="0">1,0</x></extensions></trkpt>
<trkpt lat="45.00004" lon="-30"><time>2026-01-12T02:00:01Z</time><extensions><s:flow>20</s:flow><s:volume>101</s:volume><s:sections>1</s:sections><q v="4" w="1">5</q><valves>1</valves><x a="1" b="1">1,1</x></extensions></trkpt>
<trkpt lat="45.00008" lon="-30.00001"><time>2026-01-12T02:00:02Z</time><extensions><s:flow>0</s:flow><s:volume>101.5</s:volume><s:sections>0</s:sections></extensions></trkpt>
</trkseg></trk></gpx>"#;

/// Reads the bytes as a fleet file.
pub(crate) fn check(bytes: &[u8]) {
    let Some(text) = super::text(bytes) else {
        return;
    };
    let fleet = match fleet::read(&text, Path::new("fleet.toml")) {
        Ok(fleet) => fleet,
        Err(error) => return assert!(!error.to_string().is_empty()),
    };
    assert!(!fleet.rigs.is_empty());
    let ids: HashSet<&str> = fleet.rigs.iter().map(|rig| rig.id.as_str()).collect();
    assert_eq!(ids.len(), fleet.rigs.len());
    fleet.rigs.iter().for_each(sound);
    read_a_log(&fleet);
}

fn sound(rig: &Rig) {
    let widths = &rig.section_widths_m;
    assert!((1..=64).contains(&widths.len()) && widths.iter().all(|&width| width >= 0.01));
    assert!(rig.boom_width_m() < 100.0);
    let places = [rig.antenna_ahead_m, rig.antenna_right_m, rig.axle_m];
    assert!(places.iter().all(|metres| metres.abs() < 100.0));
    assert!((0.0..=60.0).contains(&rig.open_delay_s) && (0.0..=60.0).contains(&rig.close_delay_s));
    assert!(rig.meter.factor > 0.0 && rig.meter.factor.is_finite());
    assert!(rig.clock_offset_s.is_finite());
}

/// The log once under a name that no pattern is likely to match, once for each rig by its id.
fn read_a_log(fleet: &Fleet) {
    let mut texts = vec![LOG.to_owned()];
    if let Some(rig) = fleet.rigs.iter().find(|rig| !rig.id.contains(['<', '&'])) {
        texts.push(LOG.replace(
            "<s:product>",
            &format!("<s:rig>{}</s:rig><s:product>", rig.id),
        ));
    }
    for text in texts {
        if let Ok(reading) = log::read("logs/north-1.gpx.gz", &text, fleet) {
            super::log::follow(fleet, reading);
        }
    }
}
