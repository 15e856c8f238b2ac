//! Which kinds and which pieces.

use anyhow::{Context, Result, ensure};
use ledgerline_tests::real_chains::recipes::{self, Recipe};
use ledgerline_tests::real_chains::{Kind, kinds};

use crate::flags::ChainsFlags;

/// Shortest length of a piece, in seconds: chains do something up to 14.5 s, and then it goes on.
const LEAST_S: u32 = 20;

/// What is to be done.
pub struct Chosen {
    /// The kinds.
    pub kinds: Vec<&'static Kind>,
    /// What all pieces of the set are made of.
    pub recipes: &'static [Recipe],
    /// Those that are wanted, by their places in the set.
    pub pieces: Vec<usize>,
    /// Length of a piece, in seconds.
    pub length_s: f64,
    is_small: bool,
}

impl Chosen {
    /// What the flags ask for.
    ///
    /// # Errors
    ///
    /// When they name something that is not there.
    pub fn of(flags: &ChainsFlags) -> Result<Self> {
        let is_wanted = |kind: &&Kind| {
            flags.kinds.is_empty() || flags.kinds.iter().any(|name| kind.name == name)
        };
        let kinds: Vec<&Kind> = kinds::all().filter(is_wanted).collect();
        for name in &flags.kinds {
            ensure!(kinds.iter().any(|kind| kind.name == name), "there is no kind {name}");
        }
        let recipes: &[Recipe] = if flags.small { &recipes::SMALL } else { &recipes::ALL };
        let place = |name: &String| {
            let by_name = recipes.iter().position(|recipe| recipe.name == name);
            let by_number = name.parse::<usize>().ok().and_then(|number| number.checked_sub(1));
            let place = by_name.or(by_number).filter(|place| *place < recipes.len());
            place.with_context(|| format!("there is no piece {name}"))
        };
        let pieces: Vec<usize> = if flags.pieces.is_empty() {
            (0..recipes.len()).collect()
        } else {
            flags.pieces.iter().map(place).collect::<Result<_>>()?
        };
        ensure!(flags.seconds >= LEAST_S, "pieces have at least {LEAST_S} s: chains need them");
        let length_s = f64::from(flags.seconds);
        Ok(Self { kinds, recipes, pieces, length_s, is_small: flags.small })
    }

    /// How many answers are wanted.
    pub fn jobs(&self) -> usize {
        self.kinds.len() * self.pieces.len()
    }

    /// One of them: a kind, and a piece's place in the set; all kinds of a piece, then the next.
    pub fn job(&self, number: usize) -> (&'static Kind, usize) {
        (self.kinds[number % self.kinds.len()], self.pieces[number / self.kinds.len()])
    }

    /// Whether that is the whole bench.
    pub fn is_everything(&self) -> bool {
        !self.is_small
            && self.kinds.len() == kinds::all().count()
            && self.pieces.len() == self.recipes.len()
    }
}
