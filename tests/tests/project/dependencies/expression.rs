//! Expressions of licences, as packages state them: names with `AND`, `OR` and brackets (SPDX
//! specification, annex "SPDX license expressions"), and the slash that older ones have for `OR`.

/// Whether an expression can be met with the licences that are accepted. An exception to a licence,
/// after `WITH`, only allows more.
pub fn holds(expression: &str, accepted: &mut dyn FnMut(&str) -> bool) -> bool {
    let spaced = expression.replace('(', " ( ").replace(')', " ) ").replace('/', " OR ");
    let mut words: Vec<&str> = spaced.split_whitespace().rev().collect();
    let held = any(&mut words, accepted);
    assert!(words.is_empty(), "{expression:?} is no expression");
    held
}

/// Words come last first. Every licence is looked at, so that the whole expression is read.
fn any(words: &mut Vec<&str>, accepted: &mut dyn FnMut(&str) -> bool) -> bool {
    let mut held = all(words, accepted);
    while words.pop_if(|word| *word == "OR").is_some() {
        held |= all(words, accepted);
    }
    held
}

fn all(words: &mut Vec<&str>, accepted: &mut dyn FnMut(&str) -> bool) -> bool {
    let mut held = one(words, accepted);
    while words.pop_if(|word| *word == "AND").is_some() {
        held &= one(words, accepted);
    }
    held
}

fn one(words: &mut Vec<&str>, accepted: &mut dyn FnMut(&str) -> bool) -> bool {
    match words.pop() {
        Some("(") => {
            let held = any(words, accepted);
            words.pop_if(|word| *word == ")").is_some() && held
        }
        Some(licence) => {
            if words.pop_if(|word| *word == "WITH").is_some() {
                words.pop();
            }
            accepted(licence)
        }
        None => false,
    }
}

#[test]
fn expressions_hold_as_they_are_written() {
    let holds = |expression: &str| holds(expression, &mut |licence| licence.starts_with("Good"));
    for met in ["Good", "Bad OR Good", "Good/Bad", "Good WITH More", "(Good OR Bad) AND Good-2"] {
        assert!(holds(met), "{met}");
    }
    for unmet in ["", "Bad", "Good AND Bad", "(Good OR Bad) AND Bad", "Bad WITH Good", "Bad/Worse"]
    {
        assert!(!holds(unmet), "{unmet}");
    }
}
