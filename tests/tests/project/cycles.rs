//! Modules form no circles, parent and child apart, and none knows half its crate.

use std::collections::{BTreeMap, BTreeSet};

use crate::modules::{Crate, Name, written};

/// Other modules that one may name in its `use` lines.
const MOST_USES: usize = 12;

/// Circles that are known: two rooms that name each other, and why.
const KNOWN: [(&str, [&str; 2], &str); 2] = [
    (
        "plugin/measure/src",
        ["compare::assemble", "compare::judge"],
        "the comparison's middle is redesigned as a whole",
    ),
    (
        "plugin/measure/src",
        ["compare::coarse::search", "compare::coarse::tracks"],
        "the comparison's middle is redesigned as a whole",
    ),
];

/// Which rooms a room names, of those beside it: a room is a module and all below it. Parent and
/// child are no two rooms.
fn named_beside(krate: &Crate) -> BTreeMap<Name, BTreeSet<Name>> {
    let mut beside: BTreeMap<Name, BTreeSet<Name>> = BTreeMap::new();
    for (name, module) in &krate.modules {
        for used in &module.uses {
            let common = name.iter().zip(used).take_while(|(own, other)| own == other).count();
            if common < name.len() && common < used.len() {
                let room = beside.entry(name[..=common].to_vec()).or_default();
                room.insert(used[..=common].to_vec());
            }
        }
    }
    beside
}

/// A way from a room back to itself, if there is one.
fn circle(start: &Name, beside: &BTreeMap<Name, BTreeSet<Name>>) -> Option<Vec<String>> {
    let mut seen = BTreeSet::new();
    let mut ways = vec![vec![start.clone()]];
    while let Some(way) = ways.pop() {
        for next in beside.get(way.last()?).into_iter().flatten() {
            let longer = [way.as_slice(), std::slice::from_ref(next)].concat();
            if next == start {
                return Some(longer.iter().map(|name| written(name)).collect());
            }
            if seen.insert(next.clone()) {
                ways.push(longer);
            }
        }
    }
    None
}

#[test]
fn no_room_leads_back_to_itself() {
    for krate in Crate::all() {
        let known = |room: &str| {
            let mut rooms = KNOWN.iter().filter(|(folder, ..)| *folder == krate.folder);
            rooms.any(|(_, rooms, _)| rooms.contains(&room))
        };
        let beside = named_beside(&krate);
        for room in beside.keys().filter(|room| !known(&written(room))) {
            let circle = circle(room, &beside);
            assert!(circle.is_none(), "{}: {}", krate.folder, circle.unwrap().join(" names "));
        }
    }
}

#[test]
fn no_module_names_more_than_a_dozen_others() {
    for krate in Crate::all() {
        for (name, module) in &krate.modules {
            let count = module.uses.len();
            let named: Vec<String> = module.uses.iter().map(|used| written(used)).collect();
            assert!(
                count <= MOST_USES,
                "{}: {} names {count} modules: {}",
                krate.folder,
                written(name),
                named.join(", ")
            );
        }
    }
}
