//! Reports as pages: what they hold, that they need nothing, and how they look in a browser.

mod audit;
mod chromium;
mod compare;
mod compared;
mod entries;
mod fixtures;
mod read;
mod session;
mod structure;
mod vocabulary;
