//! Which files are what: the night folder's convention and the flags that name a part. The one place
//! that reads files; everything after it works on bytes.

use crate::error::{Error, Result};
use crate::input::digest::InputFile;
use crate::input::digest::sha256;
use std::io::Read as _;
use std::path::{Path, PathBuf};

/// Name of the fleet file in a night folder.
const FLEET: &str = "fleet.toml";
/// Name of the sites file in a night folder.
const SITES: &str = "sites.geojson";
/// Name of the orders file in a night folder.
const ORDERS: &str = "orders.csv";
/// Name of the logs' folder in a night folder.
const LOGS: &str = "logs";
/// Endings of a log's name, in lower case.
const LOG_ENDINGS: [&str; 2] = [".gpx", ".gpx.gz"];
/// Largest log, bytes: 24 h at 10 Hz with 500 bytes a fix have 430 MB, a usual night 15 MB. Several are read at a
/// time, and more would fill the memory and end the whole night (limit).
const MOST_LOG_BYTES: u64 = 512 << 20;
/// Largest sites file, bytes: 5 million corners with 13 digits each way have 190 MB (limit).
const MOST_SITES_BYTES: u64 = 256 << 20;
/// Largest orders file, bytes: 100,000 rows of 300 letters have 30 MB (limit).
const MOST_ORDERS_BYTES: u64 = 64 << 20;
/// Largest fleet file, bytes: a thousand rigs have 1 MB. Its TOML takes a hundred times its size in memory (limit).
const MOST_FLEET_BYTES: u64 = 4 << 20;

/// The files of a night.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NightPaths {
    /// The night folder, if one was named: names are shown relative to it.
    pub night: Option<PathBuf>,
    /// The fleet file.
    pub fleet: PathBuf,
    /// The sites file.
    pub sites: PathBuf,
    /// The orders file, if there is one.
    pub orders: Option<PathBuf>,
    /// The logs, sorted by name, so that the order in which they were named changes nothing.
    pub logs: Vec<PathBuf>,
}

/// Finds the files of a night. What is named outranks what the night folder holds; an entry of
/// `logs` may be a file or a folder.
///
/// # Errors
/// A folder or file that is not there, with the names that were looked for; or no logs.
pub fn find(
    night: Option<&Path>,
    fleet: Option<&Path>,
    sites: Option<&Path>,
    orders: Option<&Path>,
    logs: &[PathBuf],
) -> Result<NightPaths> {
    let (fleet, sites) = ground_files(night, fleet, sites)?;
    // A link to nowhere is an entry too: "no orders" would be said of a night that has some.
    let has_orders = |night: &Path| std::fs::symlink_metadata(night.join(ORDERS)).is_ok();
    let orders = match orders {
        None if !night.is_some_and(has_orders) => None,
        named => Some(part(night, named, ORDERS, "orders file", "--orders")?),
    };
    let named = match (logs, night) {
        ([], Some(night)) => vec![night.join(LOGS)],
        ([], None) => {
            return Err(
                Error::new("no logs are named").advice("Name a night folder, or logs with --logs.")
            );
        }
        (named, _) => named.to_vec(),
    };
    Ok(NightPaths {
        night: night.map(Path::to_path_buf),
        fleet,
        sites,
        orders,
        logs: collect(&named)?,
    })
}

/// Finds the fleet file and the sites file.
///
/// # Errors
/// A folder or file that is not there, with the names that were looked for.
pub fn ground_files(
    night: Option<&Path>,
    fleet: Option<&Path>,
    sites: Option<&Path>,
) -> Result<(PathBuf, PathBuf)> {
    if let Some(night) = night
        && !night.is_dir()
    {
        let what = if night.exists() {
            "expected a night folder, found a file"
        } else {
            "there is no such night folder"
        };
        return Err(Error::new(what).at(night).advice(layout()));
    }
    Ok((
        part(night, fleet, FLEET, "fleet file", "--fleet")?,
        part(night, sites, SITES, "sites file", "--sites")?,
    ))
}

fn layout() -> String {
    format!(
        "A night folder holds {FLEET}, {SITES} and a folder {LOGS} with *.gpx or *.gpx.gz files, and {ORDERS} if there are orders."
    )
}

