//! How the liquid lies, as an image inside a drawing: a pixel a cell, turned with the plane so that it lies on the
//! plan. Six steps of one hue, darker is more: colours of the PuBu schemes of ColorBrewer (M. Harrower and C. A. Brewer,
//! *The Cartographic Journal* 40(1), 2003), those of five classes and the darkest of nine: of its own six classes two are
//! too near each other for readers without red cones (`colours`).

use super::frame::Frame;
use super::{LINE_M, Pen, png};
use crate::geometry::extent::Extent;
use crate::ground::Site;
use crate::site::dose::picture::{DosePicture, STEPS};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use std::fmt::Write;

/// Red, green and blue of the steps, from the least dose on (layout).
pub const STEP_COLOURS: [[u8; 3]; STEPS as usize] = [
    [0xf1, 0xee, 0xf6],
    [0xbd, 0xc9, 0xe1],
    [0x74, 0xa9, 0xcf],
    [0x2b, 0x8c, 0xbe],
    [0x04, 0x5a, 0x8d],
    [0x02, 0x38, 0x58],
];

/// The picture on the site's ground. `title` says its figures in a sentence; it must be fit for XML.
#[must_use]
pub fn dose(site: &Site, picture: &DosePicture, title: &str) -> String {
    let extents = site.zones.iter().map(|zone| zone.region.extent());
    let frame = Frame::around(extents.fold(Extent::NOWHERE, Extent::with), site);
    let mut pen = Pen::on(&frame);
    let [left, top, wide, high] = frame.ground_box();
    let _ = write!(
        pen.svg,
        "<svg class=\"plan dose\" viewBox=\"{left} {top} {wide} {high}\" role=\"img\" style=\"--u:{:.1}px\"><title>{title}</title>",
        frame.unit_dm()
    );
    let grid = &picture.grid;
    let paper = [[0xff; 3]];
    let palette: Vec<[u8; 3]> = paper.into_iter().chain(STEP_COLOURS).collect();
    // The image's top row is the farthest along the plane's y.
    let image = png::indexed((grid.columns, grid.rows), &packed(picture), &palette);
    let matrix = frame.image_matrix(grid.origin, grid.cell_m, grid.rows);
    let matrix = matrix.map(|number| format!("{number:.4}")).join(" ");
    let _ = write!(
        pen.svg,
        "<image width=\"{}\" height=\"{}\" preserveAspectRatio=\"none\" transform=\"matrix({matrix})\" href=\"data:image/png;base64,{}\"/>",
        grid.columns,
        grid.rows,
        STANDARD.encode(image)
    );
    for zone in site.zones.iter().filter(|zone| zone.is_to_treat()) {
        pen.region("l", &zone.region, 0.0, LINE_M);
    }
    pen.svg + "</svg>"
}

/// Two cells a byte, rows from the top, each begun anew.
fn packed(picture: &DosePicture) -> Vec<u8> {
    let rows = picture.cells.chunks(picture.grid.columns.max(1)).rev();
    let pair = |pair: &[u8]| pair[0] << 4 | pair.get(1).copied().unwrap_or(0);
    rows.flat_map(|row| row.chunks(2).map(pair)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::plane::Xy;
    use crate::geometry::raster::Grid;
    use crate::site::dose::picture::{Shares, TENTHS};

    #[test]
    fn cells_are_packed_from_the_top_row_down() {
        let grid = Grid {
            origin: Xy::default(),
            cell_m: 1.0,
            columns: 3,
            rows: 2,
        };
        let picture = DosePicture {
            grid,
            cells: vec![1, 2, 3, 0, 5, 6],
            ends: [0.5, 0.9, 1.1, 1.5, 2.2],
            tenths: [0.0; TENTHS + 1],
            shares: Shares::default(),
        };
        assert_eq!(packed(&picture), [0x05, 0x60, 0x12, 0x30]);
    }
}
