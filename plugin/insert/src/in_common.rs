//! What all instances in a process have in common: made with the first of them that asks, gone
//! with the last that lets go. A thread that lives in it is joined then, so that a host may unload
//! the library as soon as its last instance is destroyed.

use std::sync::{Arc, Mutex, PoisonError, Weak};

/// The place of something that exists at most once in a process.
pub struct InCommon<T>(Mutex<Weak<T>>);

impl<T> InCommon<T> {
    /// An empty place.
    #[must_use]
    pub const fn new() -> Self {
        Self(Mutex::new(Weak::new()))
    }

    /// What is there, or what `make` makes.
    ///
    /// # Errors
    ///
    /// Those of `make`.
    pub fn get_or<E>(&self, make: impl FnOnce() -> Result<T, E>) -> Result<Arc<T>, E> {
        // The pointer is replaced whole, so that a panic elsewhere leaves it sound.
        let mut place = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(there) = place.upgrade() {
            return Ok(there);
        }
        let made = Arc::new(make()?);
        *place = Arc::downgrade(&made);
        Ok(made)
    }
}
