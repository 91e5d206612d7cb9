//! Tables for people: columns as wide as what stands in them.

use crate::text::harmless;

/// Rows of cells, two spaces apart; a column stands to the right where each of its cells, but that of the first row, begins with a
/// digit or is a dash. A cell's width is counted in characters, so that wide ones of East Asian scripts stand a little off.
pub fn table(rows: &[Vec<String>]) -> String {
    let cells: Vec<Vec<String>> = rows.iter().map(|r| r.iter().map(|c| harmless(c).into_owned()).collect()).collect();
    let columns = cells.iter().map(Vec::len).max().unwrap_or(0);
    let width = |k: usize| cells.iter().filter_map(|r| r.get(k)).map(|c| c.chars().count()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let number = |cell: &String| cell == "-" || cell.starts_with(|c: char| c.is_ascii_digit());
    let right = |k: usize| cells.iter().skip(1).filter_map(|r| r.get(k)).all(number);
    let rights: Vec<bool> = (0..columns).map(|k| cells.len() > 1 && right(k)).collect();
    let padded = |(k, cell): (usize, &String)| {
        if rights[k] { format!("{cell:>w$}", w = widths[k]) } else { format!("{cell:<w$}", w = widths[k]) }
    };
    let row = |r: &Vec<String>| r.iter().enumerate().map(padded).collect::<Vec<_>>().join("  ").trim_end().to_string();
    cells.iter().map(row).collect::<Vec<_>>().join("\n")
}

#[cfg(test)]
mod tests {
    #[test]
    fn columns_stand_below_each_other() {
        let rows = [["a", "5 min", "x"], ["long", "25 min", "\u{1b}"]].map(|r| r.map(String::from).to_vec());
        assert_eq!(super::table(&rows), "a      5 min  x\nlong  25 min  \\u{1b}");
        let rows = [["step", "took"], ["mask", "-"], ["toner", "1:05"]].map(|r| r.map(String::from).to_vec());
        assert_eq!(super::table(&rows), "step   took\nmask      -\ntoner  1:05");
    }
}
