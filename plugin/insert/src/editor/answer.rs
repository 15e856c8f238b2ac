//! The answer: what separates meter and ear in one sentence, what to do in one line, and how far one can
//! go in two large numbers.

mod numbers;
mod sentence;
mod standing;

pub(super) use numbers::show as show_numbers;
pub(super) use sentence::show as show_sentence;
pub(super) use standing::{Said, Standing, said, speak_of_yours};
