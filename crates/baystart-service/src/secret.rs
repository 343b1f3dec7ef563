//! Access tokens: 256 random bits, shown once, kept as SHA-256.

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use sha2::{Digest, Sha256};

/// Every secret begins so, that people and secret scanners know it.
const PREFIX: &str = "baystart_";

/// A fresh secret and its hash.
///
/// # Errors
/// The system gives no randomness.
pub fn fresh() -> Result<(String, [u8; 32]), getrandom::Error> {
    let mut bits = [0_u8; 32];
    getrandom::fill(&mut bits)?;
    let secret = format!("{PREFIX}{}", URL_SAFE_NO_PAD.encode(bits));
    let hash = hash(&secret);
    Ok((secret, hash))
}

/// What is kept of a secret: SHA-256 of its text, white space around it
/// dropped.
#[must_use]
pub fn hash(secret: &str) -> [u8; 32] {
    Sha256::digest(secret.trim().as_bytes()).into()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn secrets_differ_and_hash_by_their_text() {
        let (one, hash_of_one) = fresh().unwrap();
        let (two, _) = fresh().unwrap();
        assert_ne!(one, two);
        assert_eq!(hash(&format!(" {one}\n")), hash_of_one);
        assert_eq!(one.len(), PREFIX.len() + 43);
    }

    /// SHA-256 of "abc": published in FIPS 180-2, appendix B.1 (memory).
    #[test]
    fn the_hash_is_sha_256() {
        assert_eq!(hash("abc")[..4], [0xba, 0x78, 0x16, 0xbf]);
    }
}
