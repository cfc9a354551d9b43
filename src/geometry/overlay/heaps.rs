//! Rings that lie in heaps: a boom that swings about one place leaves hundreds of slivers on top of each
//! other, every edge across most others. Joined a few at a time, what lies inside goes before the next ones come.
//!
//! Of passes in a heap two layers are kept: ground in one or more, ground in two or more. As rings, the two
//! together wind min(n, 2) times about a spot that n passes cover, which is all that a zone asks.

use super::faces::Shapes;
use super::general;
use super::graph::{Graph, Heaps};
use super::rings::{Fail, Rings, Winding};

/// Grounds of a heap joined at a time (by trial).
pub(super) const HANDFUL: usize = 16;

/// What came of it, and how often the general engine had to do the work.
pub(super) struct Joined<T> {
    pub(super) ground: T,
    pub(super) fallbacks: u32,
}

impl<J> Joined<J> {
    /// The engine's, or the general engine's.
    pub(super) fn or(ground: Result<J, Fail>, generally: impl FnOnce() -> J) -> Self {
        match ground {
            Ok(ground) => Self {
                ground,
                fallbacks: 0,
            },
            Err(_) => Self {
                ground: generally(),
                fallbacks: 1,
            },
        }
    }
}

/// Joins grounds: all at once or, where they lie on top of each other, a handful at a time, then `two` by two. What the
/// engine gives up for another reason is split as well, so that the general engine only gets handfuls.
pub(super) fn joined<T, J: Default>(
    grounds: &[T],
    at_once: &impl Fn(&[T], Heaps) -> Result<J, Fail>,
    generally: &impl Fn(&[T]) -> J,
    two: &impl Fn(&[J]) -> Joined<J>,
) -> Joined<J> {
    if grounds.len() <= HANDFUL {
        return Joined::or(at_once(grounds, Heaps::Taken), || generally(grounds));
    }
    if let Ok(ground) = at_once(grounds, Heaps::Refused) {
        return Joined {
            ground,
            fallbacks: 0,
        };
    }
    let mut fallbacks = 0;
    let mut count = |part: Joined<J>| {
        fallbacks += part.fallbacks;
        part.ground
    };
    let handfuls = grounds.chunks(HANDFUL);
    let mut parts: Vec<J> = handfuls
        .map(|grounds| count(joined(grounds, at_once, generally, two)))
        .collect();
    while parts.len() > 1 {
        parts = parts.chunks(2).map(|parts| count(two(parts))).collect();
    }
    Joined {
        ground: parts.pop().unwrap_or_default(),
        fallbacks,
    }
}

/// Ground in one outline or more, and in two or more.
pub(super) type Layers = [Shapes; 2];

fn layers(shapes: &[&Shapes], heaps: Heaps) -> Result<Layers, Fail> {
    let mut rings = Rings::default();
    for shapes in shapes {
        rings.add_shapes(*shapes, Winding::OF);
    }
    let graph = Graph::of(rings, heaps)?;
    Ok([
        graph.region(|winding| winding.of > 0)?,
        graph.region(|winding| winding.of > 1)?,
    ])
}

/// Two layers by the general engine, for a handful of outlines: one after the other.
fn layers_generally(shapes: &[&Shapes]) -> Layers {
    let union = |one: &Shapes, other: &Shapes| {
        general::union_of_positive(one.iter().chain(other).flatten())
    };
    shapes
        .iter()
        .fold(Layers::default(), |[once, twice], shapes| {
            let again = general::combined(&once, *shapes, true);
            [union(&once, shapes), union(&twice, &again)]
        })
}

/// The two layers of outlines that lie in a heap.
pub(super) fn layered(outlines: &[&Shapes]) -> Joined<Layers> {
    joined(outlines, &layers, &layers_generally, &|two| {
        let shapes: Vec<&Shapes> = two.iter().flatten().collect();
        Joined::or(layers(&shapes, Heaps::Taken), || layers_generally(&shapes))
    })
}
