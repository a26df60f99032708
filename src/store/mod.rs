//! The casebook: the reviews of people over weeks, in one SQLite file.
//!
//! In: results (`scaplane.review/1`) as text, with a pseudonym and a day. Out: [`Entry`]s. The whole text of a
//! result is kept as it came; beside it stand the columns it is looked up by and what was entered about the day.
//!
//! What holds: a session that was reported as added is on the disk (WAL, synchronous); a process that is killed, a
//! full disk or a second writer leaves the book as it was before or after, never between; a file that is not whole
//! is told and left as it is; an older schema is migrated after a copy was made; a person who is removed leaves no
//! byte. Nothing is measured, judged or printed here.

mod add;
mod backup;
mod check;
mod entry;
mod fault;
mod open;
mod remove;
mod schema;
mod seal;

pub use add::{Added, Again, NewEntry};
pub use check::{Health, check};
pub use entry::{Entry, Filter, Told};
pub use open::Book;
pub use remove::{Removed, copies_beside};
pub use schema::VERSION;
