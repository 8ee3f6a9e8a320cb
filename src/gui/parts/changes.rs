//! What differs between two texts, line by line.

/// What became of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Change {
    /// It stands in the old text alone.
    Gone,
    /// It stands in the new text alone.
    New,
}

/// Lines of either text compared at most; longer differing middles count as replaced whole.
const MOST: usize = 2_000;

/// The lines that differ, in order: those that went, then those that came in their place.
///
/// The longest common subsequence of lines stays. Cost: lines of one differing middle times those
/// of the other, at most 4 million steps.
pub fn changed_lines<'a>(old: &'a str, new: &'a str) -> Vec<(Change, &'a str)> {
    let (old, new): (Vec<&str>, Vec<&str>) = (old.lines().collect(), new.lines().collect());
    let head = old.iter().zip(&new).take_while(|(a, b)| a == b).count();
    let (old, new) = (&old[head..], &new[head..]);
    let tail = old.iter().rev().zip(new.iter().rev()).take_while(|(a, b)| a == b).count();
    let (old, new) = (&old[..old.len() - tail], &new[..new.len() - tail]);
    if old.len() > MOST || new.len() > MOST {
        let gone = old.iter().map(|line| (Change::Gone, *line));
        return gone.chain(new.iter().map(|line| (Change::New, *line))).collect();
    }
    // common[i][j]: lines that old[i..] and new[j..] have in common, row by row.
    let width = new.len() + 1;
    let mut common = vec![0_u16; (old.len() + 1) * width];
    for i in (0..old.len()).rev() {
        for j in (0..new.len()).rev() {
            common[i * width + j] = if old[i] == new[j] {
                common[(i + 1) * width + j + 1] + 1
            } else {
                common[(i + 1) * width + j].max(common[i * width + j + 1])
            };
        }
    }
    let (mut i, mut j) = (0, 0);
    let mut changes = Vec::new();
    while i < old.len() || j < new.len() {
        if i < old.len() && j < new.len() && old[i] == new[j] {
            (i, j) = (i + 1, j + 1);
        } else if j == new.len()
            || (i < old.len() && common[(i + 1) * width + j] >= common[i * width + j + 1])
        {
            changes.push((Change::Gone, old[i]));
            i += 1;
        } else {
            changes.push((Change::New, new[j]));
            j += 1;
        }
    }
    changes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_differs_is_told() {
        assert_eq!(changed_lines("a\nb\nc", "a\nb\nc"), []);
        let changes = changed_lines("a\nx 1\nb\nc", "a\nx 2\nb\nd\nc");
        assert_eq!(changes, [(Change::Gone, "x 1"), (Change::New, "x 2"), (Change::New, "d")]);
        assert_eq!(changed_lines("", "a"), [(Change::New, "a")]);
        assert_eq!(changed_lines("a", ""), [(Change::Gone, "a")]);
    }

    #[test]
    fn a_line_that_moved_is_told_once_as_gone_and_once_as_new() {
        let changes = changed_lines("1\n2\n3\n4", "2\n3\n1\n4");
        assert_eq!(changes, [(Change::Gone, "1"), (Change::New, "1")]);
    }
}
