//! The kinds of chain, by subject.

mod codecs;
mod combined;
mod damage;
mod dynamics;
mod edits;
mod filters;
mod noise;
mod path;
mod programmes;
mod speed;
mod surround;
mod words;

use super::kind::Kind;

/// Every kind.
pub fn all() -> impl Iterator<Item = &'static Kind> {
    [
        path::KINDS,
        filters::KINDS,
        speed::KINDS,
        dynamics::KINDS,
        edits::KINDS,
        damage::KINDS,
        noise::KINDS,
        words::KINDS,
        codecs::KINDS,
        programmes::KINDS,
        surround::KINDS,
        combined::KINDS,
    ]
    .into_iter()
    .flatten()
}
