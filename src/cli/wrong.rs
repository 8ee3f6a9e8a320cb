//! Wrong words on the line, in one line: which, what is wrong with them, where the help is.
use clap::CommandFactory;

use super::args::Words;

/// What is wrong, in one line, and the help of the verb it was said to.
pub(super) fn line(error: &clap::Error) -> String {
    let verb = verb(std::env::args().skip(1));
    let text = error.to_string();
    // Without a verb the usage is that of the window, and a wrong word is no file for it.
    let idle = |part: &str| {
        let of_window = verb.is_none() && (part.starts_with("Usage") || part.starts_with("tip"));
        part.is_empty() || part.starts_with("For more") || of_window
    };
    let said = text.split("\n\n").map(str::trim).filter(|part| !idle(part)).map(one_line);
    let said = said.collect::<Vec<_>>().join("; ");
    let said = said.strip_prefix("error: ").unwrap_or(&said);
    match &verb {
        Some(verb) => with_help(verb, said),
        None => format!("{said}; see `trimbench --help`"),
    }
}

/// A line between its verb and the help of that verb.
pub(super) fn with_help(verb: &str, line: &str) -> String {
    format!("{verb}: {line}; see `trimbench {verb} --help`")
}

/// The first word that is a verb.
fn verb(mut words: impl Iterator<Item = String>) -> Option<String> {
    let command = Words::command();
    words.find(|word| command.find_subcommand(word).is_some())
}

/// Lines joined; a usage is told in small letters and quoted.
fn one_line(part: &str) -> String {
    let words: Vec<&str> = part.split_whitespace().collect();
    let text = words.join(" ");
    match text.strip_prefix("Usage: ") {
        Some(usage) => format!("usage: `{usage}`"),
        None => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_become_one_line_and_the_verb_is_the_first_that_is_known() {
        assert_eq!(
            one_line("not provided:\n  --csv <OUT>\n  <FILE>"),
            "not provided: --csv <OUT> <FILE>"
        );
        assert_eq!(one_line("Usage: trimbench ports"), "usage: `trimbench ports`");
        let words = ["--quiet", "export", "solve"].map(str::to_owned);
        assert_eq!(verb(words.into_iter()).as_deref(), Some("export"));
        assert_eq!(verb(["a.session".to_owned()].into_iter()), None);
        assert_eq!(with_help("solve", "no"), "solve: no; see `trimbench solve --help`");
    }
}
