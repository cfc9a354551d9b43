//! The order of the rooms: which file of `src/` uses which, read from their `crate::` and `super::` paths.
//!
//! Code for tests only is passed over, and so are names that a parent hands on from a child of its own: a path counts
//! for the deepest file that it names.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

/// The rooms in the order of the flow (`src/lib.rs`): each may use what stands before it.
const ROOMS: [&str; 17] = [
    "error", "units", "geometry", "notation", "findings", "input", "result", "ground", "orders",
    "rig", "site", "verdict", "report", "audit", "measure", "record", "cli",
];

/// Folders and files that hold nothing but tests.
const TESTS: [&str; 3] = ["tests", "trials", "sample"];

/// A file as the path of its module: `["site", "swath", "quad"]`.
type Module = Vec<String>;

/// Which files each file uses.
type Uses = BTreeMap<Module, BTreeSet<Module>>;

/// Every file of `src/` that goes into the program, but for its roots.
fn sources() -> BTreeMap<Module, String> {
    fn walk(folder: &Path, module: &Module, found: &mut BTreeMap<Module, String>) {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_stem().unwrap().to_str().unwrap();
            let mut inner = module.clone();
            if name != "mod" {
                inner.push(name.to_owned());
            }
            if TESTS.contains(&name) || ["lib", "main"].contains(&name) {
                continue;
            }
            if path.is_dir() {
                walk(&path, &inner, found);
            } else if path.extension().is_some_and(|end| end == "rs") {
                found.insert(inner, code(&fs::read_to_string(&path).unwrap()));
            }
        }
    }
    let mut found = BTreeMap::new();
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    walk(&src, &Module::new(), &mut found);
    found
}

/// A file's text without comments and without what is compiled for tests only.
fn code(text: &str) -> String {
    let lines = text.lines().map(|line| line.split("//").next().unwrap());
    let text = lines.collect::<Vec<_>>().join("\n");
    let mut parts = text.split("#[cfg(test)]");
    let mut code = parts.next().unwrap().to_owned();
    for part in parts {
        // The item ends with its block, or with a semicolon before any.
        let mut depth = 0_i32;
        let end = part.char_indices().find(|(_, c)| {
            depth += i32::from(*c == '{') - i32::from(*c == '}');
            depth == 0 && matches!(c, ';' | '}')
        });
        code += end.map_or("", |(at, _)| &part[at + 1..]);
    }
    code
}

/// Names and signs of a text, white space left out.
fn words(text: &str) -> Vec<&str> {
    let mut words = Vec::new();
    let mut rest = text.trim_start();
    while let Some(first) = rest.chars().next() {
        let is_name = |c: char| c.is_alphanumeric() || c == '_';
        let length = match first {
            _ if is_name(first) => rest.find(|c| !is_name(c)).unwrap_or(rest.len()),
            _ if rest.starts_with("::") => 2,
            _ => first.len_utf8(),
        };
        words.push(&rest[..length]);
        rest = rest[length..].trim_start();
    }
    words
}

/// All paths that begin with `crate` or `super`, groups in braces taken apart.
fn paths(words: &[&str]) -> Vec<Vec<String>> {
    fn path(
        words: &[&str],
        mut at: usize,
        mut prefix: Vec<String>,
        found: &mut Vec<Vec<String>>,
    ) -> usize {
        prefix.push(words[at].to_owned());
        at += 1;
        while words.get(at) == Some(&"::") {
            match words[at + 1] {
                "{" => {
                    at += 2;
                    while words[at] != "}" {
                        at = match words[at] {
                            "," => at + 1,
                            _ => path(words, at, prefix.clone(), found),
                        };
                    }
                    return at + 1;
                }
                name => prefix.push(name.to_owned()),
            }
            at += 2;
        }
        if words.get(at) == Some(&"as") {
            at += 2;
        }
        found.push(prefix);
        at
    }
    let mut found = Vec::new();
    let mut at = 0;
    while at < words.len() {
        let begins = ["crate", "super"].contains(&words[at]) && words.get(at + 1) == Some(&"::");
        at = match begins {
            true => path(words, at, Vec::new(), &mut found),
            false => at + 1,
        };
    }
    found
}

/// The deepest file that a path names, seen from a module.
fn file_of(path: &[String], from: &Module, sources: &BTreeMap<Module, String>) -> Module {
    let (mut module, mut rest) = match path[0].as_str() {
        "crate" => (Module::new(), &path[1..]),
        _ => (from.clone(), path),
    };
    while let Some((_, after)) = rest.split_first().filter(|(first, _)| *first == "super") {
        module.pop();
        rest = after;
    }
    for name in rest {
        let deeper = [module.as_slice(), std::slice::from_ref(name)].concat();
        if !sources.contains_key(&deeper) {
            break;
        }
        module = deeper;
    }
    module
}

fn uses() -> Uses {
    let sources = sources();
    let mut uses = Uses::new();
    for (module, code) in &sources {
        let used = paths(&words(code));
        let used = used.iter().map(|path| file_of(path, module, &sources));
        let used = used.filter(|used| used != module && !used.is_empty());
        uses.insert(module.clone(), used.collect());
    }
    uses
}

