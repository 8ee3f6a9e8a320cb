//! Outputs never destroy: recordings stay, inputs stay, disks that fail are told, of the program itself.
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::time::Duration;

use tempfile::TempDir;

fn program(words: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_trimbench"));
    command.args(words).stdin(Stdio::null()).env("RUST_BACKTRACE", "0");
    command
}

fn run(words: &[&str]) -> (Option<i32>, String, String) {
    ended(program(words).output().expect("the program runs"))
}

fn ended(output: Output) -> (Option<i32>, String, String) {
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("UTF-8");
    (output.status.code(), text(output.stdout), text(output.stderr))
}

/// A folder with a short recording in it.
fn recorded() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("a.session");
    let words = ["virtual", "--seconds", "4", "--quiet", "--out", words_of(&path)];
    let (code, _, said) = run(&words);
    assert_eq!(code, Some(0), "{said}");
    (folder, path)
}

fn words_of(path: &Path) -> &str {
    path.to_str().expect("a plain name")
}

fn check_refused(words: &[&str], wanted: &str) {
    let (code, out, said) = run(words);
    assert_eq!((code, out.as_str()), (Some(2), ""), "{words:?}: {said}");
    assert_eq!(said.lines().count(), 1, "{words:?}: {said}");
    assert!(said.contains(wanted), "{words:?}: {said}");
}

#[test]
fn no_recording_is_replaced() {
    let (folder, path) = recorded();
    let before = std::fs::read(&path).expect("read");
    let here = words_of(&path);
    let from = format!("file:{here}");
    let flat = ["--pace", "flat-out"];
    check_refused(&["virtual", "--seconds", "1", "--out", here], "--number");
    check_refused(&["capture", "--from", "virtual:healthy", "--out", here], "--number");
    check_refused(
        &["capture", "--from", &from, "--out", here, flat[0], flat[1]],
        "is read (--from)",
    );
    for output in ["--json", "--csv", "--sheet", "--header", "--trim"] {
        check_refused(&["solve", here, output, here], "is read (the file)");
    }
    check_refused(&["export", here, "--csv", here], "is read (the file)");
    let other = folder.path().join("b.session");
    std::fs::copy(&path, &other).expect("copied");
    check_refused(&["solve", here, "--json", words_of(&other)], "it is a recording");
    assert_eq!(std::fs::read(&path).expect("read"), before);
    assert_eq!(std::fs::read(&other).expect("read"), before);
    let (code, out, said) = run(&["virtual", "--seconds", "1", "--number", "--out", here]);
    assert_eq!(code, Some(0), "{said}");
    assert!(out.contains("a-2.session"), "{out}");
    assert!(folder.path().join("a-2.session").is_file());
}

#[test]
fn two_outputs_never_share_a_file() {
    let (folder, path) = recorded();
    let out = folder.path().join("out");
    let words = ["solve", words_of(&path), "--json", words_of(&out), "--csv", words_of(&out)];
    check_refused(&words, "two outputs in one file");
    check_refused(&["solve", words_of(&path), "--json", "-", "--csv", "-"], "two outputs");
    assert!(!out.exists());
}

#[test]
fn a_dash_is_standard_output_and_makes_no_file() {
    let (folder, path) = recorded();
    for (words, begins) in [
        (vec!["export", words_of(&path), "--csv", "-"], "board_time_us,"),
        (vec!["solve", words_of(&path), "--json", "/dev/stdout"], "{"),
        (vec!["virtual", "--seconds", "1", "--out", "-"], "trimbench-session 2\n"),
        (
            vec!["capture", "--from", "virtual:healthy", "--seconds", "0.3", "--out", "-"],
            "trimbench-session 2\n",
        ),
    ] {
        let (_, out, said) = ended(program(&words).current_dir(&folder).output().expect("runs"));
        assert!(out.starts_with(begins), "{words:?}: {said}{}", &out[..out.len().min(80)]);
    }
    assert_eq!(std::fs::read_dir(&folder).expect("listed").count(), 1, "no file of that name");
}

