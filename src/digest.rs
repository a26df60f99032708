//! SHA-256 as text (FIPS 180-4), by which files, settings and rows are known again.

use ring::digest::{Context, SHA256, digest};

/// A digest as it grows.
#[derive(Clone)]
pub struct Sha256(Context);

impl Sha256 {
    /// Of nothing yet.
    #[expect(
        clippy::new_without_default,
        reason = "nobody needs a digest of nothing"
    )]
    pub fn new() -> Sha256 {
        Sha256(Context::new(&SHA256))
    }

    /// Goes on with more bytes.
    pub fn update(&mut self, bytes: impl AsRef<[u8]>) {
        self.0.update(bytes.as_ref());
    }

    /// The digest, 64 hexadecimal digits.
    pub fn hex(self) -> String {
        text(self.0.finish().as_ref())
    }
}

/// The digest of some bytes, 64 hexadecimal digits.
///
/// ```
/// // FIPS 180-4, example of one block.
/// let digest = scaplane::digest::sha256(b"abc");
/// assert!(digest.starts_with("ba7816bf8f01cfea") && digest.ends_with("f20015ad"));
/// ```
pub fn sha256(bytes: &[u8]) -> String {
    text(digest(&SHA256, bytes).as_ref())
}

fn text(digest: &[u8]) -> String {
    digest.iter().map(|byte| format!("{byte:02x}")).collect()
}
