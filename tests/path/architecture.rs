//! Who may use whom, where words may stand, how long files may be: checked on the sources.
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// Each module and what it may use. A row that is missing here is a failure.
const MAY_USE: &[(&str, &str)] = &[
    ("units", ""),
    ("work", ""),
    ("limits", "units"),
    ("rig", "units limits"),
    ("wire", "rig"),
    ("link", "units rig"),
    ("virtual_board", "units rig wire link"),
    ("source", "units rig wire link virtual_board session work"),
    ("session", "units rig wire work"),
    ("segment", "units rig session measure"),
    ("measure", "units"),
    ("survey", "units rig limits session segment measure"),
    ("findings", "units rig limits session segment measure survey"),
    ("trim", "units rig limits segment measure survey"),
    ("proof", "units rig limits wire session segment measure survey findings trim"),
    ("guide", "units rig session segment measure survey trim"),
    ("emit", "units work rig limits wire session segment measure survey findings trim proof guide"),
    (
        "desk",
        "units work rig limits wire link virtual_board source session segment measure survey \
         findings trim proof guide emit",
    ),
    (
        "cli",
        "units work rig limits wire link source session segment measure survey findings trim \
         proof guide emit desk",
    ),
    (
        "gui",
        "units rig limits wire link source session segment measure survey findings trim proof \
         guide emit desk",
    ),
];

/// Longest file allowed, in lines.
const LONGEST_FILE: usize = 500;

struct Source {
    path: PathBuf,
    module: String,
    /// The text before the file's own tests.
    body: String,
    lines: usize,
    first: String,
}

fn sources() -> Vec<Source> {
    below("src")
}

fn below(folder: &str) -> Vec<Source> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let mut found = Vec::new();
    let mut folders = vec![root.clone()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).expect("a folder of sources") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == "rs") {
                found.push(read_source(&root, &path));
            }
        }
    }
    found.sort_by(|a, b| a.path.cmp(&b.path));
    assert!(found.len() > 20, "only {} sources found", found.len());
    found
}

fn read_source(root: &Path, path: &Path) -> Source {
    let text = fs::read_to_string(path).expect("readable source");
    let relative = path.strip_prefix(root).expect("below src").to_owned();
    let module = relative
        .components()
        .next()
        .map(|c| c.as_os_str().to_string_lossy().trim_end_matches(".rs").to_owned())
        .expect("a first component");
    let code: String = text
        .lines()
        .filter(|line| !line.trim_start().starts_with("//"))
        .map(|line| format!("{line}\n"))
        .collect();
    // A file of tests alone has no body; neither has what stands behind the tests of a file.
    let tests_alone = path.file_name().is_some_and(|name| name == "tests.rs");
    let code = if tests_alone { String::new() } else { code };
    let body = code.split("#[cfg(test)]\nmod tests").next().unwrap_or_default().to_owned();
    let first = text.lines().next().unwrap_or_default().to_owned();
    Source { path: relative, module, body, lines: text.lines().count(), first }
}

/// The top-level modules named behind `crate::` in a piece of code, lists in braces included.
fn modules_used(code: &str) -> BTreeSet<String> {
    let mut used = BTreeSet::new();
    for rest in code.split("crate::").skip(1) {
        if let Some(list) = rest.strip_prefix('{') {
            let mut depth = 1;
            let mut names = String::new();
            for c in list.chars() {
                depth += i32::from(c == '{') - i32::from(c == '}');
                if depth == 0 {
                    break;
                }
                if depth == 1 && c != '}' {
                    names.push(c);
                }
            }
            used.extend(names.split(',').map(first_name).filter(|n| !n.is_empty()));
        } else {
            used.insert(first_name(rest));
        }
    }
    used
}

fn first_name(text: &str) -> String {
    text.trim().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect()
}

#[test]
fn arrows_point_one_way() {
    let mut breaches = Vec::new();
    for source in sources() {
        if ["lib", "main"].contains(&source.module.as_str()) {
            continue;
        }
        let row = MAY_USE.iter().find(|(name, _)| *name == source.module);
        let Some((_, allowed)) = row else {
            breaches.push(format!("{}: the module has no row", source.path.display()));
            continue;
        };
        for used in modules_used(&source.body) {
            let known = MAY_USE.iter().any(|(name, _)| *name == used);
            if known && used != source.module && !allowed.split_whitespace().any(|a| a == used) {
                breaches.push(format!("{}: uses {used}", source.path.display()));
            }
        }
    }
    assert!(breaches.is_empty(), "\n{}", breaches.join("\n"));
}

#[test]
fn the_scanner_sees_every_form_of_use() {
    let code = "use crate::wire::Role; use crate::{link::{Link, LinkError}, rig};\n\
                fn f() { crate::trim::apply(); }";
    let used: Vec<String> = modules_used(code).into_iter().collect();
    assert_eq!(used, ["link", "rig", "trim", "wire"]);
}

