//! Certificates of the farm's own: what they vouch for is trusted beside what the system's root certificates vouch for.
//!
//! Read from one file in PEM, used wherever TLS is spoken. Nothing here trusts less, and nothing turns the looking off.

use crate::problem::Problem;
use rustls::ClientConfig;
use rustls::pki_types::CertificateDer;
use rustls::pki_types::pem::PemObject;
use rustls_platform_verifier::Verifier;
use std::fmt;
use std::path::Path;
use std::sync::{Arc, OnceLock};

/// Certificates that are trusted beside the system's; usually none. Copies share what was read of the system's.
#[derive(Clone, Default)]
pub struct Roots(Arc<Trusted>);

#[derive(Default)]
struct Trusted {
    own: Vec<CertificateDer<'static>>,
    client: OnceLock<ClientConfig>,
}

impl Roots {
    /// Reads a file with one certificate or several.
    pub fn read(path: &Path) -> Result<Self, Problem> {
        let problem = |what: String| {
            Problem::new(
                path.display().to_string(),
                what,
                "no certificate of your own is trusted",
                "write the certificate of your own authority into it, as PEM text",
            )
        };
        let text = std::fs::read(path).map_err(|e| problem(format!("it cannot be read: {e}")))?;
        let found: Result<Vec<_>, _> = CertificateDer::pem_slice_iter(&text).collect();
        match found {
            Ok(found) if found.is_empty() => Err(problem("there is no certificate in it".into())),
            Ok(own) => Ok(Self(Arc::new(Trusted {
                own,
                client: OnceLock::new(),
            }))),
            Err(error) => Err(problem(format!("it holds no certificate: {error}"))),
        }
    }

    /// Each of them.
    pub fn iter(&self) -> impl Iterator<Item = &CertificateDer<'static>> {
        self.0.own.iter()
    }

    /// A TLS client that looks at certificates as the system does, and at these. Reading the system's takes some
    /// milliseconds: it is done once for all services.
    pub fn client(&self) -> Result<ClientConfig, rustls::Error> {
        if let Some(client) = self.0.client.get() {
            return Ok(client.clone());
        }
        let client = self.read_client()?;
        Ok(self.0.client.get_or_init(|| client).clone())
    }

    fn read_client(&self) -> Result<ClientConfig, rustls::Error> {
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        let verifier = Verifier::new_with_extra_roots(self.iter().cloned(), provider.clone())?;
        // The library calls it so because any verifier may be put in here; this one is the system's.
        Ok(ClientConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()?
            .dangerous()
            .with_custom_certificate_verifier(Arc::new(verifier))
            .with_no_client_auth())
    }
}

impl fmt::Debug for Roots {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Roots({})", self.0.own.len())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, what: &str) {
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), text).unwrap();
        assert_eq!(Roots::read(file.path()).unwrap_err().what, what);
    }

    #[test]
    fn what_is_no_certificate_is_said() {
        check("", "there is no certificate in it");
        check("some words", "there is no certificate in it");
    }

    #[test]
    fn several_are_read() {
        let made = || rcgen::generate_simple_self_signed(["127.0.0.1".to_owned()]).unwrap();
        let file = tempfile::NamedTempFile::new().unwrap();
        let text = made().cert.pem() + &made().cert.pem();
        std::fs::write(file.path(), text).unwrap();
        assert_eq!(Roots::read(file.path()).unwrap().iter().count(), 2);
    }
}
