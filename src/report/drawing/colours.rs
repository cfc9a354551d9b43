//! Colours of drawings as colour-blind readers see them. Simulation: G. M. Machado, M. M. Oliveira and L. A. F.
//! Fernandes, *A Physiologically-based Model for Simulation of Color Vision Deficiency*, IEEE Transactions on
//! Visualization and Computer Graphics 15(6), 2009, its matrices of severity 1.0, on linear RGB. Distance: CIELAB (CIE
//! 15), white D65, by sRGB (IEC 61966-2-1).

use super::{STEP_COLOURS, STYLE, patterns};

type Matrix = [[f64; 3]; 3];

const SEEN: [(&str, Matrix); 4] = [
    (
        "all colours",
        [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
    ),
    (
        "without red cones",
        [
            [0.152_286, 1.052_583, -0.204_868],
            [0.114_503, 0.786_281, 0.099_216],
            [-0.003_882, -0.048_116, 1.051_998],
        ],
    ),
    (
        "without green cones",
        [
            [0.367_322, 0.860_646, -0.227_968],
            [0.280_085, 0.672_501, 0.047_413],
            [-0.011_820, 0.042_940, 0.968_881],
        ],
    ),
    (
        "without blue cones",
        [
            [1.255_528, -0.076_749, -0.178_779],
            [-0.078_411, 0.930_809, 0.147_602],
            [0.004_733, 0.691_367, 0.303_900],
        ],
    ),
];

/// Neighbours stay at least so far apart (layout).
const LEAST_APART: f64 = 10.0;

fn times(matrix: &Matrix, of: [f64; 3]) -> [f64; 3] {
    matrix.map(|row| row.iter().zip(of).map(|(a, b)| a * b).sum())
}

fn linear(colour: [u8; 3]) -> [f64; 3] {
    colour.map(|value| {
        let value = f64::from(value) / 255.0;
        if value <= 0.04045 {
            value / 12.92
        } else {
            ((value + 0.055) / 1.055).powf(2.4)
        }
    })
}

fn lab(linear: [f64; 3]) -> [f64; 3] {
    const XYZ: Matrix = [
        [0.412_456_4, 0.357_576_1, 0.180_437_5],
        [0.212_672_9, 0.715_152_2, 0.072_175_0],
        [0.019_333_9, 0.119_192_0, 0.950_304_1],
    ];
    /// White of sRGB (D65) in CIE XYZ (published: IEC 61966-2-1).
    const WHITE: [f64; 3] = [0.950_47, 1.0, 1.088_83];
    let xyz = times(&XYZ, linear.map(|value| value.clamp(0.0, 1.0)));
    let [x, y, z] = [0, 1, 2].map(|axis| {
        let share = xyz[axis] / WHITE[axis];
        let cut = 6.0_f64 / 29.0;
        if share > cut.powi(3) {
            share.cbrt()
        } else {
            share / (3.0 * cut * cut) + 4.0 / 29.0
        }
    });
    [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
}

fn apart(a: [u8; 3], b: [u8; 3], seen: &Matrix) -> f64 {
    let [a, b] = [a, b].map(|colour| lab(times(seen, linear(colour))));
    a.iter()
        .zip(b)
        .map(|(a, b)| (a - b).powi(2))
        .sum::<f64>()
        .sqrt()
}

/// WCAG 2.1's contrast ratio.
fn contrast(a: [u8; 3], b: [u8; 3]) -> f64 {
    let light = |colour: [u8; 3]| {
        let [r, g, b] = linear(colour);
        0.2126 * r + 0.7152 * g + 0.0722 * b + 0.05
    };
    let (a, b) = (light(a), light(b));
    a.max(b) / a.min(b)
}

fn hex(text: &str) -> [u8; 3] {
    let digits: Vec<char> = text.chars().take_while(char::is_ascii_hexdigit).collect();
    let wide: String = match digits.len() {
        3 => digits.iter().flat_map(|digit| [*digit; 2]).collect(),
        _ => digits[..6].iter().collect(),
    };
    [0, 2, 4].map(|at| u8::from_str_radix(&wide[at..at + 2], 16).expect("a colour"))
}

/// The first colour after a place in the style sheet, or in the pattern of a class.
fn colour(class: &str) -> [u8; 3] {
    let pattern = patterns::PATTERNS.iter().find(|(name, ..)| *name == class);
    let text = match (pattern, class) {
        (Some((.., inside)), _) => *inside,
        (None, "paper") => "#fff",
        (None, class) => STYLE.split(&format!(".{class}{{")).nth(1).expect("a rule"),
    };
    hex(text.split('#').nth(1).expect("a colour"))
}

/// Marks and what they lie on or beside.
const NEIGHBOURS: [(&str, &str); 13] = [
    ("t", "paper"),
    ("p", "paper"),
    ("p", "t"),
    ("o", "t"),
    ("o", "paper"),
    ("u", "paper"),
    ("u", "t"),
    ("u", "p"),
    ("k", "paper"),
    ("b", "paper"),
    ("h", "paper"),
    ("a", "t"),
    ("l", "t"),
];

#[test]
fn neighbours_stay_apart_however_colours_are_seen() {
    for (name, seen) in &SEEN {
        for (a, b) in NEIGHBOURS {
            let apart = apart(colour(a), colour(b), seen);
            assert!(apart >= LEAST_APART, "{a} and {b} {name}: {apart:.1}");
        }
        for pair in STEP_COLOURS.windows(2) {
            let apart = apart(pair[0], pair[1], seen);
            assert!(apart >= LEAST_APART, "{pair:?} {name}: {apart:.1}");
        }
    }
}

/// The tint alone carries no meaning: it need not.
#[test]
fn marks_that_carry_meaning_stand_out_from_paper() {
    for class in ["p", "q", "o", "u", "k", "b", "h", "l", "n", "a"] {
        let contrast = contrast(colour(class), [0xff; 3]);
        assert!(contrast >= 3.0, "{class}: {contrast:.2}");
    }
}

/// Published values: sRGB red in CIELAB, D65; black on white.
#[test]
fn the_measures_are_right() {
    let red = lab(linear([0xff, 0, 0]));
    let want = [53.24, 80.09, 67.20];
    assert!(
        red.iter().zip(want).all(|(a, b)| (a - b).abs() < 0.02),
        "{red:?}"
    );
    assert!((contrast([0; 3], [0xff; 3]) - 21.0).abs() < 1e-9);
    for (_, seen) in &SEEN {
        let white = times(seen, [1.0; 3]);
        assert!(
            white.iter().all(|value| (value - 1.0).abs() < 1e-5),
            "{white:?}"
        );
    }
}
