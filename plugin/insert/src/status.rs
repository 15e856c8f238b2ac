//! What went wrong, in sentences for the editor. Written by the threads that may wait, read by the
//! editor; the audio thread never touches it.

use std::sync::{Mutex, MutexGuard, PoisonError};

/// What a message is about: the latest message of each subject stands until it is cleared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Subject {
    /// Why there are no readings.
    Measuring,
    /// Why the log is not written, or not complete.
    Log,
    /// Why the sum test cannot play.
    SumTest,
    /// Why a saved state was left aside.
    State,
}

/// The messages that stand.
#[derive(Debug, Default)]
pub struct Status {
    messages: Mutex<[Option<String>; 4]>,
}

impl Status {
    /// Sets the message of a subject, or clears it.
    pub fn set(&self, subject: Subject, message: Option<String>) {
        self.lock()[subject as usize] = message;
    }

    /// All messages that stand; none when all is well.
    #[must_use]
    pub fn messages(&self) -> Vec<String> {
        self.lock().iter().flatten().cloned().collect()
    }

    fn lock(&self) -> MutexGuard<'_, [Option<String>; 4]> {
        // A message is replaced whole, so that one left by a panicking thread is still sound.
        self.messages.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
