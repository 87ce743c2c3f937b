//! What one file of code uses, by its parsed paths.
//!
//! Read are `use` trees, paths in expressions, types and patterns, paths inside macro calls and attributes. Left out are
//! items under `#[cfg(test)]`, visibilities and comments.
use std::collections::{BTreeMap, BTreeSet};

use syn::buffer::{Cursor, TokenBuffer};
use syn::ext::IdentExt;
use syn::visit::{self, Visit};
use syn::{Attribute, ImplItem, Item, ItemUse, Macro, Meta, Path, Stmt, UseTree, Visibility};

/// A path as names, the module of the crate it stands in, and whether it is a glob.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Written {
    module: Vec<String>,
    names: Vec<String>,
    glob: bool,
    /// Begins with `::`: an outside crate whatever else has its name.
    outside: bool,
}

/// A path whose beginning is known.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Used {
    /// From the root of the crate.
    Inside { path: Vec<String>, glob: bool },
    /// The name of an outside crate first; macros of the standard library as `println!`.
    Outside { path: Vec<String>, glob: bool },
}

impl Used {
    /// As one would write it.
    pub fn text(&self) -> String {
        let (mut names, path, glob) = match self {
            Self::Inside { path, glob } => (vec!["crate"], path, glob),
            Self::Outside { path, glob } => (Vec::new(), path, glob),
        };
        names.extend(path.iter().map(String::as_str));
        if *glob {
            names.push("*");
        }
        names.join("::")
    }
}

/// What one file holds that the rules look at.
#[derive(Debug, Default)]
pub struct Source {
    /// Module of the file from the root of the crate.
    pub module: Vec<String>,
    /// Everything it uses.
    pub used: BTreeSet<Used>,
    /// Structs, enums, traits, unions and type aliases it defines.
    pub types: Vec<String>,
    /// What a `pub use` makes known under a name of this module.
    pub shown: BTreeMap<String, Vec<String>>,
}

impl Source {
    /// Parses a file; `outside` are the crates it can name.
    pub fn parse(module: &[String], text: &str, outside: &BTreeSet<String>) -> syn::Result<Self> {
        let file = syn::parse_file(text)?;
        let mut reader = Reader { at: module.to_vec(), ..Reader::default() };
        reader.visit_file(&file);
        Ok(reader.finish(module, outside))
    }
}

/// Walks the syntax of one file.
#[derive(Default)]
struct Reader {
    /// Module the walk is in, inline modules included.
    at: Vec<String>,
    written: Vec<Written>,
    /// Names that `use` brings in, in the module where it does.
    names: BTreeMap<(Vec<String>, String), BTreeSet<Written>>,
    shown: Vec<(String, Written)>,
    modules: Vec<Vec<String>>,
    types: Vec<String>,
}

impl Reader {
    fn path(&self, names: Vec<String>, glob: bool, outside: bool) -> Written {
        Written { module: self.at.clone(), names, glob, outside }
    }

    /// Takes one `use` tree apart.
    fn tree(&mut self, tree: &UseTree, before: &[String], item: &ItemUse) {
        let outside = item.leading_colon.is_some();
        let with = |name: String| [before, &[name]].concat();
        match tree {
            UseTree::Path(p) => self.tree(&p.tree, &with(p.ident.unraw().to_string()), item),
            UseTree::Group(g) => g.items.iter().for_each(|t| self.tree(t, before, item)),
            UseTree::Glob(_) => self.written.push(self.path(before.to_vec(), true, outside)),
            UseTree::Name(n) if n.ident == "self" && !before.is_empty() => {
                let name = before.last().cloned().unwrap_or_default();
                self.bring(before.to_vec(), &name, item);
            }
            UseTree::Name(n) => self.bring(with(n.ident.unraw().to_string()), &n.ident.unraw().to_string(), item),
            UseTree::Rename(r) if r.ident == "self" && !before.is_empty() => {
                self.bring(before.to_vec(), &r.rename.unraw().to_string(), item);
            }
            UseTree::Rename(r) => {
                self.bring(with(r.ident.unraw().to_string()), &r.rename.unraw().to_string(), item);
            }
        }
    }

