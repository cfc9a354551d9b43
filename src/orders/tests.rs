use super::*;
use crate::geometry::place::Instant;
use std::path::Path;

fn order(zone: Option<usize>, product: Option<&str>, target_ml_m2: Option<f64>) -> Placed {
    let order = Order {
        line: 2,
        site: "quay".into(),
        zone: zone.map(|zone| zone.to_string()),
        service: None,
        product: product.map(str::to_owned),
        target_ml_m2,
        from: None,
        by: None,
        id: None,
    };
    Placed { order, zone }
}

fn spells(count: i64) -> Vec<Spell> {
    (0..count)
        .map(|k| Spell {
            start: Instant(k * 20_000_000_000),
            end: Instant(k * 20_000_000_000 + 1_800_000_000),
        })
        .collect()
}

#[test]
fn an_order_outranks_the_zone_the_zone_a_product_and_a_product_the_fleet() {
    let text = "[defaults]\ntarget = \"1 mL/m2\"\n[[product]]\nid = \"two\"\ntarget = \"2 mL/m2\"\n\
                [[product]]\nid = \"three\"\ntarget = \"3 mL/m2\"\n[[product]]\nid = \"plain\"\n\
                [[rig]]\nid = \"a\"\nsections = [\"1 m\"]\n";
    let fleet = crate::input::fleet::read(text, Path::new("fleet.toml")).unwrap();
    let both = order(None, Some("three"), Some(5.0)).order;
    let product_only = order(None, Some("three"), None).order;
    let neither = order(None, None, None).order;
    let targets = crate::orders::targets::Targets::of(&fleet);
    let target = |order, zone, carried| targets.on_zone(order, zone, carried).unwrap();
    assert_eq!(target(Some(&both), Some(4.0), Some("two")), 5.0);
    assert_eq!(target(Some(&product_only), Some(4.0), Some("two")), 4.0);
    assert_eq!(target(Some(&product_only), None, Some("two")), 3.0);
    assert_eq!(target(Some(&neither), None, Some("two")), 2.0);
    assert_eq!(target(None, None, Some("plain")), 1.0);
    assert_eq!(target(None, None, None), 1.0);
}

/// One application serves the site's order and a zone's; on that zone the zone's order counts.
#[test]
fn a_zone_s_own_order_outranks_the_site_s() {
    let orders = [order(None, None, None), order(Some(1), None, None)];
    let served = serve(&orders, &spells(1), |_, _| true);
    assert_eq!(served, [Some(0), Some(0)]);
    assert_eq!(order_of(&orders, &served, 0, 1), Some(1));
    assert_eq!(order_of(&orders, &served, 0, 0), Some(0));
}

#[test]
fn two_orders_of_one_scope_need_two_applications() {
    let orders = [order(None, None, None), order(None, None, None)];
    assert_eq!(serve(&orders, &spells(1), |_, _| true), [Some(0), None]);
    assert_eq!(serve(&orders, &spells(3), |_, _| true), [Some(0), Some(1)]);
    assert_eq!(order_of(&orders, &[Some(0), Some(1)], 2, 0), None);
}

#[test]
fn ground_not_reached_is_not_served() {
    let orders = [order(Some(0), None, None), order(Some(1), None, None)];
    let served = serve(&orders, &spells(2), |order, application| {
        order == application
    });
    assert_eq!(served, [Some(0), Some(1)]);
}