/// One part of the night that is a single file.
fn part(
    night: Option<&Path>,
    named: Option<&Path>,
    name: &str,
    what: &str,
    flag: &str,
) -> Result<PathBuf> {
    let path = match (named, night) {
        (Some(named), _) => named.to_path_buf(),
        (None, Some(night)) => night.join(name),
        (None, None) => {
            return Err(Error::new(format!("no {what} is named"))
                .advice(format!("Name a night folder, or the file with {flag}.")));
        }
    };
    if path.is_file() {
        return Ok(path);
    }
    let found = match std::fs::metadata(&path) {
        Ok(about) => format!("{what}: expected a file, found {}", kind(&about)),
        Err(_) if path.is_symlink() => format!("{what} not found: the link leads nowhere"),
        Err(cause) if cause.kind() == std::io::ErrorKind::NotFound => format!("{what} not found"),
        Err(cause) => format!("{what}: it cannot be read: {cause}"),
    };
    let error = Error::new(found).at(&path);
    Err(match named {
        Some(_) => error.advice(format!("Check what {flag} names.")),
        None => error.advice(format!(
            "{} Any part can be named by a flag instead, such as {flag}.",
            layout()
        )),
    })
}

/// What stands in a file's place, for messages.
fn kind(about: &std::fs::Metadata) -> &'static str {
    #[cfg(unix)]
    {
        use std::os::unix::fs::FileTypeExt as _;
        let kind = about.file_type();
        if kind.is_fifo() {
            return "a pipe";
        }
        if kind.is_socket() {
            return "a socket";
        }
        if kind.is_block_device() || kind.is_char_device() {
            return "a device";
        }
    }
    if about.is_dir() {
        "a folder"
    } else {
        "something that is not a regular file"
    }
}

fn collect(named: &[PathBuf]) -> Result<Vec<PathBuf>> {
    let mut logs = Vec::new();
    for path in named {
        if path.is_dir() {
            logs.extend(folder(path)?);
        } else if path.is_file() {
            logs.push(path.clone());
        } else {
            let found = match std::fs::metadata(path) {
                Ok(about) => format!("expected a log or a folder of logs, found {}", kind(&about)),
                Err(_) => "log file or folder of logs not found".to_owned(),
            };
            return Err(Error::new(found).at(path).advice(layout()));
        }
    }
    if logs.is_empty() {
        let error =
            Error::new("the folder holds no logs: looked for names that end in .gpx or .gpx.gz");
        return Err(match named.first() {
            Some(path) => error.at(path),
            None => error,
        }
        .advice(layout()));
    }
    logs.sort_by(|a, b| (a.file_name(), a).cmp(&(b.file_name(), b)));
    logs.dedup();
    Ok(logs)
}

fn folder(path: &Path) -> Result<Vec<PathBuf>> {
    let failed =
        |error: std::io::Error| Error::new(format!("the folder cannot be read: {error}")).at(path);
    let mut logs = Vec::new();
    for entry in std::fs::read_dir(path).map_err(failed)? {
        let entry = entry.map_err(failed)?.path();
        // A folder, a pipe or a link to nowhere with a log's name is reported when it is read.
        if is_log(&entry) {
            logs.push(entry);
        }
    }
    Ok(logs)
}

/// Whether the name is a log's. Names that begin with a dot are leftovers of other programs.
fn is_log(path: &Path) -> bool {
    let name = path
        .file_name()
        .unwrap_or_default()
        .to_string_lossy()
        .to_lowercase();
    !name.starts_with('.') && LOG_ENDINGS.iter().any(|ending| name.ends_with(ending))
}

/// Says before the work begins that the output cannot go to `dir`. `owned` are the names of files that the
/// program writes or clears away there.
///
/// # Errors
/// A file of that name; a folder that holds logs, where `touchup.gpx` would be a log of the next run; an
/// input that stands where an output goes.
pub fn check_out(paths: &NightPaths, dir: &Path, owned: &[&str]) -> Result<()> {
    if dir.exists() && !dir.is_dir() {
        return Err(Error::new("expected a folder for the output, found a file")
            .at(dir)
            .advice("Name another folder, or move the file away."));
    }
    let same = |a: &Path, b: &Path| match (a.canonicalize(), b.canonicalize()) {
        (Ok(a), Ok(b)) => a == b,
        _ => false,
    };
    let mut folders: Vec<&Path> = paths.logs.iter().filter_map(|log| log.parent()).collect();
    folders.dedup();
    // The parent of a bare file name is empty, which means here.
    let here = |folder: &Path| folder.as_os_str().is_empty();
    let folders = folders
        .into_iter()
        .map(|folder| if here(folder) { Path::new(".") } else { folder });
    if folders.into_iter().any(|folder| same(folder, dir)) {
        return Err(Error::new(
            "the output folder holds the logs: touchup.gpx would be read as one next time",
        )
        .at(dir)
        .advice("Name another folder for --out."));
    }
    let inputs = [&paths.fleet, &paths.sites].into_iter();
    let inputs = inputs.chain(&paths.orders).chain(&paths.logs);
    spare_inputs(inputs.map(PathBuf::as_path), dir, owned)
}