    /// Notes a use and the name it is known under from here on.
    fn bring(&mut self, names: Vec<String>, name: &str, item: &ItemUse) {
        let written = self.path(names, false, item.leading_colon.is_some());
        if !matches!(item.vis, Visibility::Inherited) {
            self.shown.push((name.to_string(), written.clone()));
        }
        self.names.entry((self.at.clone(), name.to_string())).or_default().insert(written.clone());
        self.written.push(written);
    }

    /// Paths among the tokens of a macro call or an attribute.
    fn tokens(&mut self, mut cursor: Cursor) {
        let mut names: Vec<String> = Vec::new();
        let mut colons = 0;
        while !cursor.eof() {
            if let Some((ident, rest)) = cursor.ident() {
                if colons < 2 {
                    self.token_path(&mut names);
                }
                names.push(ident.unraw().to_string());
                (colons, cursor) = (0, rest);
            } else if let Some((punct, rest)) = cursor.punct() {
                match punct.as_char() {
                    ':' if !names.is_empty() => colons += 1,
                    '!' if colons == 0 && !names.is_empty() => {
                        names.last_mut().into_iter().for_each(|n| n.push('!'));
                        self.token_path(&mut names);
                    }
                    _ => self.token_path(&mut names),
                }
                cursor = rest;
            } else if let Some((inner, _, _, rest)) = cursor.any_group() {
                // `a::{b, c}` inside a macro: what stands before the braces is enough.
                self.token_path(&mut names);
                self.tokens(inner);
                cursor = rest;
            } else {
                self.token_path(&mut names);
                let Some((_, rest)) = cursor.token_tree() else { break };
                cursor = rest;
            }
        }
        self.token_path(&mut names);
    }

    fn token_path(&mut self, names: &mut Vec<String>) {
        let names = std::mem::take(names);
        if names.len() > 1 || names.iter().any(|n| n.ends_with('!')) {
            self.written.push(self.path(names, false, false));
        }
    }

    /// Gives every path its beginning.
    fn finish(self, module: &[String], outside: &BTreeSet<String>) -> Source {
        let known = Known { names: &self.names, modules: &self.modules, outside };
        let used = self.written.iter().flat_map(|w| known.resolve(w, 0)).collect();
        let shown = self.shown.iter().filter_map(|(name, w)| match known.resolve(w, 0).into_iter().next() {
            Some(Used::Inside { path, .. }) => Some((name.clone(), path)),
            _ => None,
        });
        let shown = shown.collect();
        Source { module: module.to_vec(), used, shown, types: self.types }
    }
}

/// What the names of a file stand for.
struct Known<'a> {
    names: &'a BTreeMap<(Vec<String>, String), BTreeSet<Written>>,
    modules: &'a [Vec<String>],
    outside: &'a BTreeSet<String>,
}

impl Known<'_> {
    /// A written path from the root of the crate, or from an outside crate; nothing for names that are neither.
    fn resolve(&self, written: &Written, depth: usize) -> Vec<Used> {
        let glob = written.glob;
        let Some(first) = written.names.first() else {
            return Vec::new();
        };
        let outside = || vec![Used::Outside { path: written.names.clone(), glob }];
        if written.outside {
            return outside();
        }
        if let Some(path) = rooted(&written.module, &written.names) {
            return vec![Used::Inside { path, glob }];
        }
        let child = [&written.module[..], std::slice::from_ref(first)].concat();
        if self.modules.contains(&child) {
            return vec![Used::Inside { path: [&written.module[..], &written.names[..]].concat(), glob }];
        }
        let brought = self.names.get(&(written.module.clone(), first.clone()));
        let others = brought.into_iter().flatten().filter(|w| *w != written && w.names != written.names);
        let found: Vec<Used> = others
            .filter(|_| depth < 8)
            .flat_map(|w| {
                let names = [&w.names[..], &written.names[1..]].concat();
                self.resolve(&Written { names, glob, ..w.clone() }, depth + 1)
            })
            .collect();
        let crate_or_macro = self.outside.contains(first) || first.ends_with('!');
        if found.is_empty() && crate_or_macro { outside() } else { found }
    }
}

/// A path that begins with `crate`, `self` or `super`, from the root of the crate.
fn rooted(module: &[String], names: &[String]) -> Option<Vec<String>> {
    let mut at = match names.first()?.as_str() {
        "crate" => Vec::new(),
        "self" | "super" => module.to_vec(),
        _ => return None,
    };
    for name in names {
        match name.as_str() {
            "crate" | "self" => {}
            "super" => {
                at.pop();
            }
            other => at.push(other.to_string()),
        }
    }
    Some(at)
}

