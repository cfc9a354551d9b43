//! Two builds on the same nights, side by side.

use std::path::Path;

use crate::classes::Kind;
use crate::stored;
use crate::table::{Row, share_text};

/// What is asked of each night, and its answer.
type Question = (&'static str, fn(&Row) -> bool);

const OF_SOUND: [Question; 4] = [
    ("a false go-back", |row| row.false_go_backs > 0),
    ("a false bare_patch, go back or look into", |row| {
        row.has_false("bare_patch")
    }),
    ("a false go-back or look-into of any kind", |row| {
        row.false_go_backs + row.false_look_intos > 0
    }),
    ("an order told wrongly", |row| row.orders_wrong > 0),
];

/// Prints how often each build says what it should not, on nights that both files have.
pub(crate) fn print(first: &Path, second: &Path) -> Result<(), String> {
    let (first, second) = (stored::read(first)?, stored::read(second)?);
    let same = |a: &Row, b: &Row| (a.class, a.seed) == (b.class, b.seed);
    let pairs: Vec<(&Row, &Row)> = first
        .iter()
        .filter_map(|a| Some((a, second.iter().find(|b| same(a, b))?)))
        .collect();
    let sound = |pair: &&(&Row, &Row)| pair.0.class.kind() == Kind::Sound;
    let sound: Vec<(&Row, &Row)> = pairs.iter().filter(sound).copied().collect();
    println!("sound nights with: first build, second build; only the first, only the second");
    for (name, ask) in OF_SOUND {
        line(name, &sound, ask);
    }
    let places = |of: fn(&(&Row, &Row)) -> (usize, usize)| {
        let sums = sound.iter().map(of);
        let (all, shown) = sums.fold((0, 0), |sum, of| (sum.0 + of.0, sum.1 + of.1));
        share_text(shown, all)
    };
    println!(
        "places truly bare that are shown: {}, {}",
        places(|pair| pair.0.bare_places),
        places(|pair| pair.1.bare_places)
    );
    println!("planted faults found:");
    for (class, name) in crate::classes::ALL {
        let own: Vec<(&Row, &Row)> = pairs
            .iter()
            .filter(|(a, b)| a.class == class && a.found.is_some() && b.found.is_some())
            .copied()
            .collect();
        if !own.is_empty() {
            line(name, &own, |row| {
                row.found.as_ref().is_some_and(|f| f.found)
            });
        }
    }
    Ok(())
}

fn line(name: &str, pairs: &[(&Row, &Row)], ask: fn(&Row) -> bool) {
    let count = |of: &dyn Fn(&(&Row, &Row)) -> bool| pairs.iter().filter(|pair| of(pair)).count();
    println!(
        "  {name:42} {:32} {:32} {:4} {:4}",
        share_text(count(&|pair| ask(pair.0)), pairs.len()),
        share_text(count(&|pair| ask(pair.1)), pairs.len()),
        count(&|pair| ask(pair.0) && !ask(pair.1)),
        count(&|pair| !ask(pair.0) && ask(pair.1)),
    );
}
