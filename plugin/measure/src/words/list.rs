//! Lists in a sentence.

/// Several things: `a`, `a and b`, `a, b and c`.
#[must_use]
pub fn list<T: AsRef<str>>(parts: &[T]) -> String {
    match parts {
        [] => String::new(),
        [one] => one.as_ref().to_owned(),
        [first @ .., last] => {
            let first: Vec<&str> = first.iter().map(AsRef::as_ref).collect();
            format!("{} and {}", first.join(", "), last.as_ref())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_of_several_comes_behind_an_and() {
        let lists = [&["a"][..], &["a", "b"], &["a", "b", "c"]].map(list);
        assert_eq!(lists, ["a", "a and b", "a, b and c"]);
    }
}
