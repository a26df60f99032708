//! Integration tests: one binary, one module a subject.

mod batch;
mod calibrated;
mod casebook;
mod codes;
mod compare;
mod direct;
mod fhir;
mod girdle;
mod honest;
mod hostile;
mod isb;
mod layers;
mod open_data;
mod oracle;
mod planned;
mod published;
mod readers;
mod report;
mod selfcheck;
mod simulated;
mod support;
mod threads;
