//! Modules form no circles, parent and child apart, and none knows half its crate.

use std::collections::{BTreeMap, BTreeSet};

use crate::modules::{Crate, Name, written};

/// Other modules that one may name in its `use` lines.
const MOST_USES: usize = 12;

/// The stages of a comparison, in their order: none names a later one.
const STAGES: [&str; 7] = ["play", "profile", "align", "pass", "explain", "assemble", "judge"];

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
        let beside = named_beside(&krate);
        for room in beside.keys() {
            let circle = circle(room, &beside);
            assert!(circle.is_none(), "{}: {}", krate.folder, circle.unwrap().join(" names "));
        }
    }
}

#[test]
fn no_stage_of_a_comparison_names_a_later_one() {
    let stage = |name: &Name| {
        let [first, room, ..] = name.as_slice() else { return None };
        (first == "compare").then(|| STAGES.iter().position(|stage| stage == room)).flatten()
    };
    let krate = Crate::read("plugin/measure/src");
    let mut seen = BTreeSet::new();
    for (name, module) in &krate.modules {
        let Some(own) = stage(name) else { continue };
        seen.insert(own);
        for used in &module.uses {
            let later = stage(used).is_some_and(|other| other > own);
            assert!(!later, "{} names {}, a later stage", written(name), written(used));
        }
    }
    assert_eq!(seen.len(), STAGES.len(), "a stage is called otherwise");
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
