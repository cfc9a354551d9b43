//! Sequences of strips joined into rings: two corners a boom position instead of four.
//!
//! As long as a run of sections stays the same and each strip begins where the last one ended, strips
//! join into one ring, left ends back after right ends out; the ring's winding over any spot is the
//! number of its strips there. A strip whose sides cross (an inner end that runs backwards) stands
//! alone, cut into pieces that wind the right way: joined, its negative loop would cancel ground of
//! its neighbours. So does a strip after a step that was left out as parked.

use super::quad::Quad;
use super::{Between, IdleRing, Laid, PassRings, Recorded, Strips};
use crate::geometry::plane::Xy;
use crate::site::leg::LegSpan;
use std::ops::Range;

/// A strip begins where a ring ends when both its corners are this near, m: far over the rounding of a computed
/// position, far under anything that matters (tolerance).
const SAME_PLACE_M: f64 = 1e-6;

/// Rings that laid nothing are ended after so many steps: only those near a gap are looked at again (limit).
const IDLE_STEPS: usize = 12;

/// Rings that are still growing.
pub(super) struct Outlines {
    open: Vec<Open>,
    record: bool,
}

/// One growing ring.
struct Open {
    sections: (usize, usize),
    laid: Laid,
    direction: i8,
    steps: Range<usize>,
    left: Vec<Xy>,
    right: Vec<Xy>,
    /// Grew in the present sub-step.
    grew: bool,
}

impl Outlines {
    /// None yet. `record` keeps every wet strip by itself as well.
    pub(super) fn new(record: bool) -> Self {
        Self {
            open: Vec::new(),
            record,
        }
    }

    /// Adds the strips between two boom positions.
    pub(super) fn advance(&mut self, between: &Between, span: &LegSpan, strips: &mut Strips) {
        for (first, end, laid) in between.runs(span) {
            let quad = between.quad(first, end);
            let direction = quad.direction();
            if let (true, Laid::Wet(pass)) = (self.record, laid) {
                let pieces = quad.split().unwrap_or_default();
                strips
                    .recorded
                    .extend(pieces.iter().map(|(ground, _)| Recorded {
                        pass,
                        ground: *ground,
                    }));
            }
            if direction == 0 {
                for (piece, _) in quad.split().unwrap_or_default() {
                    let steps = between.step..between.step + 1;
                    let ring = piece.corners().to_vec();
                    put(strips, (first, end), laid, steps, ring);
                }
                continue;
            }
            let joins = |open: &&mut Open| {
                open.sections == (first, end)
                    && open.laid == laid
                    && open.direction == direction
                    && !open.grew
                    && open.ends_at(&quad)
                    && (matches!(laid, Laid::Wet(_)) || open.steps.len() < IDLE_STEPS)
            };
            if let Some(open) = self.open.iter_mut().find(joins) {
                open.grow(&quad, between.step);
            } else {
                self.open.push(Open {
                    sections: (first, end),
                    laid,
                    direction,
                    steps: between.step..between.step + 1,
                    left: vec![quad.old_left, quad.new_left],
                    right: vec![quad.old_right, quad.new_right],
                    grew: true,
                });
            }
        }
        self.close(strips, |open| !open.grew);
        self.open.iter_mut().for_each(|open| open.grew = false);
    }

    /// Ends all rings.
    pub(super) fn close_all(&mut self, strips: &mut Strips) {
        self.close(strips, |_| true);
    }

    fn close(&mut self, strips: &mut Strips, ends: impl Fn(&Open) -> bool) {
        let mut k = 0;
        while k < self.open.len() {
            if ends(&self.open[k]) {
                let open = self.open.remove(k);
                let (sections, steps) = (open.sections, open.steps.clone());
                put(strips, sections, open.laid, steps, open.ring());
            } else {
                k += 1;
            }
        }
    }
}

impl Open {
    /// The strip begins at the ring's last boom position.
    fn ends_at(&self, quad: &Quad) -> bool {
        let same = |corners: &[Xy], corner: Xy| {
            corners
                .last()
                .is_some_and(|last| last.minus(corner).length_m() < SAME_PLACE_M)
        };
        same(&self.left, quad.old_left) && same(&self.right, quad.old_right)
    }

    fn grow(&mut self, quad: &Quad, step: usize) {
        self.steps.end = step + 1;
        self.left.push(quad.new_left);
        self.right.push(quad.new_right);
        self.grew = true;
    }

    fn ring(self) -> Vec<Xy> {
        let (out, mut back) = if self.direction > 0 {
            (self.right, self.left)
        } else {
            (self.left, self.right)
        };
        back.reverse();
        let mut ring = out;
        ring.append(&mut back);
        ring
    }
}

/// Files a ring under what it laid.
fn put(
    strips: &mut Strips,
    (first, end): (usize, usize),
    laid: Laid,
    steps: Range<usize>,
    ring: Vec<Xy>,
) {
    match laid {
        Laid::Wet(pass) => match strips
            .passes
            .iter_mut()
            .rev()
            .find(|rings| rings.pass == pass)
        {
            Some(rings) => {
                rings.steps = rings.steps.start.min(steps.start)..rings.steps.end.max(steps.end);
                rings.rings.push(ring);
            }
            None => strips.passes.push(PassRings {
                pass,
                steps,
                rings: vec![ring],
            }),
        },
        Laid::Idle(idle) => strips.idle.push(IdleRing {
            steps,
            idle,
            sections: (first..end).fold(0, |sections, section| sections | 1 << section),
            ring,
        }),
    }
}
