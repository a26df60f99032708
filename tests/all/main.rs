//! Integration tests: one binary, one module a subject.

mod oracle;
mod readers;
