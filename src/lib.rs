//! scaplane
