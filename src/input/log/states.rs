//! Section states: from the ways loggers write them to one bit for each section.

use crate::input::fleet::{SectionRule, SectionSource};

/// What is known of a boom's sections; bit 0 is the leftmost.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct States {
    /// Sections whose state is known.
    pub(super) known: u64,
    /// Sections that are open.
    pub(super) open: u64,
}

/// How one element or attribute gives states.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Form {
    /// A character for each section.
    Text,
    /// The state of one section, counted from 0 as written.
    One(usize),
    /// States with a separator.
    List(char),
    /// An integer bit field.
    Bits {
        /// Sections in the field.
        count: u32,
        /// Bits for each.
        each: u32,
    },
}

/// Why a text gives no states.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Refusal {
    /// It cannot be understood.
    Unreadable,
    /// It has this many states, more than the rig has sections.
    TooMany(usize),
}

/// The boom that states are read for.
#[derive(Debug, Clone, Copy)]
pub(super) struct Boom {
    /// Number of sections, at most 64.
    pub(super) sections: usize,
    /// The first state as written is the leftmost section.
    pub(super) first_left: bool,
    /// Open and closed are swapped.
    pub(super) invert: bool,
}

impl Boom {
    /// Takes the states in `text` into `states`; those it does not mention stay.
    pub(super) fn take(self, text: &str, form: Form, states: &mut States) -> Result<(), Refusal> {
        let mut new = States::default();
        let count = match form {
            Form::Text => self.all(
                text.chars().filter(|c| !c.is_whitespace()).map(letter),
                &mut new,
            )?,
            Form::List(' ') => self.all(text.split_whitespace().map(word), &mut new)?,
            Form::List(separator) => self.all(text.split(separator).map(word), &mut new)?,
            Form::Bits { count, each } => {
                self.all(field(text, count, each, self.invert)?.into_iter(), &mut new)?
            }
            Form::One(index) => {
                let open = word(text).ok_or(Refusal::Unreadable)?;
                return self.one(index, open, states);
            }
        };
        self.place(count, new, states);
        Ok(())
    }

    fn one(self, index: usize, open: bool, states: &mut States) -> Result<(), Refusal> {
        if index >= self.sections {
            return Err(Refusal::TooMany(index + 1));
        }
        // With one name for each section the mapping gives the order; `first` turns it round.
        let section = if self.first_left {
            index
        } else {
            self.sections - 1 - index
        };
        let bit = 1_u64 << section;
        states.known |= bit;
        if open == self.invert {
            states.open &= !bit
        } else {
            states.open |= bit
        }
        Ok(())
    }

    /// Collects states as written, the first in bit 0; gives their number.
    fn all(
        self,
        found: impl Iterator<Item = Option<bool>>,
        new: &mut States,
    ) -> Result<usize, Refusal> {
        let mut count = 0;
        for state in found {
            let open = state.ok_or(Refusal::Unreadable)?;
            if count < self.sections {
                new.known |= 1 << count;
                new.open |= u64::from(open != self.invert) << count;
            }
            count += 1;
        }
        match count {
            0 => Err(Refusal::Unreadable),
            _ if count > self.sections => Err(Refusal::TooMany(count)),
            _ => Ok(count),
        }
    }

    /// Turns `count` states round if the first is the rightmost, and replaces the old ones.
    fn place(self, count: usize, new: States, states: &mut States) {
        let turn = |bits: u64| {
            if self.first_left {
                bits
            } else {
                bits.reverse_bits() >> (64 - count)
            }
        };
        *states = States {
            known: turn(new.known),
            open: turn(new.open),
        };
    }
}

/// The form and the places of a rule: (element, attribute, form).
pub(super) fn places(rule: &SectionRule) -> Vec<(String, Option<String>, Form)> {
    match &rule.source {
        SectionSource::Text { element, attribute } => {
            vec![(element.clone(), attribute.clone(), Form::Text)]
        }
        SectionSource::List {
            element,
            attribute,
            separator,
        } => {
            vec![(element.clone(), attribute.clone(), Form::List(*separator))]
        }
        SectionSource::Bits {
            element,
            attribute,
            bits,
            bits_per_section,
        } => {
            vec![(
                element.clone(),
                attribute.clone(),
                Form::Bits {
                    count: *bits,
                    each: *bits_per_section,
                },
            )]
        }
        SectionSource::Elements(names) => names
            .iter()
            .enumerate()
            .map(|(index, name)| (name.clone(), None, Form::One(index)))
            .collect(),
        SectionSource::Attributes {
            element,
            attributes,
        } => {
            let one = |(index, name): (usize, &String)| {
                (element.clone(), Some(name.clone()), Form::One(index))
            };
            attributes.iter().enumerate().map(one).collect()
        }
    }
}

fn letter(letter: char) -> Option<bool> {
    match letter {
        '1' => Some(true),
        '0' => Some(false),
        _ => None,
    }
}

/// A state written alone.
pub(super) fn word(text: &str) -> Option<bool> {
    let text = text.trim();
    match text {
        "1" => return Some(true),
        "0" => return Some(false),
        _ => {}
    }
    let is = |known: &[&str]| known.iter().any(|name| text.eq_ignore_ascii_case(name));
    if is(&["true", "on", "open", "yes"]) {
        Some(true)
    } else if is(&["false", "off", "closed", "no"]) {
        Some(false)
    } else {
        None
    }
}

