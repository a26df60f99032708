//! A part of the definitions: what is built in is read when it is first asked for.
//!
//! What makes a value must not wait for other threads: one of them may be waiting for that value.

use std::fmt;
use std::ops::Deref;
use std::sync::{Arc, LazyLock};

/// A value that is made when it is first looked at.
#[derive(Clone)]
pub struct Late<T>(Arc<LazyLock<T, Make<T>>>);

type Make<T> = Box<dyn FnOnce() -> T + Send>;

impl<T: Send + 'static> Late<T> {
    /// A value that is there already.
    #[must_use]
    pub fn of(value: T) -> Self {
        Self::made_by(move || value)
    }

    /// A value that is to be made.
    #[must_use]
    pub fn made_by(make: impl FnOnce() -> T + Send + 'static) -> Self {
        Late(Arc::new(LazyLock::new(Box::new(make))))
    }
}

impl<T> Late<T> {
    /// Makes the value if it is not there yet.
    pub(super) fn make_ready(&self) {
        LazyLock::force(&self.0);
    }
}

impl<T> Deref for Late<T> {
    type Target = T;
    fn deref(&self) -> &T {
        &self.0
    }
}

impl<T: fmt::Debug> fmt::Debug for Late<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        (**self).fmt(f)
    }
}
