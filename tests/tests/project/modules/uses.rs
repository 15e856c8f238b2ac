//! What the `use` lines of a source name.

use std::collections::{BTreeMap, BTreeSet};

use super::Name;

/// The source without comments, and without the tests that stand in it.
pub fn without_comments_and_tests(source: &str) -> String {
    let code: Vec<&str> = source
        .lines()
        .map(|line| line.find("//").map_or(line, |comment| &line[..comment]))
        .take_while(|line| !line.trim_start().starts_with("mod tests {"))
        .collect();
    code.join("\n")
}

/// The modules of the crate that a module's `use` lines name, itself apart. What is only handed on
/// (`pub use`) is no use.
pub fn of(source: &str, module: &Name, modules: &BTreeMap<Name, String>) -> BTreeSet<Name> {
    let mut named = BTreeSet::new();
    for statement in source.split(';') {
        let Some(tree) = tree_of(statement) else { continue };
        for path in paths(&tree) {
            named.extend(module_of(&path, module, modules).filter(|name| name != module));
        }
    }
    named
}

/// The tree of a statement that is a `use`, on one line.
fn tree_of(statement: &str) -> Option<String> {
    let start = statement.rmatch_indices("use ").find(|(at, _)| {
        let before = statement[..*at].trim_end_matches(' ');
        before.is_empty() || before.ends_with('\n')
    })?;
    Some(statement[start.0 + 4..].split_whitespace().collect())
}

/// Every path of a tree.
fn paths(tree: &str) -> Vec<String> {
    let Some((before, rest)) = tree.split_once('{') else {
        return vec![tree.to_owned()];
    };
    let inner = rest.strip_suffix('}').unwrap_or(rest);
    let mut depth = 0;
    let mut items = vec![String::new()];
    for character in inner.chars() {
        match character {
            '{' => depth += 1,
            '}' => depth -= 1,
            _ => {}
        }
        if character == ',' && depth == 0 {
            items.push(String::new());
        } else if let Some(item) = items.last_mut() {
            item.push(character);
        }
    }
    let items = items.iter().filter(|item| !item.is_empty());
    items.flat_map(|item| paths(item)).map(|path| format!("{before}{path}")).collect()
}

/// The module of the crate that a path leads into.
fn module_of(path: &str, module: &Name, modules: &BTreeMap<Name, String>) -> Option<Name> {
    let parts: Vec<&str> = path.split("::").collect();
    let (mut name, rest) = match parts.as_slice() {
        ["crate", rest @ ..] => (Name::new(), rest),
        ["self", rest @ ..] => (module.clone(), rest),
        ["super", ..] => {
            let ups = parts.iter().take_while(|part| **part == "super").count();
            (module[..module.len().saturating_sub(ups)].to_vec(), &parts[ups..])
        }
        [first, ..] => {
            let child = [module.as_slice(), &[(*first).to_owned()]].concat();
            if !modules.contains_key(&child) {
                return None;
            }
            (module.clone(), parts.as_slice())
        }
        [] => return None,
    };
    for part in rest {
        let longer = [name.as_slice(), &[(*part).to_owned()]].concat();
        // What a parent keeps to itself and hands a thing of the same name on from is that thing.
        let is_open = module.starts_with(&name)
            || modules.get(&name).is_some_and(|parent| declares_openly(parent, part));
        if !modules.contains_key(&longer) || !is_open {
            break;
        }
        name = longer;
    }
    Some(name)
}

/// Whether a module lets others name a module in it.
fn declares_openly(parent: &str, name: &str) -> bool {
    let declaration = format!("mod {name};");
    parent.lines().any(|line| line.trim_start().starts_with("pub") && line.ends_with(&declaration))
}

#[test]
fn nested_and_relative_uses_are_found() {
    let named = |name: &str| name.split("::").map(str::to_owned).collect::<Name>();
    let mut modules = BTreeMap::from([(Name::new(), "mod a;\npub mod d;\n".to_owned())]);
    for name in ["a", "a::b", "a::b::c", "d", "d::e", "d::g"] {
        modules.insert(named(name), "pub mod e;\nmod g;\n".to_owned());
    }
    let here: Name = vec!["a".into(), "b".into()];
    let source = "mod c;\n\nuse std::fmt;\n\nuse crate::d::{self, X};\nuse super::{Y, b::c::Z};\n\
                  use c::W;\npub use crate::d::V;\n\
                  use crate::d::e::Q;\nuse crate::d::g;\nfn f() { g(); }\n";
    let found: Vec<String> =
        of(source, &here, &modules).iter().map(|name| super::written(name)).collect();
    assert_eq!(found, ["a", "a::b::c", "d", "d::e"]);
}
