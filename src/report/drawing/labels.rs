//! Where labels stand on a plan: on what they name, and never on each other.

use super::Frame;
use crate::geometry::extent::Extent;
use crate::geometry::overlay::Region;
use crate::geometry::plane::Xy;
use unicode_width::UnicodeWidthChar;

/// Size of text over the plan's unit, as in `plan.css` (layout).
const TEXT: f64 = 1.05;
/// Places tried a side of a zone's box (layout).
const TRIES: usize = 7;

/// Width of a character as a share of the size of text: as in a wide face (DejaVu Sans), since nobody knows the
/// reader's.
fn wide(c: char) -> f64 {
    match c {
        'm' | 'w' | 'M' | 'W' | '@' | '%' => 1.0,
        c if c.is_ascii_uppercase() => 0.78,
        c if c.is_ascii() => 0.64,
        // Ideographs are as wide as high; marks on letters have no width.
        c => 0.64 * c.width().unwrap_or(0) as f64,
    }
}

/// Half a width and half a height, dm.
type Half = (f64, f64);

/// What a label is laid on.
#[derive(Default)]
pub(super) struct Labels {
    /// Boxes that are taken: middle and half sizes, dm.
    taken: Vec<((f64, f64), Half)>,
}

impl Labels {
    /// Half the size of a line of text.
    pub(super) fn text_half(text: &str, frame: &Frame) -> Half {
        let size = TEXT * frame.unit_dm();
        let wide: f64 = text.chars().map(wide).sum();
        (wide * size / 2.0, 0.6 * size)
    }

    fn is_free(&self, at: (f64, f64), half: Half) -> bool {
        self.taken.iter().all(|(other, size)| {
            (at.0 - other.0).abs() >= half.0 + size.0 || (at.1 - other.1).abs() >= half.1 + size.1
        })
    }

    /// The first of some places that is free, and takes it.
    pub(super) fn first_free(
        &mut self,
        places: impl Iterator<Item = Xy>,
        half: Half,
        frame: &Frame,
    ) -> Option<(i64, i64)> {
        let on_paper = |place: Xy| {
            let (x, y) = frame.to_dm(place);
            ((x, y), (x as f64, y as f64))
        };
        let (place, middle) = places
            .map(on_paper)
            .find(|(_, at)| self.is_free(*at, half))?;
        self.taken.push((middle, half));
        Some(place)
    }
}

/// Ground that words are better not laid on.
#[derive(Default)]
pub(super) struct Marks {
    grounds: Vec<(Extent, Vec<Vec<Xy>>)>,
}

impl Marks {
    /// Adds some ground.
    pub(super) fn add(&mut self, region: &Region) {
        self.grounds.push((region.extent(), region.rings()));
    }

    /// Whether a point lies on any of it.
    pub(super) fn hold(&self, at: Xy) -> bool {
        let point = Extent::of([&at]);
        let mut near = self
            .grounds
            .iter()
            .filter(|(extent, _)| extent.meets(&point));
        near.any(|(_, rings)| is_inside(rings, at))
    }
}

/// Whether a point is inside, by the even-odd rule.
fn is_inside(rings: &[Vec<Xy>], at: Xy) -> bool {
    let mut inside = false;
    for ring in rings {
        let mut from = ring[ring.len() - 1];
        for &to in ring {
            let crosses = (from.y_m > at.y_m) != (to.y_m > at.y_m);
            let x_m = || from.x_m + (at.y_m - from.y_m) / (to.y_m - from.y_m) * (to.x_m - from.x_m);
            if crosses && at.x_m < x_m() {
                inside = !inside;
            }
            from = to;
        }
    }
    inside
}

/// The ground of something that has a label.
pub(super) struct Spread {
    rings: Vec<Vec<Xy>>,
    places: Vec<Xy>,
}

