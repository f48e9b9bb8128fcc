//! Which modules of a crate use which, read from its sources as the compiler would: grouped `use`, `self`, `super`,
//! paths in expressions and types, and re-exports followed to the module that defines the thing.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use syn::visit::Visit;
use syn::{Attribute, Item, UseTree};

/// A module by the names of its path below the crate.
pub type Module = Vec<String>;

/// One source file.
struct Source {
    /// Its path below `src`, with `/`.
    file: String,
    ast: syn::File,
    /// Used in tests only.
    test: bool,
}

impl Source {
    /// Whether it has an `impl` of its own for a type that it does not define.
    fn gives_methods(&self) -> bool {
        let defined = |name: &syn::Ident| {
            self.ast.items.iter().any(|item| match item {
                Item::Struct(of) => of.ident == *name,
                Item::Enum(of) => of.ident == *name,
                Item::Union(of) => of.ident == *name,
                _ => false,
            })
        };
        self.ast.items.iter().any(|item| match item {
            Item::Impl(of) if of.trait_.is_none() => match &*of.self_ty {
                syn::Type::Path(path) => path.path.get_ident().is_some_and(|name| !defined(name)),
                _ => false,
            },
            _ => false,
        })
    }
}

/// The modules of one crate.
pub struct Imports {
    sources: BTreeMap<Module, Source>,
}

fn is_test(attributes: &[Attribute]) -> bool {
    attributes.iter().any(|attribute| {
        let tokens = attribute.meta.require_list().map(|list| list.tokens.to_string()).unwrap_or_default();
        attribute.path().is_ident("cfg") && tokens == "test"
    })
}

fn attributes(item: &Item) -> &[Attribute] {
    match item {
        Item::Mod(of) => &of.attrs,
        Item::Use(of) => &of.attrs,
        Item::Fn(of) => &of.attrs,
        Item::Impl(of) => &of.attrs,
        _ => &[],
    }
}

/// Every path that a file names, as segments.
#[derive(Default)]
struct Paths(Vec<Vec<String>>);

impl Paths {
    fn tree(&mut self, before: &[String], tree: &UseTree) {
        let with = |name: String| [before, &[name]].concat();
        match tree {
            UseTree::Path(path) => self.tree(&with(path.ident.to_string()), &path.tree),
            UseTree::Name(name) => self.0.push(with(name.ident.to_string())),
            UseTree::Rename(name) => self.0.push(with(name.ident.to_string())),
            UseTree::Glob(_) => self.0.push(with("*".to_owned())),
            UseTree::Group(group) => group.items.iter().for_each(|item| self.tree(before, item)),
        }
    }
}

impl<'ast> Visit<'ast> for Paths {
    fn visit_item(&mut self, item: &'ast Item) {
        if !is_test(attributes(item)) {
            syn::visit::visit_item(self, item);
        }
    }

    fn visit_item_use(&mut self, item: &'ast syn::ItemUse) {
        self.tree(&[], &item.tree);
    }

    fn visit_path(&mut self, path: &'ast syn::Path) {
        self.0.push(path.segments.iter().map(|segment| segment.ident.to_string()).collect());
        syn::visit::visit_path(self, path);
    }
}

impl Imports {
    /// Reads the sources below a folder `src`.
    ///
    /// # Panics
    /// When a file cannot be read or parsed.
    #[must_use]
    pub fn read(src: &Path) -> Self {
        let mut imports = Self { sources: BTreeMap::new() };
        imports.module(src, "lib.rs", Vec::new(), false);
        imports
    }

    fn module(&mut self, src: &Path, file: &str, module: Module, test: bool) {
        let text = fs::read_to_string(src.join(file)).unwrap_or_else(|error| panic!("{file}: {error}"));
        let ast = syn::parse_file(&text).unwrap_or_else(|error| panic!("{file}: {error}"));
        let folder = match file.rsplit_once('/') {
            Some((folder, "mod.rs")) => folder.to_owned(),
            _ if file == "lib.rs" => String::new(),
            _ => file.trim_end_matches(".rs").to_owned(),
        };
        for item in &ast.items {
            let Item::Mod(declared) = item else { continue };
            // A file from elsewhere is a test's: the product lies below `src`.
            let elsewhere = declared.attrs.iter().any(|attribute| attribute.path().is_ident("path"));
            assert!(!elsewhere || test || is_test(&declared.attrs), "{file}: a part from elsewhere");
            if declared.content.is_some() || elsewhere {
                continue;
            }
            let name = declared.ident.to_string();
            let stem = if folder.is_empty() { name.clone() } else { format!("{folder}/{name}") };
            let flat = format!("{stem}.rs");
            let found = if src.join(&flat).exists() { flat } else { format!("{stem}/mod.rs") };
            let below = [module.as_slice(), &[name]].concat();
            self.module(src, &found, below, test || is_test(&declared.attrs));
        }
        self.sources.insert(module, Source { file: file.to_owned(), ast, test });
    }

    /// The files, by their paths below `src`, that are part of the product.
    pub fn files(&self) -> impl Iterator<Item = &str> {
        self.sources.values().filter(|source| !source.test).map(|source| source.file.as_str())
    }

