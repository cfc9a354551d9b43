use super::*;
use crate::findings::clocks::AboutClocks;
use crate::findings::log::AboutLog;
use crate::findings::{Kind, Severity};
use crate::input::fleet;
use std::path::Path;

const FLEET: &str = "[defaults]\ntimezone = \"America/Winnipeg\"\n[[product]]\nid = \"brine\"\n\
                     [[rig]]\nid = \"a\"\nsections = [\"1 m\"]\n";

fn read_in(fleet: &str, text: &str) -> crate::error::Result<OrdersReading> {
    let fleet = fleet::read(fleet, Path::new("fleet.toml")).unwrap();
    read(text, Path::new("orders.csv"), "orders.csv", &fleet)
}

fn reading(text: &str) -> OrdersReading {
    read_in(FLEET, text).unwrap()
}

/// Line, count and reason of each finding.
fn remarks(reading: &OrdersReading) -> Vec<(u64, u64, String)> {
    let told = reading.findings.iter().map(|finding| match &finding.kind {
        Kind::Log(AboutLog::InputSkipped {
            line, count, why, ..
        }) => (line.unwrap(), *count, why.clone()),
        Kind::Clocks(AboutClocks::TimesUnread {
            line, count, why, ..
        }) => (*line, *count, why.clone()),
        other => panic!("{other:?}"),
    });
    told.collect()
}

fn utc(text: &str) -> Option<Instant> {
    let timestamp: jiff::Timestamp = text.parse().unwrap();
    Some(Instant(timestamp.as_microsecond()))
}

#[test]
fn columns_may_stand_in_any_order_and_only_the_site_must_be_there() {
    let reading = reading(
        "\u{feff}By, SITE ,order,product,target,zone,from,service\n\
         2026-01-12 05:30,quay,A-17,brine,35 gal/ac,main,2026-01-12T02:00,post\n,mill,,,,,,\n",
    );
    assert!(reading.findings.is_empty(), "{:?}", reading.findings);
    let first = &reading.orders[0];
    assert_eq!((first.line, first.site.as_str()), (2, "quay"));
    assert_eq!(first.zone.as_deref(), Some("main"));
    assert_eq!(first.service.as_deref(), Some("post"));
    assert_eq!(first.product.as_deref(), Some("brine"));
    assert_eq!(first.id.as_deref(), Some("A-17"));
    // 35 gal/ac: 35 x 3785.411784 mL over 4046.8564224 m2.
    assert!((first.target_ml_m2.unwrap() - 32.738_846_8).abs() < 1e-7);
    let second = &reading.orders[1];
    assert_eq!((second.line, second.label()), (3, "line 3".to_owned()));
    assert_eq!((second.from, second.by, &second.zone), (None, None, &None));
}

/// Central Standard Time is six hours behind UTC.
#[test]
fn a_time_without_zone_is_in_the_fleet_s_zone_and_utc_without_one() {
    let rows = "site,from,by\nquay,2026-01-12 02:00,2026-01-12T05:30:00-05:00\n";
    let order = &reading(rows).orders[0];
    assert_eq!(order.from, utc("2026-01-12T08:00:00Z"));
    assert_eq!(order.by, utc("2026-01-12T10:30:00Z"));
    let no_zone = FLEET.replace("timezone = \"America/Winnipeg\"", "");
    let order = &read_in(&no_zone, rows).unwrap().orders[0];
    assert_eq!(order.from, utc("2026-01-12T02:00:00Z"));
}

/// On 2026-03-08 at 02:00 clocks in Winnipeg go on to 03:00; on 2026-11-01 at 02:00 back to 01:00. The instants
/// are those of Python's zoneinfo with fold=0.
#[test]
fn a_skipped_time_is_after_the_change_and_a_doubled_one_the_first() {
    let reading = reading("site,by\nquay,2026-03-08 02:30\nquay,2026-11-01 01:30\n");
    assert_eq!(reading.orders[0].by, utc("2026-03-08T08:30:00Z"));
    assert_eq!(reading.orders[1].by, utc("2026-11-01T06:30:00Z"));
}

