//! `[alive]`: how it can be seen from outside that the program does its work.

use super::files::secret_path;
use super::raw::Section;
use super::report::Complaint;
use super::{AliveConfig, AliveTo};
use crate::weather::http::is_loopback;
use reqwest::Url;
use std::path::Path;

/// Reads the section; nothing is told where there is none.
pub(super) fn read(section: Option<Section<'_>>, folder: &Path) -> AliveConfig {
    let Some(s) = section else {
        return AliveConfig::default();
    };
    let url = s.parsed("url", |text| address(text).map(|_| text.to_owned()));
    let file = s.text("url_file").map(|name| secret_path(folder, &name));
    let metrics = s.text("metrics").map(|path| folder.join(path));
    if s.has("url") && s.has("url_file") {
        s.error(
            "[alive] has both url and url_file",
            "write one of them; the file where the address is a secret",
        );
    } else if !s.has("url") && !s.has("url_file") && !s.has("metrics") {
        let complaint = Complaint::new(
            "[alive] tells nobody anything",
            "write url = \"https://...\", or metrics = \"graftwarden.txt\", or leave the section out",
        );
        s.findings().warning(s.span(), complaint);
    }
    s.finish();
    let to = match (url, file) {
        (Some(url), _) => Some(AliveTo::Url(url.into())),
        (None, file) => file.map(AliveTo::File),
    };
    AliveConfig { to, metrics }
}

/// An address that may be called: https, or http to this machine itself.
pub(super) fn address(text: &str) -> Result<Url, Complaint> {
    let remedy = "write a whole address, as in \"https://alive.alderfold.example/hill\"";
    match Url::parse(text.trim()) {
        Ok(url) if url.scheme() == "https" => Ok(url),
        Ok(url) if url.scheme() == "http" && is_loopback(&url) => Ok(url),
        Ok(url) if url.scheme() == "http" => Err(Complaint::new(
            "this address would be called in the clear: plain http goes to this machine itself only",
            remedy,
        )),
        _ => Err(Complaint::new("this is not an https address", remedy)),
    }
}