/// Whether attributes leave something to tests alone.
fn for_tests(attributes: &[Attribute]) -> bool {
    attributes.iter().any(|a| match &a.meta {
        Meta::List(list) => list.path.is_ident("cfg") && list.tokens.to_string() == "test",
        _ => false,
    })
}

fn attributes(item: &Item) -> &[Attribute] {
    match item {
        Item::Const(i) => &i.attrs,
        Item::Enum(i) => &i.attrs,
        Item::ExternCrate(i) => &i.attrs,
        Item::Fn(i) => &i.attrs,
        Item::Impl(i) => &i.attrs,
        Item::Macro(i) => &i.attrs,
        Item::Mod(i) => &i.attrs,
        Item::Static(i) => &i.attrs,
        Item::Struct(i) => &i.attrs,
        Item::Trait(i) => &i.attrs,
        Item::Type(i) => &i.attrs,
        Item::Union(i) => &i.attrs,
        Item::Use(i) => &i.attrs,
        _ => &[],
    }
}

/// The name of a type an item defines.
fn type_name(item: &Item) -> Option<String> {
    let name = match item {
        Item::Enum(i) => &i.ident,
        Item::Struct(i) => &i.ident,
        Item::Trait(i) => &i.ident,
        Item::Type(i) => &i.ident,
        Item::Union(i) => &i.ident,
        _ => return None,
    };
    Some(name.to_string())
}

impl<'ast> Visit<'ast> for Reader {
    fn visit_item(&mut self, item: &'ast Item) {
        if for_tests(attributes(item)) {
            return;
        }
        self.types.extend(type_name(item));
        if let Item::Mod(module) = item {
            self.at.push(module.ident.unraw().to_string());
            self.modules.push(self.at.clone());
            visit::visit_item(self, item);
            self.at.pop();
        } else {
            visit::visit_item(self, item);
        }
    }
    fn visit_impl_item(&mut self, item: &'ast ImplItem) {
        let tests = match item {
            ImplItem::Fn(f) => for_tests(&f.attrs),
            ImplItem::Const(c) => for_tests(&c.attrs),
            _ => false,
        };
        if !tests {
            visit::visit_impl_item(self, item);
        }
    }
    fn visit_stmt(&mut self, statement: &'ast Stmt) {
        let tests = match statement {
            Stmt::Local(l) => for_tests(&l.attrs),
            Stmt::Macro(m) => for_tests(&m.attrs),
            Stmt::Item(_) | Stmt::Expr(..) => false,
        };
        if !tests {
            visit::visit_stmt(self, statement);
        }
    }
    fn visit_item_use(&mut self, item: &'ast ItemUse) {
        self.tree(&item.tree, &[], item);
    }
    fn visit_item_extern_crate(&mut self, item: &'ast syn::ItemExternCrate) {
        let name = item.ident.unraw().to_string();
        let known_as = item.rename.as_ref().map_or(name.clone(), |(_, n)| n.unraw().to_string());
        let written = self.path(vec![name], false, true);
        self.names.entry((self.at.clone(), known_as)).or_default().insert(written.clone());
        self.written.push(written);
    }
    fn visit_path(&mut self, path: &'ast Path) {
        let names: Vec<String> = path.segments.iter().map(|s| s.ident.unraw().to_string()).collect();
        if names.len() > 1 {
            self.written.push(self.path(names, false, path.leading_colon.is_some()));
        }
        visit::visit_path(self, path);
    }
    fn visit_macro(&mut self, call: &'ast Macro) {
        if let Some(name) = call.path.segments.last() {
            self.written.push(self.path(vec![format!("{}!", name.ident)], false, false));
        }
        self.tokens(TokenBuffer::new2(call.tokens.clone()).begin());
        visit::visit_macro(self, call);
    }
    fn visit_attribute(&mut self, attribute: &'ast Attribute) {
        if let Meta::List(list) = &attribute.meta {
            self.tokens(TokenBuffer::new2(list.tokens.clone()).begin());
        }
        visit::visit_attribute(self, attribute);
    }
    // `pub(in crate::x)` says who may use a thing; it uses nothing.
    fn visit_visibility(&mut self, _: &'ast Visibility) {}
}
