//! Signed records that were kept: their digests, signatures and figures hold, whatever became of the program.

use std::path::Path;
use swathbook::record::sign;
use swathbook::record::verify::{CheckResult, Given, verify};

#[test]
fn kept_records_hold() {
    let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/records");
    let given = Given {
        trusted: Some(sign::trusted(&kept.join("signer.pem")).unwrap()),
        ..Given::default()
    };
    let mut records = 0;
    for entry in std::fs::read_dir(&kept).unwrap() {
        let folder = entry.unwrap().path();
        if !folder.is_dir() {
            continue;
        }
        let verified = verify(&folder, &given).unwrap();
        // The page is worded otherwise by every version: it is no part of what must stay.
        for name in ["files", "signature", "figures"] {
            let check = verified.checks.iter().find(|check| check.check == name);
            let check = check.unwrap();
            assert_eq!(
                check.result,
                CheckResult::Holds,
                "{}: {check:?}",
                folder.display()
            );
        }
        records += 1;
    }
    assert!(records >= 3, "{records}");
}
