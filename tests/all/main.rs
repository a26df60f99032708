//! The one integration binary: a module for each kind of test.

mod oracle;
