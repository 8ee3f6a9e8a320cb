//! Every constant that finds or judges stands in one table with the outside fact that it rests on.
use std::collections::BTreeSet;
use std::path::Path;

const TABLE: &str = include_str!("../../assets/constants.md");
const KINDS: [&str; 7] =
    ["datasheet", "handbook", "practice", "physiology", "physics", "format", "judged"];
/// Numbers that need no name: halves, doubles, per cent, units and quantiles of the usual intervals.
const PLAIN: [f64; 12] =
    [0.0, 0.5, 1.0, 2.0, 16.0, 100.0, 360.0, 0.999, 1.96, 0.975, 4096.0, 1023.0];
/// Plain powers of ten that change units, as they are written.
const UNITS: [&str; 3] = ["1e-3", "1e-6", "1e6"];

/// Files that find and judge, with their source as far as it is no test.
fn sources() -> Vec<(String, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut found = Vec::new();
    for layer in ["findings", "segment", "guide"] {
        for entry in std::fs::read_dir(root.join(layer)).expect("a folder") {
            let name = entry.expect("readable").file_name().into_string().expect("UTF-8");
            if ["tests.rs", "built.rs"].contains(&name.as_str()) {
                continue;
            }
            let text = std::fs::read_to_string(root.join(layer).join(&name)).expect("readable");
            let code = text.split("#[cfg(test)]").next().unwrap_or_default().to_owned();
            found.push((format!("{layer}/{name}"), code));
        }
    }
    found
}

/// Constants of a source: name and value, blanks evened out; texts left out.
fn constants(code: &str) -> Vec<(String, String)> {
    let mut found = Vec::new();
    for part in code.split("const ").skip(1) {
        let Some((name, rest)) = part.split_once(": ") else { continue };
        let is_name = |c: char| c.is_ascii_uppercase() || c.is_ascii_digit() || c == '_';
        let Some((kind, value)) = rest.split_once('=') else { continue };
        let Some((value, _)) = value.split_once(';') else { continue };
        if name.chars().all(is_name) && !kind.contains("str") {
            let value = value.split_whitespace().collect::<Vec<_>>().join(" ");
            found.push((name.to_owned(), value));
        }
    }
    found
}

fn rows() -> Vec<Vec<String>> {
    let line = |line: &str| {
        let cells: Vec<String> =
            line.split(" | ").map(|c| c.trim_matches(['|', ' ']).to_owned()).collect();
        (cells.len() == 5 && cells[0].ends_with(".rs")).then_some(cells)
    };
    TABLE.lines().filter_map(line).collect()
}

#[test]
fn the_table_holds_every_constant_with_its_value_and_nothing_else() {
    let table: BTreeSet<String> =
        rows().iter().map(|row| format!("{} {} = {}", row[0], row[1], row[2])).collect();
    let there: BTreeSet<String> = sources()
        .iter()
        .flat_map(|(file, code)| {
            constants(code).into_iter().map(move |(name, value)| format!("{file} {name} = {value}"))
        })
        .collect();
    assert!(there.len() > 100, "{}", there.len());
    let (unlisted, gone): (Vec<_>, Vec<_>) =
        (there.difference(&table).collect(), table.difference(&there).collect());
    assert!(
        unlisted.is_empty() && gone.is_empty(),
        "not listed: {unlisted:#?}\nnot there: {gone:#?}"
    );
}

#[test]
fn every_constant_says_what_it_rests_on() {
    for row in rows() {
        assert!(KINDS.contains(&row[3].as_str()), "{row:?}");
        assert!(row[4].split_whitespace().count() >= 2, "{row:?}");
    }
}

/// A source without comments and texts, line by line as before.
fn without_texts(code: &str) -> String {
    let lines: Vec<&str> = code.lines().map(|l| l.split("//").next().unwrap_or_default()).collect();
    let code = lines.join("\n").replace("\\\"", "").replace("'\"'", "");
    let parts = code.split('"').enumerate();
    let kept = parts.map(|(k, part)| match k % 2 {
        0 => part.to_owned(),
        _ => "\n".repeat(part.matches('\n').count()),
    });
    kept.collect::<Vec<_>>().join("\"\"")
}

/// Decimal numbers in a line of code without texts.
fn decimals(line: &str) -> Vec<&str> {
    let words = line.split(|c: char| !(c.is_ascii_alphanumeric() || ['.', '_', '-'].contains(&c)));
    let number = |word: &&str| {
        let word = word.trim_start_matches('-');
        word.starts_with(|c: char| c.is_ascii_digit())
            && (word.contains('.') && !word.contains("..") || word.contains("e-"))
            && word.parse::<f64>().is_ok()
    };
    words.filter(number).collect()
}

#[test]
fn no_number_judges_without_a_name() {
    let mut found = Vec::new();
    for (file, code) in sources() {
        let mut in_constant = false;
        for (at, line) in without_texts(&code).lines().enumerate() {
            in_constant |= line.contains("const ");
            let unnamed = decimals(line).into_iter().filter(|word| {
                let value = word.parse::<f64>().unwrap_or(f64::NAN).abs();
                !PLAIN.contains(&value) && !UNITS.contains(word)
            });
            if !in_constant {
                found.extend(unnamed.map(|word| format!("{file}:{}: {word}", at + 1)));
            }
            in_constant &= !line.contains(';');
        }
    }
    assert!(found.is_empty(), "name these and list them: {found:#?}");
}