    /// For each file of the product, the files that define what it names.
    #[must_use]
    pub fn uses(&self) -> BTreeMap<&str, BTreeSet<&str>> {
        let product = self.sources.iter().filter(|(_, source)| !source.test);
        product
            .map(|(module, source)| {
                let mut paths = Paths::default();
                paths.visit_file(&source.ast);
                let named = paths.0.iter().filter_map(|path| self.defines(module, path, 0));
                let used = named.chain(self.extended_by(module));
                (source.file.as_str(), used.filter(|file| *file != source.file).collect())
            })
            .collect()
    }

    /// All files that `from` is made from, itself among them, where `within` lets them count.
    #[must_use]
    pub fn closure(&self, from: &str, within: impl Fn(&str) -> bool) -> BTreeSet<&str> {
        let uses = self.uses();
        let mut found = BTreeSet::new();
        let mut open: Vec<&str> = uses.keys().copied().filter(|file| *file == from).collect();
        while let Some(file) = open.pop() {
            if within(file) && found.insert(file) {
                open.extend(uses.get(file).into_iter().flatten());
            }
        }
        found
    }

    /// The files of the modules below `module` that give methods to types defined elsewhere: no path names them.
    fn extended_by(&self, module: &[String]) -> impl Iterator<Item = &str> {
        let below = self.sources.iter().filter(move |(child, source)| {
            !source.test && child.split_last().is_some_and(|(_, parent)| parent == module)
        });
        below.filter(|(_, source)| source.gives_methods()).map(|(_, source)| source.file.as_str())
    }

    /// The path by which a `use` of `module` brings `name` in.
    fn brought_in(&self, module: &[String], name: &str) -> Option<Vec<String>> {
        let mut used = Paths::default();
        for item in &self.sources.get(module)?.ast.items {
            if let Item::Use(item) = item {
                used.tree(&[], &item.tree);
            }
        }
        let mut paths = used.0.into_iter().map(|mut path| {
            path.pop_if(|last| last == "self");
            path
        });
        paths.find(|path| path.len() > 1 && path.last().is_some_and(|last| last == name))
    }

    /// The file that defines what a path named in `module` leads to; `None` outside the crate.
    fn defines(&self, module: &[String], path: &[String], depth: usize) -> Option<&str> {
        let mut at: Module = match path.first()?.as_str() {
            "crate" => Vec::new(),
            "self" => module.to_vec(),
            "super" => module.split_last()?.1.to_vec(),
            name => {
                let child = [module, &[name.to_owned()]].concat();
                if self.sources.contains_key(&child) {
                    return self.defines(module, &[&["self".to_owned()], path].concat(), depth);
                }
                let brought_in = self.brought_in(module, name).filter(|_| path.len() > 1 && depth < 5)?;
                return self.defines(module, &[brought_in.as_slice(), &path[1..]].concat(), depth + 1);
            }
        };
        let mut rest = &path[1..];
        while rest.first().is_some_and(|name| name == "super") {
            at.pop();
            rest = &rest[1..];
        }
        while let Some(name) = rest.first() {
            let child = [at.as_slice(), std::slice::from_ref(name)].concat();
            if !self.sources.contains_key(&child) {
                break;
            }
            at = child;
            rest = &rest[1..];
        }
        let source = self.sources.get(&at)?;
        // A re-export leads on to the module that holds the thing.
        if let (Some(name), true) = (rest.first(), depth < 5) {
            for item in &source.ast.items {
                let Item::Use(item) = item else { continue };
                let mut exported = Paths::default();
                exported.tree(&[], &item.tree);
                for path in exported.0 {
                    if path.last() == Some(name) && (at != module || depth > 0) {
                        return self.defines(&at, &path, depth + 1).or(Some(&source.file));
                    }
                }
            }
        }
        Some(&source.file)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn grouped_relative_and_re_exported_names_are_followed() {
        let folder = tempfile::tempdir().unwrap();
        let put = |name: &str, text: &str| {
            let path = folder.path().join(name);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, text).unwrap();
        };
        put("lib.rs", "pub mod low; pub mod high; #[cfg(test)] mod checks;");
        put("low/mod.rs", "mod thing; pub use thing::Thing; pub mod other; mod more;");
        put("low/more.rs", "use super::Thing; impl Thing { fn more(&self) {} }");
        put("low/thing.rs", "pub struct Thing;");
        put("low/other.rs", "pub fn other() -> super::thing::Thing { super::Thing }");
        put(
            "high.rs",
            "use crate::{low::{self, Thing}}; fn f(_: Thing) { low::other::other(); }
             #[cfg(test)] mod tests { use crate::checks; }",
        );
        put("checks.rs", "use crate::high;");
        let imports = Imports::read(folder.path());
        let uses = imports.uses();
        assert_eq!(uses["high.rs"], BTreeSet::from(["low/mod.rs", "low/other.rs", "low/thing.rs"]));
        assert_eq!(uses["low/other.rs"], BTreeSet::from(["low/thing.rs"]));
        assert!(!uses.contains_key("checks.rs"), "tests are no part of the product");
        assert_eq!(
            imports.closure("high.rs", |_| true),
            BTreeSet::from(["high.rs", "low/mod.rs", "low/more.rs", "low/other.rs", "low/thing.rs"])
        );
        assert_eq!(uses["low/mod.rs"], BTreeSet::from(["low/more.rs", "low/thing.rs"]));
    }
}