/// The states of a bit field, lowest bits first, in the sense *before* `invert` is applied.
///
/// Of two bits only 01 is open. When inverted 00 is open and 01 closed; 10 (error) and 11 (not
/// there) are closed either way, so they are given as what `invert` will turn into closed.
fn field(text: &str, count: u32, each: u32, invert: bool) -> Result<Vec<Option<bool>>, Refusal> {
    let text = text.trim();
    let hexadecimal = text.strip_prefix("0x").or_else(|| text.strip_prefix("0X"));
    let parsed = match hexadecimal {
        Some(digits) => u64::from_str_radix(digits, 16),
        None => text.parse(),
    };
    let value: u64 = parsed.map_err(|_| Refusal::Unreadable)?;
    let width = count * each;
    if width < 64 && value >> width != 0 {
        return Err(Refusal::TooMany(
            (64 - value.leading_zeros()).div_ceil(each) as usize,
        ));
    }
    let state = |index: u32| match (value >> (index * each)) & ((1 << each) - 1) {
        0 => false,
        1 => true,
        _ => invert,
    };
    Ok((0..count).map(|index| Some(state(index))).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    const BOOM: Boom = Boom {
        sections: 4,
        first_left: true,
        invert: false,
    };

    fn read(boom: Boom, text: &str, form: Form) -> Result<(u64, u64), Refusal> {
        let mut states = States::default();
        boom.take(text, form, &mut states)?;
        Ok((states.known, states.open))
    }

    #[test]
    fn the_first_character_is_the_leftmost_section() {
        assert_eq!(read(BOOM, "1100", Form::Text), Ok((0b1111, 0b0011)));
        assert_eq!(
            read(
                Boom {
                    first_left: false,
                    ..BOOM
                },
                "1100",
                Form::Text
            ),
            Ok((0b1111, 0b1100))
        );
        assert_eq!(
            read(
                Boom {
                    invert: true,
                    ..BOOM
                },
                "1100",
                Form::Text
            ),
            Ok((0b1111, 0b1100))
        );
    }

    #[test]
    fn fewer_states_leave_the_rest_unknown_and_more_are_refused() {
        assert_eq!(read(BOOM, "11", Form::Text), Ok((0b0011, 0b0011)));
        assert_eq!(read(BOOM, "11111", Form::Text), Err(Refusal::TooMany(5)));
        assert_eq!(
            read(BOOM, "1,0,1,0,0", Form::List(',')),
            Err(Refusal::TooMany(5))
        );
        assert_eq!(
            read(BOOM, "31", Form::Bits { count: 4, each: 1 }),
            Err(Refusal::TooMany(5))
        );
    }

    #[test]
    fn lists_take_words() {
        assert_eq!(
            read(BOOM, "on, off,TRUE ,0", Form::List(',')),
            Ok((0b1111, 0b0101))
        );
        assert_eq!(
            read(BOOM, "1 0  1 1", Form::List(' ')),
            Ok((0b1111, 0b1101))
        );
        assert_eq!(read(BOOM, "1,x", Form::List(',')), Err(Refusal::Unreadable));
    }

    #[test]
    fn the_lowest_bit_is_the_leftmost_section() {
        let bits = Form::Bits { count: 4, each: 1 };
        assert_eq!(read(BOOM, "3", bits), Ok((0b1111, 0b0011)));
        assert_eq!(read(BOOM, "0xC", bits), Ok((0b1111, 0b1100)));
        assert_eq!(
            read(
                Boom {
                    first_left: false,
                    ..BOOM
                },
                "3",
                bits
            ),
            Ok((0b1111, 0b1100))
        );
        assert_eq!(
            read(
                Boom {
                    invert: true,
                    ..BOOM
                },
                "3",
                bits
            ),
            Ok((0b1111, 0b1100))
        );
        assert_eq!(read(BOOM, "-1", bits), Err(Refusal::Unreadable));
    }

    #[test]
    fn of_two_bits_only_01_is_open() {
        let bits = Form::Bits { count: 4, each: 2 };
        // Sections from the left: 01 open, 00 closed, 10 error, 11 not there.
        assert_eq!(
            read(BOOM, &0b11_10_00_01.to_string(), bits),
            Ok((0b1111, 0b0001))
        );
        assert_eq!(
            read(
                Boom {
                    invert: true,
                    ..BOOM
                },
                &0b11_10_00_01.to_string(),
                bits
            ),
            Ok((0b1111, 0b0010))
        );
    }

    #[test]
    fn a_full_boom_of_64_fits_one_field() {
        let boom = Boom {
            sections: 64,
            first_left: false,
            invert: false,
        };
        let bits = Form::Bits { count: 64, each: 1 };
        assert_eq!(read(boom, "1", bits), Ok((u64::MAX, 1 << 63)));
    }

    #[test]
    fn single_states_are_taken_one_by_one() {
        let mut states = States::default();
        BOOM.take("open", Form::One(2), &mut states).unwrap();
        BOOM.take("0", Form::One(0), &mut states).unwrap();
        assert_eq!(
            states,
            States {
                known: 0b0101,
                open: 0b0100
            }
        );
        BOOM.take("closed", Form::One(2), &mut states).unwrap();
        assert_eq!(
            states,
            States {
                known: 0b0101,
                open: 0
            }
        );
    }
}
