//! Text laid out in columns and lines of a given width, counted in terminal cells.

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

/// Between two columns.
const GUTTER: &str = "  ";
/// Stands for what was cut off.
const CUT: char = '\u{2026}';
/// A name column is not squeezed below this (layout).
const LEAST_NAME_WIDTH: usize = 6;

/// One line of a table.
#[derive(Debug, Clone)]
pub(crate) enum Row {
    /// A cell for each column.
    Cells(Vec<String>),
    /// Two names, then a remark over all other columns.
    Remark([String; 2], String),
}

/// A table whose first two columns hold names, left-aligned and shortened to fit; all others hold
/// numbers, right-aligned and never shortened.
#[derive(Debug, Clone)]
pub(crate) struct Table {
    pub(crate) headings: Vec<&'static str>,
    pub(crate) rows: Vec<Row>,
}

impl Table {
    /// The table's lines. `width` holds as long as the numbers leave the names some room.
    pub(crate) fn lines(&self, width: usize) -> Vec<String> {
        let widths = self.widths(width);
        let headings: Vec<String> = self
            .headings
            .iter()
            .map(|heading| (*heading).to_owned())
            .collect();
        let mut lines = vec![line(&headings, &widths)];
        lines.push("-".repeat(lines[0].width().max(1)));
        lines.extend(self.rows.iter().map(|row| match row {
            Row::Cells(cells) => line(cells, &widths),
            Row::Remark(names, remark) => {
                let names = line(names, &widths);
                let room = width.saturating_sub(names.width() + GUTTER.len());
                format!("{names}{GUTTER}{}", shorten(remark, room))
            }
        }));
        lines
            .iter()
            .map(|line| line.trim_end().to_owned())
            .collect()
    }

    fn widths(&self, width: usize) -> Vec<usize> {
        let mut widths: Vec<usize> = self
            .headings
            .iter()
            .map(|heading| heading.width())
            .collect();
        for row in &self.rows {
            let cells: &[String] = match row {
                Row::Cells(cells) => cells,
                Row::Remark(names, _) => names,
            };
            for (column, cell) in widths.iter_mut().zip(cells) {
                *column = (*column).max(cell.width());
            }
        }
        let numbers: usize = widths[2..].iter().sum();
        let room = width.saturating_sub(numbers + GUTTER.len() * (widths.len() - 1));
        (widths[0], widths[1]) = squeeze(widths[0], widths[1], room);
        widths
    }
}

/// Widths of the two names in the room there is: the one that needs less than half keeps what it
/// needs, the other gets the rest.
fn squeeze(first: usize, second: usize, room: usize) -> (usize, usize) {
    if first + second <= room {
        return (first, second);
    }
    let half = room / 2;
    let (given_first, given_second) = if second <= half {
        (room - second, second)
    } else if first <= half {
        (first, room - first)
    } else {
        (room - half, half)
    };
    let at_least = |given: usize, needed: usize| given.max(needed.min(LEAST_NAME_WIDTH));
    (at_least(given_first, first), at_least(given_second, second))
}

fn line(cells: &[String], widths: &[usize]) -> String {
    let mut parts = Vec::with_capacity(cells.len());
    for (column, (cell, &width)) in cells.iter().zip(widths).enumerate() {
        let is_name = column < 2;
        let cell = if is_name {
            shorten(cell, width)
        } else {
            cell.clone()
        };
        let space = " ".repeat(width.saturating_sub(cell.width()));
        parts.push(if is_name {
            cell + &space
        } else {
            space + &cell
        });
    }
    parts.join(GUTTER)
}

/// `text` in at most `width` cells, its end replaced by `…` where it does not fit.
pub(crate) fn shorten(text: &str, width: usize) -> String {
    if text.width() <= width {
        return text.to_owned();
    }
    let mut out = String::new();
    let mut used = 0;
    for c in text.chars() {
        used += c.width().unwrap_or(0);
        if used + 1 > width {
            break;
        }
        out.push(c);
    }
    out.push(CUT);
    out
}

/// `text` broken at spaces into lines of at most `width` cells; the first line starts with `lead`,
/// the others are indented by as much. A word longer than a line is broken inside.
pub(crate) fn wrap(lead: &str, text: &str, width: usize) -> Vec<String> {
    let indent = " ".repeat(lead.width());
    // A line must hold at least one wide character, or nothing would ever fit.
    let room = width.saturating_sub(lead.width()).max(2);
    let mut lines = Vec::new();
    let mut current = String::new();
    for word in unbreakable(text).iter().flat_map(|word| broken(word, room)) {
        if !current.is_empty() && current.width() + 1 + word.width() > room {
            lines.push(std::mem::take(&mut current));
        }
        if !current.is_empty() {
            current.push(' ');
        }
        current.push_str(&word);
    }
    lines.push(current);
    let start = |index: usize| if index == 0 { lead } else { &indent };
    lines
        .iter()
        .enumerate()
        .map(|(index, line)| format!("{}{line}", start(index)))
        .collect()
}

/// Units that stay on the line of their number.
const UNITS: [&str; 14] = [
    "%", "gal", "L", "ft", "ft2", "m", "m2", "s", "min", "h", "ac", "ha", "mi", "km",
];

/// The words of a text, a number and its unit taken as one.
fn unbreakable(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let is_unit = UNITS.contains(&word.trim_end_matches([',', '.', ';', ':', ')']));
        match words
            .last_mut()
            .filter(|last| is_unit && last.ends_with(|c: char| c.is_ascii_digit()))
        {
            Some(number) => {
                number.push(' ');
                number.push_str(word);
            }
            None => words.push(word.to_owned()),
        }
    }
    words
}

/// A word in pieces of at most `width` cells.
fn broken(word: &str, width: usize) -> Vec<String> {
    let mut pieces = vec![String::new()];
    let mut used = 0;
    for c in word.chars() {
        let cells = c.width().unwrap_or(0);
        if used + cells > width {
            pieces.push(String::new());
            used = 0;
        }
        used += cells;
        if let Some(last) = pieces.last_mut() {
            last.push(c);
        }
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_shortened_and_numbers_are_not() {
        let cells = ["a very long site name", "zone", "1,234,567"]
            .map(str::to_owned)
            .to_vec();
        let table = Table {
            headings: vec!["site", "zone", "area"],
            rows: vec![Row::Cells(cells)],
        };
        assert_eq!(
            table.lines(28),
            [
                "site         zone       area",
                "----------------------------",
                "a very lon\u{2026}  zone  1,234,567",
            ]
        );
    }

    #[test]
    fn wide_characters_take_two_cells() {
        assert_eq!(
            shorten("\u{5009}\u{5eab}\u{5009}", 5),
            "\u{5009}\u{5eab}\u{2026}"
        );
        assert_eq!(shorten("\u{5009}\u{5eab}", 4), "\u{5009}\u{5eab}");
    }

    #[test]
    fn long_text_is_broken_at_spaces_and_long_words_inside() {
        assert_eq!(wrap("1. ", "one two three", 10), ["1. one two", "   three"]);
        assert_eq!(wrap("", "abcdefgh", 3), ["abc", "def", "gh"]);
        assert_eq!(wrap("x ", "", 10), ["x "]);
        assert_eq!(
            wrap("", "limit 25 %; 3 of 7", 9),
            ["limit", "25 %; 3", "of 7"]
        );
    }
}