#[test]
fn a_file_without_an_end_is_not_read_to_it() {
    let (_folder, path) = recorded();
    let here = words_of(&path);
    check_refused(&["solve", here, "--rig", "/dev/zero"], "longer than");
    check_refused(&["solve", here, "--dialect", "/dev/zero"], "longer than");
    check_refused(&["prove", here, "--against", "/dev/zero"], "longer than");
}

#[cfg(unix)]
mod unix {
    use std::os::unix::fs::{FileTypeExt, PermissionsExt, symlink};

    use super::*;

    fn shell(script: &str, folder: &Path) -> (Option<i32>, String, String) {
        let mut command = Command::new("sh");
        let program = env!("CARGO_BIN_EXE_trimbench");
        command.args(["-c", script, "sh", program]).current_dir(folder).stdin(Stdio::null());
        ended(command.output().expect("a shell"))
    }

    #[test]
    fn permissions_follow_the_mask_and_the_file_that_was_there() {
        let (folder, path) = recorded();
        let here = words_of(&path);
        let script = format!("umask 077; \"$1\" export {here} --csv new.csv");
        let (code, _, said) = shell(&script, folder.path());
        assert_eq!(code, Some(0), "{said}");
        let mode = |name: &str| {
            folder.path().join(name).metadata().expect("there").permissions().mode() & 0o777
        };
        assert_eq!(mode("new.csv"), 0o600);
        std::fs::write(folder.path().join("old.csv"), "x").expect("written");
        let private = std::fs::Permissions::from_mode(0o640);
        std::fs::set_permissions(folder.path().join("old.csv"), private).expect("set");
        let (code, _, said) =
            run(&["export", here, "--csv", words_of(&folder.path().join("old.csv"))]);
        assert_eq!(code, Some(0), "{said}");
        assert_eq!(mode("old.csv"), 0o640);
    }

    #[test]
    fn links_stay_links_and_devices_devices() {
        let (folder, path) = recorded();
        let real = folder.path().join("real.csv");
        let link = folder.path().join("link.csv");
        std::fs::write(&real, "old").expect("written");
        symlink(&real, &link).expect("linked");
        let (code, _, said) = run(&["export", words_of(&path), "--csv", words_of(&link)]);
        assert_eq!(code, Some(0), "{said}");
        assert!(link.symlink_metadata().expect("there").is_symlink());
        assert!(real.metadata().expect("there").len() > 1000);
        std::fs::remove_file(&real).expect("gone");
        check_refused(
            &["export", words_of(&path), "--csv", words_of(&link)],
            "name the file itself",
        );
        let (code, _, said) = run(&["export", words_of(&path), "--csv", "/dev/null"]);
        assert_eq!(code, Some(0), "{said}");
        let kind = Path::new("/dev/null").metadata().expect("there").file_type();
        assert!(kind.is_char_device());
    }

    #[test]
    fn a_pipe_that_nobody_reads_is_refused_at_once() {
        let (folder, path) = recorded();
        let (code, _, said) = shell("mkfifo pipe", folder.path());
        assert_eq!(code, Some(0), "{said}");
        let pipe = folder.path().join("pipe");
        check_refused(&["export", words_of(&path), "--csv", words_of(&pipe)], "nobody reads");
        check_refused(
            &["capture", "--from", "virtual:healthy", "--out", words_of(&pipe)],
            "nobody",
        );
        let script = format!("cat pipe > got & \"$1\" export {} --csv pipe; wait", path.display());
        // The reader may open its end a moment later; then one refusal is right.
        let (code, _, _) = shell(&script.replace("& \"", "& sleep 0.3; \""), folder.path());
        assert_eq!(code, Some(0));
        assert!(folder.path().join("got").metadata().expect("there").len() > 1000);
        assert!(pipe.symlink_metadata().expect("there").file_type().is_fifo());
    }

    /// A limit on the size of files stands for a disk that is full.
    #[test]
    fn a_disk_that_takes_no_more_is_told_while_it_lasts_and_in_the_exit_code() {
        let folder = tempfile::tempdir().expect("a folder");
        let script = "trap '' XFSZ; ulimit -f 40; \"$1\" capture --from virtual:healthy \
                      --seconds 4 --out a.session";
        let (code, _, said) = shell(script, folder.path());
        assert_eq!(code, Some(1), "{said}");
        assert!(said.contains("goes on in memory"), "{said}");
        assert!(said.contains("are not in the file"), "{said}");
        assert_eq!(said.lines().count(), 2, "each once: {said}");
    }