/// Refuses outputs that would replace an input, under the name it was given by and under its true one.
///
/// # Errors
/// An input that stands in `dir` under one of the names `owned`.
pub fn spare_inputs<'a>(
    inputs: impl IntoIterator<Item = &'a Path>,
    dir: &Path,
    owned: &[impl AsRef<str>],
) -> Result<()> {
    let Ok(folder) = dir.canonicalize() else {
        // A folder that is not there yet holds no input.
        return Ok(());
    };
    for input in inputs {
        let parent = match input.parent() {
            Some(parent) if !parent.as_os_str().is_empty() => parent,
            _ => Path::new("."),
        };
        let as_given = parent.canonicalize().ok();
        let as_given = as_given
            .zip(input.file_name())
            .map(|(parent, name)| parent.join(name));
        let truly = input.canonicalize().ok();
        for place in as_given.into_iter().chain(truly) {
            let name = place.strip_prefix(&folder).ok().and_then(Path::to_str);
            if let Some(name) = name.filter(|name| owned.iter().any(|own| own.as_ref() == *name)) {
                return Err(Error::new(format!(
                    "the file is an input, and {name} of the output would take its place"
                ))
                .at(input)
                .advice("Name another folder for --out."));
            }
        }
    }
    Ok(())
}

/// Reads a file whole and describes it: `role` is `fleet`, `sites`, `orders` or `log`; the name shown is
/// relative to the night folder, and the bare file name outside it, so that no result gives away
/// where somebody keeps files.
///
/// # Errors
/// A file that cannot be read, is not a regular file, or is larger than any of its role.
pub fn read_file(
    path: &Path,
    role: &'static str,
    night: Option<&Path>,
) -> Result<(Vec<u8>, InputFile)> {
    let failed = |error: std::io::Error| {
        let what = match error.kind() {
            std::io::ErrorKind::WouldBlock => {
                "the file has no end: the system would write it as it is read".to_owned()
            }
            _ => format!("the file cannot be read: {error}"),
        };
        Error::new(what).at(path)
    };
    let about = std::fs::metadata(path).map_err(failed)?;
    if !about.is_file() {
        return Err(Error::new(format!("expected a file, found {}", kind(&about))).at(path));
    }
    let most = match role {
        "fleet" => MOST_FLEET_BYTES,
        "sites" => MOST_SITES_BYTES,
        "orders" => MOST_ORDERS_BYTES,
        _ => MOST_LOG_BYTES,
    };
    let too_large = || Error::new(format!("the file is larger than {} MiB", most >> 20)).at(path);
    if about.len() > most {
        return Err(too_large());
    }
    // A file that grows while it is read, or that the system makes up as it is read, says another length.
    let mut bytes = Vec::new();
    bytes
        .try_reserve_exact(about.len() as usize)
        .map_err(|_| Error::new("there is not enough memory to read the file").at(path))?;
    let file = open(path).map_err(failed)?;
    file.take(most + 1)
        .read_to_end(&mut bytes)
        .map_err(failed)?;
    if bytes.len() as u64 > most {
        return Err(too_large());
    }
    let file = InputFile {
        role,
        name: shown_name(path, night),
        bytes: bytes.len() as u64,
        sha256: sha256(&bytes),
    };
    Ok((bytes, file))
}

/// Opens for reading without ever waiting: some files that the system makes up (a log of the kernel) hold a
/// reader until there is more to read.
fn open(path: &Path) -> std::io::Result<std::fs::File> {
    let mut how = std::fs::OpenOptions::new();
    how.read(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt as _;
        how.custom_flags(libc::O_NONBLOCK);
    }
    how.open(path)
}

/// The name relative to the night folder, with `/` on every system.
#[must_use]
pub fn shown_name(path: &Path, night: Option<&Path>) -> String {
    let inside = night.and_then(|night| path.strip_prefix(night).ok());
    let shown = inside.unwrap_or_else(|| Path::new(path.file_name().unwrap_or(path.as_os_str())));
    let parts: Vec<String> = shown
        .components()
        .map(|part| part.as_os_str().to_string_lossy().into_owned())
        .collect();
    parts
        .join("/")
        .chars()
        .filter(|c| !c.is_control())
        .collect()
}

#[cfg(test)]
mod tests;
