//! How the liquid of an application lies: the picture, a histogram by tenths of the target, and the shares in words.

use crate::notation::numbers::percent;
use crate::report::drawing::{self, STEP_COLOURS};
use crate::site::dose::picture::{DosePicture, TENTHS, ends};
use std::fmt::Write;

/// Size of the histogram, in units that are a pixel on a phone (layout).
const WIDTH: f64 = 330.0;
/// Height of its tallest bar (layout).
const TALL: f64 = 100.0;
/// Left of the first bar, and right of the last (layout).
const MARGIN: f64 = 12.0;
/// Foot of the bars (layout).
const FOOT: f64 = 118.0;

/// What a page shows of a dose.
#[derive(Debug, Clone)]
pub struct DoseSheet {
    /// The picture, an SVG element.
    pub(super) picture: String,
    /// The histogram, an SVG element.
    pub(super) histogram: String,
    /// Shares of the ground.
    pub(super) words: String,
}

/// The sheet of a dose. `name` says of what.
#[must_use]
pub(super) fn sheet(
    site: &crate::ground::Site,
    picture: &DosePicture,
    name: &str,
    band: f64,
) -> DoseSheet {
    let words = words(picture, band);
    let title = drawing::escaped(&format!("Dose on {name}. {words}"));
    DoseSheet {
        picture: drawing::dose(site, picture, &title),
        histogram: histogram(picture, band),
        words,
    }
}

fn words(picture: &DosePicture, band: f64) -> String {
    let of = picture.shares;
    let mut words = format!(
        "Of the ground {} lies under the band ({} either way of the target), {} within it, {} over it",
        percent(of.under),
        percent(band),
        percent(of.within),
        percent(of.over)
    );
    if of.unknown > 0.0 {
        let _ = write!(words, "; the log is silent on {}", percent(of.unknown));
    }
    words + "."
}

/// The steps of a picture: their colours and what they stand for.
pub(super) fn steps(band: f64) -> Vec<(String, String)> {
    let [half, low, high, more, twice] = ends(band).map(percent);
    let words = [
        format!("under {half} of the target"),
        format!("{half} to {low}"),
        format!("{low} to {high}: within the band"),
        format!("{high} to {more}"),
        format!("{more} to {twice}"),
        format!("over {twice}"),
    ];
    let colours = STEP_COLOURS.map(|[red, green, blue]| format!("#{red:02x}{green:02x}{blue:02x}"));
    colours.into_iter().zip(words).collect()
}

/// Bars by tenths of the target, the last one for all beyond three times it.
fn histogram(picture: &DosePicture, band: f64) -> String {
    let bar = (WIDTH - 2.0 * MARGIN) / (TENTHS + 1) as f64;
    let x = |of_target: f64| MARGIN + 10.0 * of_target * bar;
    let most = picture.tenths.iter().copied().fold(0.0, f64::max);
    let fullest = picture
        .tenths
        .iter()
        .position(|share| *share >= most)
        .unwrap_or(0);
    let mut svg = format!(
        "<svg class=\"chart\" viewBox=\"0 0 {WIDTH} 150\" role=\"img\"><title>{}</title>",
        drawing::escaped(&title(fullest, most))
    );
    let _ = write!(
        svg,
        "<rect class=\"band\" x=\"{:.1}\" y=\"{}\" width=\"{:.1}\" height=\"{}\"/><path class=\"want\" d=\"M{:.1} 8V{FOOT}\"/>",
        x((1.0 - band).max(0.0)),
        FOOT - TALL - 6.0,
        x(1.0 + band) - x((1.0 - band).max(0.0)),
        TALL + 6.0,
        x(1.0)
    );
    let mut bars = String::new();
    for (index, share) in picture.tenths.iter().enumerate() {
        let height = if most > 0.0 { share / most * TALL } else { 0.0 };
        if height >= 0.05 {
            let left = MARGIN + index as f64 * bar;
            let _ = write!(
                bars,
                "M{left:.1} {FOOT}v-{height:.1}h{:.1}v{height:.1}",
                bar - 1.0
            );
        }
    }
    let _ = write!(
        svg,
        "<path class=\"bars\" d=\"{bars}\"/><path class=\"axis\" d=\"M{MARGIN} {FOOT}H{}\"/>",
        WIDTH - MARGIN
    );
    for (at, label) in [(0.0, "0"), (1.0, "target"), (2.0, "twice"), (3.0, "3 x +")] {
        let _ = write!(
            svg,
            "<text x=\"{:.1}\" y=\"{}\" text-anchor=\"middle\">{label}</text>",
            (x(at) + if at > 2.5 { bar / 2.0 } else { 0.0 }).min(WIDTH - 2.0 * MARGIN),
            FOOT + 15.0
        );
    }
    let _ = write!(
        svg,
        "<text x=\"{:.1}\" y=\"10\">tallest bar: {}</text></svg>",
        x(1.0 + band) + 4.0,
        percent(most)
    );
    svg
}

fn title(fullest: usize, share: f64) -> String {
    let share = percent(share);
    let tenth = |index: usize| percent(index as f64 / 10.0);
    if fullest >= TENTHS {
        return format!(
            "Ground by tenths of the target: most of it, {share}, got over three times the target."
        );
    }
    format!(
        "Ground by tenths of the target: the greatest share, {share}, got {} to {} of the target.",
        tenth(fullest),
        tenth(fullest + 1)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::plane::Xy;
    use crate::geometry::raster::Grid;
    use crate::site::dose::picture::Shares;

    fn picture() -> DosePicture {
        let mut tenths = [0.0; TENTHS + 1];
        (tenths[9], tenths[10], tenths[20]) = (0.25, 0.5, 0.25);
        DosePicture {
            grid: Grid {
                origin: Xy::default(),
                cell_m: 1.0,
                columns: 1,
                rows: 1,
            },
            cells: vec![3],
            ends: ends(0.1),
            tenths,
            shares: Shares {
                under: 0.0,
                within: 0.7,
                over: 0.2,
                unknown: 0.1,
            },
        }
    }

    #[test]
    fn bars_stand_at_their_tenth_and_have_their_share_of_the_tallest() {
        let svg = histogram(&picture(), 0.1);
        let bar = (WIDTH - 2.0 * MARGIN) / 31.0;
        let at =
            |index: f64, height: &str| format!("M{:.1} {FOOT}v-{height}h", MARGIN + index * bar);
        assert!(svg.contains(&at(10.0, "100.0")), "{svg}");
        assert!(
            svg.contains(&at(9.0, "50.0")) && svg.contains(&at(20.0, "50.0")),
            "{svg}"
        );
        assert!(svg.contains("50 %, got 100 % to 110 % of the target"));
    }

    #[test]
    fn shares_are_said_in_words() {
        assert_eq!(
            words(&picture(), 0.1),
            "Of the ground 0 % lies under the band (10 % either way of the target), 70 % within it, 20 % over it; the log is silent on 10 %."
        );
        assert_eq!(steps(0.1)[2].1, "90 % to 110 %: within the band");
    }
}