impl Spread {
    /// Over some ground.
    pub(super) fn over(region: &Region) -> Self {
        let rings = region.rings();
        let extent = region.extent();
        let size = extent.high.minus(extent.low);
        let at = |share: (f64, f64)| {
            Xy::new(
                extent.low.x_m + share.0 * size.x_m,
                extent.low.y_m + share.1 * size.y_m,
            )
        };
        let share = |index: usize| (index as f64 + 1.0) / (TRIES as f64 + 1.0);
        let grid = (0..TRIES * TRIES).map(|k| (share(k % TRIES), share(k / TRIES)));
        let mut shares: Vec<(f64, f64)> = grid.collect();
        // From the middle outward, so that a label stands where people look for it.
        let off = |(x, y): &(f64, f64)| (x - 0.5).hypot(y - 0.5);
        shares.sort_by(|a, b| off(a).total_cmp(&off(b)));
        let mut spread = Self {
            rings,
            places: Vec::new(),
        };
        spread.places = shares
            .into_iter()
            .map(at)
            .filter(|place| spread.holds(*place))
            .collect();
        if spread.places.is_empty() {
            // Thin and bent: the middle of its longest edge is near it at least.
            spread.places.extend(longest_edge(&spread.rings));
        }
        spread
    }

    /// Whether a point is on it.
    pub(super) fn holds(&self, at: Xy) -> bool {
        is_inside(&self.rings, at)
    }

    /// Places inside, from the middle outward.
    pub(super) fn places(&self) -> impl Iterator<Item = Xy> + '_ {
        self.places.iter().copied()
    }

    /// Places where a box of this size lies on the ground and on no mark, by its corners, the middles of its sides and
    /// its own.
    pub(super) fn roomy<'a>(
        &'a self,
        half: Half,
        frame: &'a Frame,
        marks: &'a Marks,
    ) -> impl Iterator<Item = Xy> + 'a {
        /// Left, middle and right third of a box (layout).
        const THIRDS: [f64; 3] = [-1.0, 0.0, 1.0];
        self.places().filter(move |place| {
            let mut points = THIRDS.iter().flat_map(|right| {
                THIRDS
                    .iter()
                    .map(move |down| (half.0 * right, half.1 * down))
            });
            points.all(|off| {
                let at = frame.beside(*place, off);
                self.holds(at) && !marks.hold(at)
            })
        })
    }
}

fn longest_edge(rings: &[Vec<Xy>]) -> Option<Xy> {
    let mut longest: Option<(f64, Xy)> = None;
    for ring in rings {
        for (index, &to) in ring.iter().enumerate() {
            let from = ring[(index + ring.len() - 1) % ring.len()];
            let length_m = to.minus(from).length_m();
            if longest.is_none_or(|(most_m, _)| length_m > most_m) {
                longest = Some((length_m, from.plus(to.minus(from), 0.5)));
            }
        }
    }
    longest.map(|(_, middle)| middle)
}

/// `a` to `z`, then `aa`, `ab` and so on, as sheets number columns.
pub(super) fn letter(index: usize) -> String {
    let last = char::from(b'a' + (index % 26) as u8);
    if index < 26 {
        last.to_string()
    } else {
        format!("{}{last}", letter(index / 26 - 1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_go_on_after_z() {
        let letters = [0, 25, 26, 27, 51, 52, 701, 702].map(letter);
        assert_eq!(letters, ["a", "z", "aa", "ab", "az", "ba", "zz", "aaa"]);
    }

    #[test]
    fn places_of_an_angle_lie_on_it() {
        let ring = [
            (0.0, 0.0),
            (30.0, 0.0),
            (30.0, 2.0),
            (2.0, 2.0),
            (2.0, 30.0),
            (0.0, 30.0),
        ];
        let ring = ring.map(|(x, y)| Xy::new(x, y));
        let spread = Spread::over(&Region::inside_any([ring.as_slice()]));
        let near = |at: Xy| at.x_m <= 2.0 || at.y_m <= 2.0;
        assert!(spread.places().count() > 0 && spread.places().all(near));
    }
}