#[test]
fn words_stand_only_where_they_belong() {
    let places: &[(&str, &[&str])] = &[
        ("eframe", &["gui"]),
        ("egui", &["gui"]),
        ("serialport", &["link/serial.rs"]),
        ("thread::Builder", &["source", "work.rs", "desk/steady.rs"]),
        ("thread::spawn", &[]),
        // The bench talks to ports and files, and to nobody else.
        ("std::net", &[]),
        ("TcpStream", &[]),
        ("UdpSocket", &[]),
        ("println!", &["cli", "main.rs"]),
        ("eprintln!", &["cli", "main.rs"]),
        ("Instant::now", &["source", "desk", "gui", "cli"]),
        ("SystemTime::now", &["source", "desk", "gui", "cli"]),
    ];
    let mut breaches = Vec::new();
    for source in sources() {
        for (word, allowed) in places {
            let inside = allowed.iter().any(|place| source.path.starts_with(place));
            if !inside && contains_word(&source.body, word) {
                breaches.push(format!("{}: {word}", source.path.display()));
            }
        }
    }
    assert!(breaches.is_empty(), "\n{}", breaches.join("\n"));
}

fn contains_word(code: &str, word: &str) -> bool {
    code.match_indices(word).any(|(at, _)| {
        let before = code[..at].chars().next_back();
        !before.is_some_and(|c| c.is_alphanumeric() || c == '_')
    })
}

#[test]
fn every_file_says_what_it_is_for_and_stays_short() {
    let mut breaches = Vec::new();
    for source in sources().into_iter().chain(below("tests")) {
        if !source.first.starts_with("//! ") {
            breaches.push(format!("{}: no first line", source.path.display()));
        }
        if source.lines > LONGEST_FILE {
            breaches.push(format!("{}: {} lines", source.path.display(), source.lines));
        }
        let name = source.path.file_stem().map(|s| s.to_string_lossy().into_owned());
        if ["utils", "util", "common", "helpers", "manager", "misc"]
            .contains(&name.unwrap_or_default().as_str())
        {
            breaches.push(format!("{}: a name that says nothing", source.path.display()));
        }
    }
    assert!(breaches.is_empty(), "\n{}", breaches.join("\n"));
}

#[test]
fn the_front_without_a_window_never_names_the_other() {
    for source in sources().iter().filter(|s| s.module == "cli") {
        assert!(!source.body.contains("crate::gui"), "{} names the window", source.path.display());
    }
}

/// The functions of a file that take an action or a verb of the window: name and body.
fn appliers(code: &str) -> Vec<(&str, &str)> {
    let takes = |signature: &str| {
        let words: Vec<&str> =
            signature.split(|c: char| !c.is_alphanumeric() && c != '_').collect();
        let applies = |w: &&str| w.ends_with("Verb") || ["Action", "News"].contains(w);
        // Who gathers actions for later applies none.
        words.iter().any(applies) && !signature.contains("Vec<Action>")
    };
    let mut found = Vec::new();
    for (at, _) in code.match_indices("fn ") {
        let indent = code[..at].rsplit('\n').next().unwrap_or_default();
        let indent = &indent[..indent.len() - indent.trim_start().len()];
        let text = &code[at..];
        let Some(open) = text.find(['{', ';']) else { continue };
        // Nothing, or all of it, on the line of the brace.
        let one_line = !text[open..].starts_with("{\n");
        let end = text.find(&format!("\n{indent}}}")).unwrap_or(text.len());
        if !one_line && takes(&text[..open]) {
            found.push((first_word(&text[3..]), &text[open..end]));
        }
    }
    found
}

fn first_word(text: &str) -> &str {
    text.split(|c: char| !c.is_alphanumeric() && c != '_').next().unwrap_or_default()
}

/// The arms for whatever is left: `_ =>`, `other =>`.
fn swallowing_arms(body: &str) -> Vec<&str> {
    let arms = body.lines().filter_map(|line| line.trim_start().split_once("=>"));
    let bare = |pattern: &str| {
        let name = pattern.trim().split(" if ").next().unwrap_or_default();
        let lower = name.starts_with(|c: char| c == '_' || c.is_lowercase());
        lower && name == first_word(name) && !["true", "false"].contains(&name)
    };
    arms.map(|(pattern, _)| pattern).filter(|pattern| bare(pattern)).collect()
}

/// A verb that nobody applies must not compile: no arm may swallow it.
#[test]
fn no_arm_swallows_a_verb_of_the_window() {
    let mut applied = Vec::new();
    let mut breaches = Vec::new();
    for source in sources().iter().filter(|s| s.module == "gui") {
        for (name, body) in appliers(&source.body) {
            let arms = swallowing_arms(body);
            applied.push(name.to_owned());
            breaches.extend(
                arms.iter().map(|arm| format!("{}, {name}: an arm {arm}=>", source.path.display())),
            );
        }
    }
    for name in
        ["apply", "run", "link", "edit", "output", "time", "trace", "part", "window", "told"]
    {
        assert!(applied.iter().any(|n| n == name), "{name} was not looked at: {applied:?}");
    }
    assert!(breaches.is_empty(), "\n{}", breaches.join("\n"));
}

#[test]
fn the_scanner_of_arms_sees_what_swallows() {
    let code = "impl A {\n    fn edit(verb: EditVerb) {\n        match verb {\n            \
                EditVerb::Undo => {}\n            Some(_) => {}\n            true => {}\n            \
                _ if late => {}\n            other => {}\n        }\n    }\n}\n\
                fn ui(actions: &mut Vec<Action>) {\n    match k {\n        _ => {}\n    }\n}\n";
    let found = appliers(code);
    assert_eq!(found.iter().map(|f| f.0).collect::<Vec<_>>(), ["edit"]);
    assert_eq!(swallowing_arms(found[0].1), ["_ if late ", "other "]);
}
