//! The sum test without a host: what is played, what an audit finds in a recording, and which meter
//! would have shown what was read.

mod audit;
mod desks;
mod identification;
mod linear;
mod mixers;
mod page;
mod recorder;
mod repeated;
mod schedule;
mod three_noises;
