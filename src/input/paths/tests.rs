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

fn names(paths: &NightPaths, night: &Path) -> Vec<String> {
    paths
        .logs
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
    let paths = find(Some(folder.path()), None, None, None, &[]).unwrap();
    assert_eq!(paths.fleet, folder.path().join("fleet.toml"));
    assert_eq!(
        names(&paths, folder.path()),
        ["logs/A.GPX.gz", "logs/b.gpx"]
    );
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

#[cfg(unix)]
#[test]
fn a_link_to_nowhere_in_place_of_the_orders_is_not_a_night_without_orders() {
    let folder = night(&["fleet.toml", "sites.geojson", "logs/a.gpx"]);
    assert_eq!(
        find(Some(folder.path()), None, None, None, &[])
            .unwrap()
            .orders,
        None
    );
    std::os::unix::fs::symlink("gone.csv", folder.path().join("orders.csv")).unwrap();
    let text = find(Some(folder.path()), None, None, None, &[])
        .unwrap_err()
        .to_string();
    assert!(
        text.contains("orders file not found: the link leads nowhere"),
        "{text}"
    );
}

#[test]
fn an_output_never_takes_the_place_of_an_input() {
    let folder = night(&[
        "fleet.toml",
        "n/coverage.geojson",
        "n/orders_done.csv",
        "logs/a.gpx",
    ]);
    let path = |name: &str| folder.path().join(name);
    let paths = find(
        None,
        Some(&path("fleet.toml")),
        Some(&path("n/coverage.geojson")),
        Some(&path("n/orders_done.csv")),
        &[path("logs")],
    )
    .unwrap();
    let owned = ["coverage.geojson", "orders_done.csv"];
    let text = check_out(&paths, &path("n"), &owned)
        .unwrap_err()
        .to_string();
    assert!(
        text.contains("coverage.geojson") && text.contains("is an input"),
        "{text}"
    );
    let text = check_out(&paths, &path("n"), &owned[1..])
        .unwrap_err()
        .to_string();
    assert!(text.contains("orders_done.csv of the output"), "{text}");
    check_out(&paths, &path("n"), &["zones.csv"]).unwrap();
    check_out(&paths, &path("not there"), &owned).unwrap();
}

#[cfg(unix)]
#[test]
fn an_input_that_is_a_link_to_an_output_is_spared_too() {
    let folder = night(&["fleet.toml", "n/coverage.geojson", "logs/a.gpx"]);
    let path = |name: &str| folder.path().join(name);
    std::os::unix::fs::symlink(path("n/coverage.geojson"), path("sites.geojson")).unwrap();
    let paths = find(Some(folder.path()), None, None, None, &[]).unwrap();
    assert!(check_out(&paths, &path("n"), &["coverage.geojson"]).is_err());
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
    assert_eq!(file.sha256, sha256(b"abc"));
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
