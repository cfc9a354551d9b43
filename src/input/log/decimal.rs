//! Numbers as loggers write them.

/// Most digits that are taken here: a whole number of them stays under 2^53 (limit).
const MOST_DIGITS: usize = 15;
/// Powers of ten that are exact (arithmetic).
const POWERS: [f64; MOST_DIGITS + 1] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
];

/// The number nearest to a text, as `str::parse` gives it; `None` if it is none.
///
/// Short decimals, as nearly all are, do without the general parser: their digits are a whole number under 2^53 and
/// their power of ten is exact, so that the one rounding of the division gives the nearest number
/// (W. D. Clinger, "How to read floating point numbers accurately", PLDI 1990, doi:10.1145/93542.93557).
#[inline]
pub(super) fn number(text: &str) -> Option<f64> {
    short(text).or_else(|| text.parse().ok())
}

/// Digits with a point or without, signed or not.
#[inline]
fn short(text: &str) -> Option<f64> {
    let (digits, is_negative) = match text.as_bytes() {
        [b'-', digits @ ..] => (digits, true),
        digits => (digits, false),
    };
    // With the point.
    if digits.len() > MOST_DIGITS + 1 {
        return None;
    }
    let (mut whole, mut count, mut point) = (0_u64, 0, None);
    for &byte in digits {
        match byte {
            b'0'..=b'9' => {
                whole = whole * 10 + u64::from(byte - b'0');
                count += 1;
            }
            b'.' if point.is_none() => point = Some(count),
            _ => return None,
        }
    }
    if count == 0 || count > MOST_DIGITS {
        return None;
    }
    let value = whole as f64 / POWERS[count - point.unwrap_or(count)];
    Some(if is_negative { -value } else { value })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig {
            cases: 20_000,
            rng_seed: proptest::test_runner::RngSeed::Fixed(1),
            failure_persistence: None,
            ..ProptestConfig::default()
        })]

        /// Against the standard library's parser, bit for bit, signed zeros too.
        #[test]
        fn any_short_text_is_the_number_that_the_general_parser_reads(text in "[-+]?[0-9]{0,9}[.]?[0-9]{0,9}[-.e]?[0-9]?") {
            let expected = text.parse::<f64>().ok().map(f64::to_bits);
            prop_assert_eq!(number(&text).map(f64::to_bits), expected, "{}", text);
        }
    }

    #[test]
    fn short_decimals_do_without_the_general_parser() {
        for text in [
            "45.1234567",
            "-30.0000001",
            "0",
            "-0",
            "5.",
            ".5",
            "999999999999999",
        ] {
            assert!(short(text).is_some(), "{text}");
        }
        for text in [
            "",
            "-",
            ".",
            "-.",
            "1e3",
            "inf",
            "nan",
            "+1",
            "1.2.3",
            "1234567890123456",
        ] {
            assert!(short(text).is_none(), "{text}");
        }
    }
}
