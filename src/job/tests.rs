use super::*;
use std::fs;

fn night(files: &[&str]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for file in files {
        let path = folder.path().join(file);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, "x").unwrap();
    }
    folder
}

fn names(job: &Job, night: &Path) -> Vec<String> {
    job.logs
        .iter()
        .map(|log| shown_name(log, Some(night)))
        .collect()
}

#[test]
fn a_night_folder_needs_no_flags() {
    let folder = night(&[
        "fleet.toml",
        "sites.geojson",
        "logs/b.gpx",
        "logs/A.GPX.gz",
        "logs/notes.txt",
        "logs/._b.gpx",
    ]);
    let job = find(Some(folder.path()), None, None, None, &[]).unwrap();
    assert_eq!(job.fleet, folder.path().join("fleet.toml"));
    assert_eq!(names(&job, folder.path()), ["logs/A.GPX.gz", "logs/b.gpx"]);
}

#[test]
fn the_order_of_the_flags_changes_nothing() {
    let folder = night(&[
        "fleet.toml",
        "sites.geojson",
        "one/b.gpx",
        "two/a.gpx",
        "two/c.gpx",
    ]);
    let path = |name: &str| folder.path().join(name);
    let forth = find(
        Some(folder.path()),
        None,
        None,
        None,
        &[path("one/b.gpx"), path("two")],
    )
    .unwrap();
    let back = find(
        Some(folder.path()),
        None,
        None,
        None,
        &[path("two"), path("one/b.gpx"), path("one")],
    )
    .unwrap();
    assert_eq!(forth, back);
    assert_eq!(
        names(&forth, folder.path()),
        ["two/a.gpx", "one/b.gpx", "two/c.gpx"]
    );
}

#[test]
fn what_is_missing_is_named() {
    let folder = night(&["fleet.toml", "sites.geojson", "logs/notes.txt"]);
    let complaint = |night: &Path| {
        find(Some(night), None, None, None, &[])
            .unwrap_err()
            .to_string()
    };
    assert!(complaint(folder.path()).contains(".gpx.gz"));
    assert!(complaint(&folder.path().join("gone")).contains("no such night folder"));
    assert!(complaint(&folder.path().join("fleet.toml")).contains("found a file"));
    fs::remove_file(folder.path().join("sites.geojson")).unwrap();
    let text = complaint(folder.path());
    assert!(
        text.contains("sites.geojson") && text.contains("--sites"),
        "{text}"
    );
    let text = find(None, None, None, None, &[]).unwrap_err().to_string();
    assert!(text.contains("no fleet file is named"), "{text}");
}

#[test]
fn a_file_is_described_by_its_bytes() {
    let folder = night(&[]);
    let path = folder.path().join("abc.gpx");
    fs::write(&path, "abc").unwrap();
    let (bytes, file) = read_file(&path, "log", Some(folder.path())).unwrap();
    assert_eq!(
        (bytes.as_slice(), file.bytes, file.name.as_str(), file.role),
        (b"abc".as_slice(), 3, "abc.gpx", "log")
    );
    // FIPS 180-2, appendix B.1 (from memory): the digest of "abc".
    assert_eq!(
        file.sha256,
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    );
    assert!(read_file(folder.path(), "log", None).is_err());
}

#[test]
fn names_outside_the_night_folder_lose_their_folders() {
    assert_eq!(
        shown_name(Path::new("/a/b/c.gpx"), Some(Path::new("/a"))),
        "b/c.gpx"
    );
    assert_eq!(
        shown_name(Path::new("/a/b/c.gpx"), Some(Path::new("/x"))),
        "c.gpx"
    );
    assert_eq!(shown_name(Path::new("/a/b/c.gpx"), None), "c.gpx");
}