    /// A recording of the virtual board that goes on in the background.
    fn going_on(out: &Path, seconds: &str) -> Child {
        let words =
            ["capture", "--from", "virtual:healthy", "--seconds", seconds, "--out", words_of(out)];
        let mut command = program(&words);
        command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("the program runs")
    }

    fn wait_for(file: &Path) {
        for _ in 0..600 {
            if file.metadata().is_ok_and(|meta| meta.len() > 10_000) {
                return;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        panic!("{} is not written", file.display());
    }

    #[test]
    fn a_file_deleted_while_it_is_written_is_written_again() {
        let folder = tempfile::tempdir().expect("a folder");
        let out = folder.path().join("a.session");
        let child = going_on(&out, "4");
        wait_for(&out);
        std::fs::remove_file(&out).expect("deleted");
        let (code, _, said) = ended(child.wait_with_output().expect("ends"));
        assert_eq!(code, Some(0), "{said}");
        assert!(said.contains("written again as"), "{said}");
        let (_, solved, said) = run(&["solve", words_of(&out), "--json", "-"]);
        assert!(solved.contains("\"lost\""), "{said}");
        assert!(!said.contains("damage"), "{said}");
    }

    #[test]
    fn a_file_cut_while_it_is_written_ends_with_exit_1() {
        let folder = tempfile::tempdir().expect("a folder");
        let out = folder.path().join("a.session");
        let child = going_on(&out, "4");
        wait_for(&out);
        let file = std::fs::OpenOptions::new().write(true).open(&out).expect("opened");
        file.set_len(0).expect("cut");
        let (code, _, said) = ended(child.wait_with_output().expect("ends"));
        assert_eq!(code, Some(1), "{said}");
        assert!(said.contains("was cut while it was written"), "{said}");
        let head = std::fs::read(&out).expect("there");
        assert!(head.starts_with(b"trimbench-session 2\n"), "its head is there again");
        let (_, solved, said) = run(&["solve", words_of(&out), "--json", "-"]);
        assert!(solved.starts_with('{'), "what came since can be read: {said}");
    }

    #[test]
    fn a_closed_standard_error_ends_no_recording() {
        let folder = tempfile::tempdir().expect("a folder");
        let script = "\"$1\" capture --from virtual:healthy --seconds 1 --out a.session 2>&-";
        let (code, _, said) = shell(script, folder.path());
        assert_eq!(code, Some(0), "{said}");
        let script = "\"$1\" capture --from virtual:healthy --roll-call --seconds 1 \
                      --out b.session 2>/dev/full";
        let (code, ..) = shell(script, folder.path());
        assert_ne!(code, Some(101), "no panic");
        assert!(folder.path().join("b.session").metadata().expect("there").len() > 1000);
    }

    #[test]
    fn a_hang_up_that_is_ignored_stays_ignored() {
        let folder = tempfile::tempdir().expect("a folder");
        let begun = "exec \"$1\" capture --from virtual:healthy --seconds 3 --out a.session";
        for (first, long) in [("trap '' HUP; ", true), ("", false)] {
            // Whoever runs the tests may ignore some.
            let mut command = Command::new("env");
            command.args(["--default-signal", "sh"]);
            let script = format!("{first}{begun}");
            let program = env!("CARGO_BIN_EXE_trimbench");
            command.args(["-c", &script, "sh", program]).current_dir(&folder);
            let mut child = command.stdout(Stdio::piped()).spawn().expect("a shell");
            let out = folder.path().join("a.session");
            wait_for(&out);
            let pid = child.id().to_string();
            Command::new("kill").args(["-HUP", &pid]).status().expect("sent");
            let code = child.wait().expect("ends").code();
            assert_eq!(code, Some(0), "ended cleanly");
            let text = std::fs::read_to_string(&out).expect("there");
            let last = text.lines().rev().find_map(|line| line.split(' ').next()?.parse().ok());
            let last: u64 = last.expect("a record");
            assert_eq!(last > 2_500_000, long, "{first:?}: {last}");
            std::fs::remove_file(&out).expect("gone");
        }
    }
}
