//! Work on stretches of both files, each by itself: on several threads where both are held in memory,
//! one behind the other where a file has to be read in order. What comes of it is the same.

use super::{Failed, Reel};
use crate::compare::Source;
use crate::compare::share::{share, threads};

/// What came of reading both files.
type Done<T, M, X> = Result<T, Failed<<M as Source>::Error, <X as Source>::Error>>;

/// Does the work of every part, and gives what came of each, in the order of the parts. `tools` makes
/// what a thread works with; nothing that a part leaves in there may change what another gives.
pub(in crate::compare) fn in_parts<M: Source, X: Source, P: Sync, W, T: Send>(
    mix: &mut Reel<M>,
    export: &mut Reel<X>,
    parts: &[P],
    tools: impl Fn() -> W + Sync,
    work: impl Fn(&mut W, &mut Reel<M>, &mut Reel<X>, &P) -> Done<T, M, X> + Sync,
) -> Done<Vec<T>, M, X> {
    let pairs = (0..threads(parts.len())).map(|_| Some((mix.another()?, export.another()?)));
    let pairs: Option<Vec<(Reel<M>, Reel<X>)>> = pairs.collect();
    let Some(pairs) = pairs.filter(|pairs| pairs.len() > 1) else {
        let mut tools = tools();
        return parts.iter().map(|part| work(&mut tools, mix, export, part)).collect();
    };
    let start = |(mix, export)| (tools(), mix, export);
    let each =
        share(parts, pairs, start, |(tools, mix, export), part| work(tools, mix, export, part));
    each.into_iter().collect()
}