#[test]
fn a_bad_cell_costs_the_cell_and_says_its_line() {
    let reading = reading(
        "site,product,target,from,by\nquay,brin,35,tonight,05:30\n\
         mill,,-3 gal/ac,2026-01-12 05:00,2026-01-12 04:00\n",
    );
    assert_eq!(reading.orders.len(), 2);
    for order in &reading.orders {
        assert_eq!((order.product.as_ref(), order.target_ml_m2), (None, None));
        assert_eq!((order.from, order.by), (None, None));
    }
    let told = remarks(&reading);
    let says = |line: u64, count: u64, text: &str| {
        let found = told
            .iter()
            .any(|(of, number, why)| (*of, *number) == (line, count) && why.contains(text));
        assert!(found, "no {text:?} in {told:?}");
    };
    says(2, 1, "no product \"brin\"");
    says(2, 2, "`target` cannot be read");
    says(2, 1, "\"tonight\" is not a time such as");
    says(2, 1, "\"05:30\" is not a time such as");
    says(3, 1, "`by` is not after `from`");
    assert_eq!(told.len(), 4);
}

#[test]
fn a_bad_row_is_left_out_and_said() {
    let long = "x".repeat(201);
    let reading = reading(&format!(
        "site,zone,colour,lane\n,main,,\nquay,main,,\nquay,main,,\nquay,a,b,c,d\n,,,\n\nmill,{long},,\nmill,,,\n"
    ));
    let sites: Vec<&str> = reading.orders.iter().map(|order| &*order.site).collect();
    assert_eq!(sites, ["quay", "mill"]);
    let told = remarks(&reading);
    assert_eq!(told.len(), 5, "{told:?}");
    // Columns are told once, the others with the line of the first row.
    assert_eq!((told[0].0, told[0].1), (1, 2));
    assert_eq!(reading.findings[0].severity, Severity::ForTheRecord);
    let lines: Vec<u64> = told.iter().map(|told| told.0).collect();
    assert_eq!(lines, [1, 2, 4, 5, 8]);
}

#[test]
fn semicolons_and_tabs_separate_where_the_headings_have_them() {
    for mark in [";", "\t"] {
        let reading = reading(&format!("site{mark}zone\nquay{mark}\"a, b\"\n"));
        assert_eq!(reading.orders[0].zone.as_deref(), Some("a, b"));
    }
}

#[test]
fn a_file_without_headings_is_no_orders_file() {
    let says = |text: &str| read_in(FLEET, text).unwrap_err().to_string();
    assert!(says("quay,main\nmill,\n").contains("expected a heading `site`"));
    assert!(says("zone,by\nmain,\n").contains("orders.csv:1:"));
    assert!(says("site,by,by\nquay,,\n").contains("`by` stands twice"));
    assert!(reading("site\n").orders.is_empty());
}

#[test]
fn a_file_of_too_many_rows_is_refused() {
    let rows = "site\n".to_owned() + &"quay\n".repeat(100_001);
    let error = read_in(FLEET, &rows).unwrap_err().to_string();
    assert!(error.contains("more than 100000 rows"), "{error}");
}

/// Spreadsheets of the United States write the month first (common practice); elsewhere only what can be read one way.
#[test]
fn dates_with_slashes_are_read_as_their_zone_writes_them() {
    let text = "site,from,by\nquay,1/11/2026 10:30 PM,01/12/2026 5:30 AM\nmill,1/12/26 0:05,01/12/2026 07:00:00\n";
    let read = reading(text);
    assert_eq!(read.orders[0].from, utc("2026-01-12T04:30:00Z"));
    assert_eq!(read.orders[0].by, utc("2026-01-12T11:30:00Z"));
    assert_eq!(read.orders[1].from, utc("2026-01-12T06:05:00Z"));
    assert_eq!(read.orders[1].by, utc("2026-01-12T13:00:00Z"));
    assert!(
        read.findings
            .iter()
            .all(|of| of.severity == Severity::ForTheRecord)
    );
    // They were read: nothing of them was left out.
    assert!(matches!(
        read.findings[..],
        [Finding {
            kind: Kind::Log(AboutLog::ReadingOdd { count: 2, .. }),
            ..
        }]
    ));
    let elsewhere = FLEET.replace("America/Winnipeg", "Europe/Paris");
    let plain = read_in(&elsewhere, "site,by\nquay,13/01/2026 06:00\n").unwrap();
    assert_eq!(plain.orders[0].by, utc("2026-01-13T05:00:00Z"));
    let either = read_in(&elsewhere, "site,by\nquay,12/01/2026 06:00\n").unwrap();
    assert_eq!(either.orders[0].by, None);
    assert!(matches!(
        either.findings[0].kind,
        Kind::Clocks(AboutClocks::TimesUnread { count: 1, .. })
    ));
    for wrong in [
        "13/13/2026 06:00",
        "1/12/2026 13:00 PM",
        "1/12/2026 25:00",
        "1/12/2026",
    ] {
        assert_eq!(
            reading(&format!("site,by\nquay,{wrong}\n")).orders[0].by,
            None,
            "{wrong}"
        );
    }
}
