use super::*;
use rand::{RngExt, SeedableRng};

fn at(hour: f64) -> Instant {
    Instant(1_768_176_000_000_000).plus_seconds(hour * 3600.0)
}

/// Hours from the evening's midnight: 20 is the evening, 28 the morning at 4.
fn spell(start: f64, end: f64) -> Spell {
    Spell {
        start: at(start),
        end: at(end),
    }
}

fn window(from: Option<f64>, by: Option<f64>) -> Window {
    Window {
        from: from.map(at),
        by: by.map(at),
    }
}

fn paired(windows: &[Window], spells: &[Spell]) -> Vec<Option<usize>> {
    pair(windows, spells, |_, _| true)
}

#[test]
fn pre_and_post_treatment_meet_their_orders_whatever_the_order_of_rows() {
    let pre = window(Some(18.0), Some(22.0));
    let post = window(Some(26.0), Some(29.5));
    let spells = [spell(20.0, 20.5), spell(28.0, 28.5)];
    assert_eq!(paired(&[pre, post], &spells), [Some(0), Some(1)]);
    assert_eq!(paired(&[post, pre], &spells), [Some(1), Some(0)]);
}

#[test]
fn one_application_is_the_order_s_whose_window_it_is_in() {
    let windows = [window(None, Some(22.0)), window(Some(26.0), Some(29.5))];
    assert_eq!(paired(&windows, &[spell(28.0, 28.5)]), [None, Some(0)]);
    assert_eq!(paired(&windows, &[spell(20.0, 20.5)]), [Some(0), None]);
}

#[test]
fn an_application_too_many_stays_alone() {
    let windows = [window(Some(26.0), Some(29.5))];
    let spells = [spell(20.0, 20.5), spell(28.0, 28.5), spell(31.0, 31.5)];
    assert_eq!(paired(&windows, &spells), [Some(1)]);
}

#[test]
fn late_work_is_the_order_s_and_early_work_only_within_two_hours() {
    let morning = [window(Some(26.0), Some(29.5))];
    assert_eq!(paired(&morning, &[spell(30.0, 31.0)]), [Some(0)]);
    assert_eq!(paired(&morning, &[spell(24.0, 24.5)]), [Some(0)]);
    assert_eq!(paired(&morning, &[spell(23.0, 23.9)]), [None]);
    assert_eq!(paired(&morning, &[spell(41.6, 42.0)]), [None]);
}

/// Walking in order of the windows' starts would give the first application to the order without an end.
#[test]
fn a_window_with_one_end_yields_to_one_that_needs_the_application() {
    let windows = [window(Some(20.0), None), window(None, Some(22.0))];
    let spells = [spell(20.5, 21.0), spell(28.0, 28.5)];
    assert_eq!(paired(&windows, &spells), [Some(1), Some(0)]);
}

#[test]
fn equal_orders_go_in_the_order_of_rows_and_orders_without_times_take_what_is_left() {
    let same = window(Some(18.0), Some(30.0));
    let spells = [spell(20.0, 20.5), spell(28.0, 28.5)];
    assert_eq!(paired(&[same, same], &spells), [Some(0), Some(1)]);
    let open = window(None, None);
    assert_eq!(
        paired(&[open, window(None, Some(22.0))], &spells),
        [Some(1), Some(0)]
    );
    assert_eq!(
        paired(&[open, open, open], &spells),
        [Some(0), Some(1), None]
    );
}

#[test]
fn an_application_elsewhere_on_the_site_is_not_the_order_s() {
    let windows = [window(None, None)];
    let spells = [spell(20.0, 20.5), spell(28.0, 28.5)];
    assert_eq!(pair(&windows, &spells, |_, spell| spell == 1), [Some(1)]);
    assert_eq!(pair(&windows, &spells, |_, _| false), [None]);
}

/// Every way to pair, tried one after the other: most met, then least cost.
fn best(windows: &[Window], spells: &[Spell], used: u32) -> (usize, f64) {
    let Some((first, rest)) = windows.split_first() else {
        return (0, 0.0);
    };
    let mut best_so_far = best(rest, spells, used);
    for (index, spell) in spells.iter().enumerate() {
        let cost_s = first.cost_s(spell);
        if used >> index & 1 == 1 || cost_s >= ALONE_S {
            continue;
        }
        let (met, others_s) = best(rest, spells, used | 1 << index);
        let (met, total_s) = (met + 1, others_s + cost_s);
        if met > best_so_far.0 || (met == best_so_far.0 && total_s < best_so_far.1) {
            best_so_far = (met, total_s);
        }
    }
    best_so_far
}

#[test]
fn no_other_pairing_is_better() {
    let mut chance = rand_chacha::ChaCha8Rng::seed_from_u64(1);
    for _ in 0..500 {
        let mut end = |least: f64| {
            chance
                .random_bool(0.8)
                .then(|| least + chance.random_range(0.0..16.0_f64).round())
        };
        let windows: Vec<Window> = (0..4).map(|_| window(end(10.0), end(27.0))).collect();
        let spells: Vec<Spell> = (0..3)
            .map(|k| {
                let start = 14.0 + 7.0 * f64::from(k) + chance.random_range(0.0..6.0);
                spell(start, start + 0.5)
            })
            .collect();
        let found = paired(&windows, &spells);
        let met = found.iter().flatten().count();
        let cost_s: f64 = windows
            .iter()
            .zip(&found)
            .filter_map(|(window, spell)| Some(window.cost_s(&spells[(*spell)?])))
            .sum();
        let (most, least_s) = best(&windows, &spells, 0);
        assert_eq!(met, most);
        // The weight of rows is under 1e-6 x (4 x 3 + 4 x 3) a pair.
        assert!((cost_s - least_s).abs() < 1e-4, "{cost_s} {least_s}");
    }
}
