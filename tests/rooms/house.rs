//! The files of `src/` together: which module uses which, and where they go in circles.
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use crate::paths::{Source, Used};

/// Module of a file or folder, from the root of the crate.
pub type Module = Vec<String>;

/// Every source of the crate that is not a test.
#[derive(Debug, Default)]
pub struct House {
    sources: BTreeMap<Module, Source>,
}

impl House {
    /// Reads a folder of sources.
    pub fn read(src: &Path, outside: &BTreeSet<String>) -> Self {
        let texts = texts(src);
        Self::of(texts.iter().map(|(m, t)| (m.clone(), t.as_str())), outside)
    }

    /// From modules and their texts.
    pub fn of<'t>(texts: impl Iterator<Item = (Module, &'t str)>, outside: &BTreeSet<String>) -> Self {
        let parse = |(module, text): (Module, &str)| {
            let source = Source::parse(&module, text, outside).unwrap_or_else(|e| panic!("{module:?}: {e}"));
            (module, source)
        };
        Self { sources: texts.map(parse).collect() }
    }

    pub fn sources(&self) -> impl Iterator<Item = &Source> {
        self.sources.values()
    }

    /// From the root of the crate to where a thing is defined: what `lib.rs` shows under a short name is followed.
    fn followed(&self, path: &[String]) -> Module {
        let root = self.sources.get(&Module::new());
        let shown = path.first().and_then(|first| root?.shown.get(first));
        shown.map_or_else(|| path.to_vec(), |long| [&long[..], &path[1..]].concat())
    }

    /// Rooms (or files beside them) a path reaches into; all of them for a glob over the root.
    pub fn rooms_of(&self, path: &[String], glob: bool) -> BTreeSet<String> {
        let path = self.followed(path);
        match path.first() {
            Some(room) => BTreeSet::from([room.clone()]),
            None if glob => self.sources.keys().filter_map(|m| m.first().cloned()).collect(),
            None => BTreeSet::new(),
        }
    }

    /// The file a path leads into: the longest part of it that is one.
    fn file_of(&self, path: &[String]) -> Module {
        let path = self.followed(path);
        let longest = (0..=path.len()).rev().find(|n| self.sources.contains_key(&path[..*n]));
        path[..longest.unwrap_or(0)].to_vec()
    }

    /// Files and folders that use each other in a circle, one line each: `folder: a, b` for things of a folder,
    /// `folder: a, mod.rs` for what uses the `mod.rs` of the folder it lies in.
    pub fn circles(&self) -> BTreeSet<String> {
        let mut lines = BTreeSet::new();
        let mut edges: BTreeMap<Module, BTreeMap<String, BTreeSet<String>>> = BTreeMap::new();
        for (from, source) in &self.sources {
            for used in &source.used {
                let Used::Inside { path, .. } = used else { continue };
                let to = self.file_of(path);
                let shared = from.iter().zip(&to).take_while(|(a, b)| a == b).count();
                let folder = &from[..shared];
                match (from.get(shared), to.get(shared)) {
                    (Some(a), Some(b)) => {
                        let folder = edges.entry(folder.to_vec()).or_default();
                        folder.entry(a.clone()).or_default().insert(b.clone());
                    }
                    // The root only declares rooms.
                    (Some(a), None) if !folder.is_empty() => {
                        lines.insert(format!("{}: {a}, mod.rs", folder.join("/")));
                    }
                    _ => {}
                }
            }
        }
        for (folder, edges) in &edges {
            lines.extend(groups(edges).iter().map(|g| format!("{}: {}", folder.join("/"), g.join(", "))));
        }
        lines
    }
}

/// Members that reach each other, at least two at a time.
fn groups(edges: &BTreeMap<String, BTreeSet<String>>) -> Vec<Vec<String>> {
    let reach: BTreeMap<&String, BTreeSet<&String>> = edges.keys().map(|a| (a, reached(edges, a))).collect();
    let mut out: Vec<Vec<String>> = Vec::new();
    for (a, from_a) in &reach {
        let both = |b: &&&String| reach.get(**b).is_some_and(|from_b| from_b.contains(a));
        let group: Vec<String> = from_a.iter().filter(both).map(|b| (**b).clone()).collect();
        if group.len() > 1 && !out.contains(&group) {
            out.push(group);
        }
    }
    out
}

fn reached<'e>(edges: &'e BTreeMap<String, BTreeSet<String>>, from: &String) -> BTreeSet<&'e String> {
    let mut seen = BTreeSet::new();
    let mut open: Vec<&String> = edges.get(from).into_iter().flatten().collect();
    while let Some(next) = open.pop() {
        if seen.insert(next) {
            open.extend(edges.get(next).into_iter().flatten());
        }
    }
    seen
}

/// Modules of a folder of sources and their texts, tests left out.
pub fn texts(src: &Path) -> Vec<(Module, String)> {
    let mut out = Vec::new();
    texts_below(src, &mut Vec::new(), &mut out);
    out
}

/// Every Rust file of a folder by its path, tests too.
pub fn files(folder: &Path) -> Vec<(String, String)> {
    let mut out = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            out.extend(files(&path));
        } else if path.extension().is_some_and(|e| e == "rs") {
            out.push((path.display().to_string(), std::fs::read_to_string(&path).unwrap()));
        }
    }
    out
}

/// Whether a file name is of code that is not a test.
fn is_source(name: &str) -> bool {
    name.ends_with(".rs") && !name.starts_with("test") && name != "main.rs"
}

fn texts_below(folder: &Path, module: &mut Module, out: &mut Vec<(Module, String)>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if path.is_dir() {
            module.push(name);
            texts_below(&path, module, out);
            module.pop();
        } else if is_source(&name) {
            let mut at = module.clone();
            at.extend(name.strip_suffix(".rs").filter(|n| *n != "mod" && *n != "lib").map(str::to_string));
            out.push((at, std::fs::read_to_string(&path).unwrap()));
        }
    }
}
