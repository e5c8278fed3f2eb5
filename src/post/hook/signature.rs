//! The signature by which a receiver knows that a letter is ours, and of now: HMAC (RFC 2104) with SHA-256 over the
//! moment, a full stop and the exact body.

use chrono::{DateTime, Utc};
use hmac::{Hmac, Mac};
use sha2::Sha256;
use std::fmt::Write;

/// What goes along with a body.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Signature {
    /// The moment of signing, in seconds since 1970, so that what is caught on the way cannot be played again later.
    pub timestamp: String,
    /// `sha256=` and 64 hexadecimal digits.
    pub value: String,
}

/// Signs a body as of that moment.
pub fn sign(secret: &[u8], at: DateTime<Utc>, body: &[u8]) -> Signature {
    let timestamp = at.timestamp().to_string();
    let value = hmac_sha256(secret, &[timestamp.as_bytes(), b".", body]);
    Signature {
        timestamp,
        value: format!("sha256={value}"),
    }
}

fn hmac_sha256(key: &[u8], parts: &[&[u8]]) -> String {
    let mut mac = Hmac::<Sha256>::new_from_slice(key).expect("a key of any length is one");
    for part in parts {
        mac.update(part);
    }
    let code = mac.finalize().into_bytes();
    code.iter().fold(String::new(), |mut text, byte| {
        // Writing to a String cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(key: &[u8], data: &[u8], code: &str) {
        assert_eq!(hmac_sha256(key, &[data]), code);
        let (begin, end) = data.split_at(data.len() / 2);
        assert_eq!(hmac_sha256(key, &[begin, end]), code);
    }

    /// RFC 4231, test cases 1, 2, 3, 4, 6 and 7; the fifth is of a shortened code.
    #[test]
    fn published_codes() {
        check(
            &[0x0b; 20],
            b"Hi There",
            "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7",
        );
        check(
            b"Jefe",
            b"what do ya want for nothing?",
            "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843",
        );
        check(
            &[0xaa; 20],
            &[0xdd; 50],
            "773ea91e36800e46854db8ebd09181a72959098b3ef8c122d9635514ced565fe",
        );
        let counted: Vec<u8> = (1..=25).collect();
        check(
            &counted,
            &[0xcd; 50],
            "82558a389a443c0ea4cc819899f2083a85f0faa3e578f8077a2e3ff46729665b",
        );
        check(
            &[0xaa; 131],
            b"Test Using Larger Than Block-Size Key - Hash Key First",
            "60e431591ee0b67f0d8a26aacbf5b77f8e0bc6213728c5140546040f0ee37f54",
        );
        check(
            &[0xaa; 131],
            b"This is a test using a larger than block-size key and a larger than block-size data. The key needs to be hashed before being used by the HMAC algorithm.",
            "9b09ffa71b942fcb27635fbcd5b0e944bfdc63644f0713938a7f51535c3a35e2",
        );
    }

    /// Worked out with Python: `hmac.new(b"hazel-4711", b'1786600000.{"version":1}', "sha256").hexdigest()`.
    #[test]
    fn the_moment_is_signed_with_the_body() {
        let at = DateTime::from_timestamp(1_786_600_000, 700_000_000).unwrap();
        let signed = sign(b"hazel-4711", at, b"{\"version\":1}");
        assert_eq!(signed.timestamp, "1786600000");
        assert_eq!(
            signed.value,
            "sha256=ccb78dda3957a80000ca6b5ba995180ffecc419c95f7cfef1b12a022aa49c1d0"
        );
    }
}
