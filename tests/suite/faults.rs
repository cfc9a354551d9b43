//! What goes wrong around a run: it is cut short, another one writes too, a log changes under it, the disk is
//! full, the reader of its page goes away. Nothing half-written, nothing lost, a clear message.

use crate::night::{Night, gpx, healthy};
use std::collections::BTreeMap;
use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::Duration;

const PROGRAM: &str = env!("CARGO_BIN_EXE_swathbook");

fn command(night: &Night, out: &Path) -> Command {
    let mut command = Command::new(PROGRAM);
    command
        .arg("audit")
        .arg(night.path(""))
        .arg("--out")
        .arg(out)
        .args(["--fail-on", "never"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    command
}

fn audited(night: &Night, out: &Path) -> Output {
    let output = command(night, out).output().unwrap();
    assert!(output.status.success(), "{}", text(&output.stderr));
    output
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// Every file of a folder by name.
fn files(dir: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = std::fs::read_dir(dir).unwrap().map(|entry| entry.unwrap());
    entries
        .filter(|entry| entry.path().is_file())
        .map(|entry| {
            let name = entry.file_name().to_string_lossy().into_owned();
            (name, std::fs::read(entry.path()).unwrap())
        })
        .collect()
}

/// A night and the same a minute later.
fn two_nights() -> (Night, Night) {
    let later = healthy().into_iter();
    let later: Vec<_> = later
        .map(|(t, x, y, states, flow)| (t + 60.0, x, y, states, flow))
        .collect();
    (Night::new(), Night::new().log("healthy.gpx", gpx(&later)))
}

/// Interrupted by Ctrl-C, asked to end, or killed, at moments from the start to the end of a run: the folder
/// holds all files of the former result or all of the new one, and the next run clears up.
#[test]
#[cfg(unix)]
fn a_run_that_is_cut_short_leaves_the_former_result_whole() {
    let (former, new) = two_nights();
    let (old_dir, new_dir) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    audited(&former, old_dir.path());
    audited(&new, new_dir.path());
    let (old, fresh) = (files(old_dir.path()), files(new_dir.path()));
    assert_ne!(old["audit.json"], fresh["audit.json"]);
    let mut cut = 0;
    for (number, signal) in ["INT", "TERM", "KILL"].iter().cycle().take(30).enumerate() {
        let out = tempfile::tempdir().unwrap();
        audited(&former, out.path());
        let mut child = command(&new, out.path()).spawn().unwrap();
        std::thread::sleep(Duration::from_millis(3 * number as u64));
        let id = child.id().to_string();
        let _ = Command::new("kill").args(["-s", signal, &id]).output();
        cut += usize::from(!child.wait().unwrap().success());
        let mut left = files(out.path());
        left.retain(|name, _| !name.starts_with(".swathbook-"));
        // Between two moves of the last moment some files are new and some set aside; the next run ends that.
        let known =
            |(name, bytes): (&String, &Vec<u8>)| *bytes == old[name] || *bytes == fresh[name];
        assert!(left.iter().all(known), "half a file after {signal}");
        audited(&new, out.path());
        assert_eq!(files(out.path()), fresh, "leavings after {signal}");
    }
    assert!(cut >= 5, "only {cut} of 30 runs were cut short");
}

/// Many runs of two nights into one folder at once: whoever comes second is told so, and the folder holds one
/// run's files at the end.
#[test]
fn runs_at_once_into_one_folder_never_mix() {
    let (one, other) = two_nights();
    let dirs = [tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap()];
    audited(&one, dirs[0].path());
    audited(&other, dirs[1].path());
    let out = tempfile::tempdir().unwrap();
    for _ in 0..5 {
        let runs =
            [&one, &other, &one, &other].map(|night| command(night, out.path()).spawn().unwrap());
        for run in runs {
            let output = run.wait_with_output().unwrap();
            let said = text(&output.stderr);
            assert!(
                output.status.success() || said.contains("another run is writing here"),
                "{said}"
            );
        }
        let left = files(out.path());
        assert!(
            dirs.iter().any(|dir| files(dir.path()) == left),
            "files of two runs: {:?}",
            left.keys()
        );
    }
}

/// The digest is that of the bytes audited, whatever the file holds by then.
#[test]
fn a_log_that_grows_meanwhile_is_audited_as_it_was_read() {
    use sha2::{Digest, Sha256};
    let whole = gpx(&healthy());
    let versions: Vec<Vec<u8>> = (0..40)
        .map(|number| format!("{whole}<!-- {} -->", "more ".repeat(number * 2000)).into_bytes())
        .collect();
    let digests: Vec<String> = versions
        .iter()
        .map(|bytes| {
            Sha256::digest(bytes)
                .iter()
                .map(|byte| format!("{byte:02x}"))
                .collect()
        })
        .collect();
    let night = Night::new();
    let path = night.path("logs/healthy.gpx");
    let (out, stop) = (
        tempfile::tempdir().unwrap(),
        std::sync::atomic::AtomicBool::new(false),
    );
    std::thread::scope(|scope| {
        scope.spawn(|| {
            // Replaced whole, as a careful copy does, again and again.
            for version in versions.iter().cycle() {
                if stop.load(std::sync::atomic::Ordering::Relaxed) {
                    break;
                }
                let beside = path.with_extension("new");
                std::fs::write(&beside, version).unwrap();
                std::fs::rename(&beside, &path).unwrap();
            }
        });
        for _ in 0..5 {
            audited(&night, out.path());
            let json = std::fs::read(out.path().join("audit.json")).unwrap();
            let audit: serde_json::Value = serde_json::from_slice(&json).unwrap();
            let inputs = audit["inputs"].as_array().unwrap();
            let log = inputs.iter().find(|input| input["role"] == "log").unwrap();
            let known = digests
                .iter()
                .position(|digest| log["sha256"] == digest.as_str());
            let version = known.expect("the digest of a version that once was there");
            assert_eq!(log["bytes"], versions[version].len());
        }
        stop.store(true, std::sync::atomic::Ordering::Relaxed);
    });
}

/// A log that is cut off, emptied or removed between the look into the folder and the reading costs itself.
#[test]
fn a_log_that_is_rewritten_in_place_is_read_or_told() {
    let night = Night::new().log("other.gpx", gpx(&healthy()));
    let (path, whole) = (night.path("logs/other.gpx"), gpx(&healthy()));
    let (out, stop) = (
        tempfile::tempdir().unwrap(),
        std::sync::atomic::AtomicBool::new(false),
    );
    std::thread::scope(|scope| {
        scope.spawn(|| {
            while !stop.load(std::sync::atomic::Ordering::Relaxed) {
                let _ = std::fs::write(&path, &whole[..whole.len() / 2]);
                let _ = std::fs::write(&path, "");
                let _ = std::fs::remove_file(&path);
                let _ = std::fs::write(&path, &whole);
            }
        });
        for _ in 0..10 {
            audited(&night, out.path());
        }
        stop.store(true, std::sync::atomic::Ordering::Relaxed);
    });
}

#[test]
#[cfg(unix)]
fn an_output_folder_may_be_a_link_and_hold_other_files() {
    let night = Night::new();
    let real = tempfile::tempdir().unwrap();
    std::fs::write(real.path().join("notes.txt"), "mine").unwrap();
    let links = tempfile::tempdir().unwrap();
    let link = links.path().join("out");
    std::os::unix::fs::symlink(real.path(), &link).unwrap();
    audited(&night, &link);
    assert!(link.is_symlink());
    assert_eq!(files(real.path())["notes.txt"], b"mine");
    assert!(files(real.path()).contains_key("audit.json"));
}

/// A folder inside the night folder is not read as a part of the night, however often.
#[test]
fn an_output_folder_inside_the_night_folder_changes_nothing() {
    let night = Night::new();
    audited(&night, &night.path("out"));
    let first = files(&night.path("out"));
    audited(&night, &night.path("out"));
    assert_eq!(files(&night.path("out")), first);
    let refused = command(&night, &night.path("logs")).output().unwrap();
    assert_eq!(refused.status.code(), Some(2), "{}", text(&refused.stderr));
}

#[test]
fn an_output_folder_under_a_file_is_refused_clearly() {
    let night = Night::new().file("notes.txt", "mine");
    let refused = command(&night, &night.path("notes.txt/out"))
        .output()
        .unwrap();
    let said = text(&refused.stderr);
    assert!(
        refused.status.code() == Some(2) && said.contains("notes.txt"),
        "{said}"
    );
    assert_eq!(std::fs::read(night.path("notes.txt")).unwrap(), b"mine");
}

/// A real file system of 64 KiB, and one that takes no writing, where this machine lets a test mount one.
#[test]
#[cfg(target_os = "linux")]
fn a_full_disk_and_one_that_takes_no_writing_are_told_and_left_as_they_were() {
    let night = Night::new();
    let disk = tempfile::tempdir().unwrap();
    let mounted = |options: &str| {
        let mount = Command::new("mount")
            .args(["-t", "tmpfs", "-o", options, "tmpfs"])
            .arg(disk.path())
            .output();
        mount.is_ok_and(|output| output.status.success())
    };
    if !mounted("size=16k") {
        eprintln!("skipped: no right to mount a file system here");
        return;
    }
    std::fs::write(disk.path().join("audit.json"), "former").unwrap();
    let full = command(&night, disk.path()).output().unwrap();
    let left = files(disk.path());
    let remounted = mounted("remount,ro");
    let read_only = command(&night, disk.path()).output().unwrap();
    let still = files(disk.path());
    let _ = Command::new("umount").arg(disk.path()).status();
    assert_eq!(full.status.code(), Some(2));
    assert!(
        text(&full.stderr).contains("No space left"),
        "{}",
        text(&full.stderr)
    );
    assert_eq!(left.keys().collect::<Vec<_>>(), ["audit.json"]);
    assert_eq!(left["audit.json"], b"former");
    if remounted {
        assert_eq!(
            read_only.status.code(),
            Some(2),
            "{}",
            text(&read_only.stderr)
        );
        assert_eq!(still, left);
    }
}

/// `| head -1` is no error, and no panic.
#[test]
fn a_reader_that_goes_away_is_no_error() {
    let night = Night::new();
    let out = tempfile::tempdir().unwrap();
    let mut child = command(&night, out.path()).spawn().unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success(), "{}", text(&output.stderr));
    assert!(!text(&output.stderr).contains("panicked"));
}

/// Spaces, line ends and bytes that are no UTF-8 in the names of folders and logs.
#[test]
#[cfg(target_os = "linux")]
fn odd_names_of_folders_and_logs_do_no_harm() {
    use std::os::unix::ffi::OsStrExt;
    let night = Night::new();
    for name in [&b"a b.gpx"[..], b"c\nd.gpx", b"e\xff.gpx"] {
        let path = night.path("logs").join(std::ffi::OsStr::from_bytes(name));
        std::fs::copy(night.path("logs/healthy.gpx"), path).unwrap();
    }
    let out = night
        .path("")
        .join(std::ffi::OsStr::from_bytes(b"out \xfe\n1"));
    let output = audited(&night, &out);
    assert!(out.join("audit.json").is_file());
    let page = text(&output.stdout);
    assert!(!page.contains("c\nd.gpx"), "{page}");
}

/// Memory that is not there is a message with its log, and no abort that takes the night along.
#[test]
#[cfg(target_os = "linux")]
fn a_log_that_the_memory_cannot_hold_is_told() {
    use std::io::Write;
    let mut encoder = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    let blanks = vec![b' '; 1 << 20];
    for _ in 0..500 {
        encoder.write_all(&blanks).unwrap();
    }
    let night = Night::new()
        .no_logs()
        .log("large.gpx.gz", encoder.finish().unwrap());
    // 500 MiB of text do not fit into 500 MB with the program.
    let limited = Command::new("sh")
        .args([
            "-c",
            r#"ulimit -v 500000; exec "$@""#,
            "sh",
            PROGRAM,
            "audit",
        ])
        .arg(night.path(""))
        .args(["--threads", "1"])
        .output()
        .unwrap();
    let said = text(&limited.stderr);
    assert_eq!(limited.status.code(), Some(2), "{said}");
    assert!(
        said.contains("large.gpx.gz: there is not enough memory to unpack the log"),
        "{said}"
    );
}
