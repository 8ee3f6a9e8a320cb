//! Reading the published figures that the tests compare with.
use serde_json::Value;

/// A JSON file of `tests/record/data`.
pub fn json(name: &str) -> Value {
    serde_json::from_str(&text(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
}

/// A text file of `tests/record/data`.
pub fn text(name: &str) -> String {
    let path = format!("{}/tests/record/data/{name}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{path}: {e}"))
}

/// Columns of numbers of a CSV file with one heading line.
pub fn columns(name: &str) -> Vec<Vec<f64>> {
    let text = text(name);
    let rows = text.lines().skip(1).filter(|l| !l.trim().is_empty());
    let mut columns: Vec<Vec<f64>> = Vec::new();
    for row in rows {
        for (k, field) in row.split(',').enumerate() {
            if columns.len() <= k {
                columns.push(Vec::new());
            }
            columns[k]
                .push(field.trim().parse().unwrap_or_else(|e| panic!("{name}: {field}: {e}")));
        }
    }
    columns
}

/// A number, written as such or as text.
pub fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .or_else(|| value.as_str().and_then(|s| s.parse().ok()))
        .unwrap_or_else(|| panic!("no number: {value}"))
}

/// Numbers of an array.
pub fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap_or_else(|| panic!("no array: {value}")).iter().map(number).collect()
}

/// Points of an array of pairs.
pub fn points(value: &Value) -> Vec<[f64; 2]> {
    let pairs = value.as_array().unwrap_or_else(|| panic!("no array: {value}"));
    pairs.iter().map(|p| [number(&p[0]), number(&p[1])]).collect()
}

/// The case with this id.
pub fn case<'a>(cases: &'a Value, id: &str) -> &'a Value {
    let cases = cases.as_array().unwrap_or_else(|| panic!("no array of cases"));
    cases.iter().find(|c| c["id"] == id).unwrap_or_else(|| panic!("no case {id}"))
}

/// Asserts agreement within an absolute difference.
#[track_caller]
pub fn near(got: f64, want: f64, within: f64) {
    assert!((got - want).abs() <= within, "got {got}, want {want} within {within}");
}

/// Asserts agreement within a share of the wanted value.
#[track_caller]
pub fn alike(got: f64, want: f64, share: f64) {
    near(got, want, share * want.abs());
}
