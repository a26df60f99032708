//! Definitions of one kind, each a file of its own: what is built in is read when it is first asked for.

use super::late::Late;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Definitions by id, in the order of their ids.
#[derive(Debug, Clone)]
pub struct ById<T>(BTreeMap<String, Late<Option<T>>>);

impl<T: Send + Sync + 'static> ById<T> {
    /// From ids and what becomes a definition; `None` in it is a file that could not be read: its id is known and nothing else.
    pub(super) fn of(all: impl IntoIterator<Item = (String, Late<Option<T>>)>) -> Self {
        ById(all.into_iter().collect())
    }

    /// The definition of that id.
    ///
    /// # Example
    /// ```
    /// let models = scaplane::models::Models::embedded().unwrap();
    /// assert_eq!(models.exercises.get("row").map(|row| row.id.as_str()), Some("row"));
    /// assert!(models.exercises.get("rowing").is_none());
    /// ```
    #[must_use]
    pub fn get(&self, id: &str) -> Option<&T> {
        self.0.get(id)?.as_ref()
    }

    /// Every id; nothing is read for it.
    pub fn keys(&self) -> impl Iterator<Item = &str> {
        self.0.keys().map(String::as_str)
    }

    /// Every definition.
    pub fn values(&self) -> impl Iterator<Item = &T> {
        self.0.values().filter_map(|one| one.as_ref())
    }

    /// Every definition, in order; those that wait are read on all cores.
    pub fn par_values(&self) -> impl ParallelIterator<Item = &T> {
        self.0.par_iter().filter_map(|(_, one)| one.as_ref())
    }

    /// Number of definitions.
    #[must_use]
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The same ids with what `change` makes of each definition.
    pub(super) fn changed(self, change: fn(T) -> T) -> Self
    where
        T: Clone,
    {
        let later = |one: Late<Option<T>>| Late::made_by(move || (*one).clone().map(change));
        ById::of(self.0.into_iter().map(|(id, one)| (id, later(one))))
    }
}
