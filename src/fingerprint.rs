//! The fingerprint of bytes: tells whether something is the same as before, without keeping it.

use sha2::{Digest, Sha256};
use std::fmt::Write;

/// SHA-256 in hexadecimal.
///
/// ```
/// // The test vector of FIPS 180-4 for "abc".
/// let print = graftwarden::fingerprint::of(b"abc");
/// assert_eq!(print, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
/// ```
pub fn of(bytes: impl AsRef<[u8]>) -> String {
    Sha256::digest(bytes)
        .iter()
        .fold(String::new(), |mut text, byte| {
            // Writing to a String cannot fail.
            let _ = write!(text, "{byte:02x}");
            text
        })
}