#[test]
fn every_room_uses_only_rooms_before_it() {
    let place = |module: &Module| {
        let place = ROOMS.iter().position(|room| *room == module[0]);
        place.unwrap_or_else(|| panic!("{} has no place among the rooms", module[0]))
    };
    let mut against = Vec::new();
    let mut arrows = 0;
    for (module, used) in uses() {
        for used in used {
            arrows += 1;
            if place(&used) > place(&module) {
                against.push(format!("{} uses {}", module.join("/"), used.join("/")));
            }
        }
    }
    assert!(arrows > 1_000, "only {arrows} paths were read");
    assert!(against.is_empty(), "{against:#?}");
}

/// Modules beside each other, each with all that is in it, use each other in one order; only a parent and its own
/// children may know each other.
#[test]
fn no_circle_of_files_but_a_parent_with_its_children() {
    let uses = uses();
    let parents: BTreeSet<Module> = uses
        .keys()
        .map(|module| module[..module.len() - 1].to_vec())
        .collect();
    for parent in parents {
        let mut left: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
        let child = |module: &'_ Module| -> Option<usize> {
            (module.len() > parent.len() && module.starts_with(&parent)).then_some(parent.len())
        };
        for (module, used) in &uses {
            let Some(at) = child(module) else { continue };
            let own = module[at].as_str();
            let used = used
                .iter()
                .filter_map(|used| Some(used[child(used)?].as_str()));
            left.entry(own)
                .or_default()
                .extend(used.filter(|used| *used != own));
        }
        // Whoever uses nobody who is left may go; a circle stays.
        loop {
            let free: Vec<&str> = left
                .iter()
                .filter(|(_, used)| !used.iter().any(|used| left.contains_key(used)))
                .map(|(own, _)| *own)
                .collect();
            // So may whom nobody of them uses.
            let used: BTreeSet<&str> = left.values().flatten().copied().collect();
            let before = left.len();
            left.retain(|own, _| !free.contains(own) && used.contains(own));
            if left.len() == before {
                break;
            }
        }
        let parent = parent.join("/");
        assert!(left.is_empty(), "circle in {parent}: {left:#?}");
    }
}

/// Types of the document `audit.json`, `result`, that are named like what they tell of.
const TOLD: [&str; 6] = ["Application", "Order", "Run", "Site", "Visit", "Zone"];

/// Public types of a text.
fn types(code: &str) -> Vec<&str> {
    let lines = code
        .lines()
        .filter_map(|line| line.trim_start().strip_prefix("pub "));
    let named = lines.filter_map(|line| {
        let (kind, rest) = line.split_once(' ')?;
        ["struct", "enum", "trait", "type"]
            .contains(&kind)
            .then_some(rest)
    });
    named
        .filter_map(|rest| rest.split(|c: char| !c.is_alphanumeric()).next())
        .collect()
}

#[test]
fn a_public_type_name_stands_once_or_once_more_in_the_document() {
    let sources = sources();
    let mut known: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    for (module, code) in &sources {
        for name in types(code) {
            known.entry(name).or_default().push(module.join("::"));
        }
    }
    assert!(known.len() > 300, "only {} types were read", known.len());
    known.retain(|name, places| {
        let told = TOLD.contains(name) && places.iter().any(|place| place == "result");
        places.len() > 1 + usize::from(told)
    });
    assert!(known.is_empty(), "{known:#?}");
}

#[test]
fn what_the_document_names_like_its_origin_is_written_with_its_module() {
    let bare = |(module, code): (&Module, &String)| -> Vec<String> {
        let of_document = |path: &&Vec<String>| path.len() == 3 && path[1] == "result";
        let paths = paths(&words(code));
        let named = paths
            .iter()
            .filter(of_document)
            .map(|path| path[2].as_str());
        let named = named.filter(|name| TOLD.contains(name));
        named
            .map(|name| format!("{}: {name}", module.join("/")))
            .collect()
    };
    let in_uses = |(module, code): (&Module, &String)| -> Vec<String> {
        let uses: String = code
            .split_inclusive(';')
            .filter_map(|item| Some(&item[item.find("use ")?..]))
            .collect();
        bare((module, &uses))
    };
    let found: Vec<String> = sources().iter().flat_map(in_uses).collect();
    assert!(found.is_empty(), "{found:#?}");
}

#[test]
fn paths_are_read_with_their_groups() {
    let text = "use crate::a::{self, b::{C, D as E}, f}; // use crate::no;\nfn x() { super::super::g::H::new() }\n\
                #[cfg(test)]\nmod tests { use crate::never::Seen; }";
    let found: Vec<String> = paths(&words(&code(text)))
        .iter()
        .map(|path| path.join("::"))
        .collect();
    assert_eq!(
        found,
        [
            "crate::a::self",
            "crate::a::b::C",
            "crate::a::b::D",
            "crate::a::f",
            "super::super::g::H::new"
        ]
    );
}
