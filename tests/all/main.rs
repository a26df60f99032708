//! Integration tests: one binary, one module a subject.

mod codes;
mod isb;
mod open_data;
mod oracle;
mod published;
mod simulated;
mod support;
