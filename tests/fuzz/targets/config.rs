//! `graftwarden.toml`, and a care plan where a line `%%` leads into one.
#![no_main]

use graftwarden::config::Config;
use libfuzzer_sys::fuzz_target;
use std::fs;

const WITH_PLAN: &str = "version = 1\nplans = [\"plan.toml\"]\n[nursery]\nname = \"Alder Fold\"\nzone = \"Europe/Brussels\"\n\
    [[site]]\nid = \"hill\"\nlatitude = 50.85\nlongitude = 4.35\n[[site.weather]]\nsource = \"file\"\npath = \"hill.csv\"\n\
    [post]\nlog = true\n";

fuzz_target!(|bytes: &[u8]| {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("graftwarden.toml");
    let plan = bytes.windows(4).position(|four| four == b"\n%%\n");
    let (config, plan) = match plan {
        Some(at) => (WITH_PLAN.as_bytes(), &bytes[at + 4..]),
        None => (bytes, &b""[..]),
    };
    fs::write(&path, config).unwrap();
    fs::write(folder.path().join("plan.toml"), plan).unwrap();
    if let Err(trouble) = Config::load(&path) {
        assert!(!trouble.problems().is_empty() && !trouble.render(false).is_empty());
    }
});
