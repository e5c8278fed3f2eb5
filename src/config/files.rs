//! Reading the small files a config consists of and names. A file that cannot be read gets one clear sentence.

use super::report::Complaint;
use crate::problem::Problem;
use secrecy::SecretString;
use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};

/// No config, plan or secret is larger than this many bytes.
const CAP: u64 = 4 << 20;

/// The text of a config or plan, without the mark some editors put before it.
pub(super) fn read_text(path: &Path) -> Result<String, Complaint> {
    let complain = |what: &str, remedy: &str| Err(Complaint::new(what, remedy));
    let bytes = match read_bytes(path) {
        Ok(bytes) => bytes,
        Err(e) if e.kind() == ErrorKind::NotFound => {
            return complain(
                "there is no such file",
                "check the path; paths in a config count from its folder",
            );
        }
        Err(e) if e.kind() == ErrorKind::PermissionDenied => {
            return complain(
                "it may not be read",
                "let the user who runs graftwarden read it (ls -l shows who may)",
            );
        }
        Err(e) if e.kind() == ErrorKind::IsADirectory => {
            return complain("this is a folder, not a file", "name the file in it");
        }
        Err(e) => {
            return complain(
                &format!("it cannot be read: {e}"),
                "see whether the disk is well",
            );
        }
    };
    if bytes.len() as u64 > CAP {
        return complain(
            "the file is larger than 4 MiB, which no config or plan is",
            "check that the path names the right file",
        );
    }
    let text = match String::from_utf8(bytes) {
        Ok(text) => text,
        Err(e) => {
            let good = &e.as_bytes()[..e.utf8_error().valid_up_to()];
            let line = String::from_utf8_lossy(good).matches('\n').count() + 1;
            return complain(
                &format!("line {line} is not UTF-8 text"),
                "save the file again as UTF-8",
            );
        }
    };
    Ok(text
        .strip_prefix('\u{feff}')
        .map(str::to_owned)
        .unwrap_or(text))
}

fn read_bytes(path: &Path) -> std::io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    std::fs::File::open(path)?
        .take(CAP + 1)
        .read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// Where a secret lies that the config names: a bare name is first looked for among the credentials that systemd hands a
/// service (systemd.exec(5), `LoadCredential`), then like every path in the folder of the config.
pub(super) fn secret_path(folder: &Path, name: &str) -> PathBuf {
    secret_among(credentials().as_deref(), folder, name)
}

fn secret_among(credentials: Option<&Path>, folder: &Path, name: &str) -> PathBuf {
    let bare = Path::new(name).file_name().is_some_and(|file| file == name);
    credentials
        .filter(|_| bare)
        .map(|credentials| credentials.join(name))
        .filter(|path| path.exists())
        .unwrap_or_else(|| folder.join(name))
}

/// The folder with the credentials of this service; none for commands that a person runs.
fn credentials() -> Option<PathBuf> {
    std::env::var_os("CREDENTIALS_DIRECTORY").map(PathBuf::from)
}

/// Reads a password or key: the whole file, less one line end. A secret that others of the machine may read is
/// refused nowhere, but comes with a problem that says so.
pub fn read_secret(path: &Path) -> (Option<SecretString>, Option<Problem>) {
    let place = path.display().to_string();
    let text = match read_text(path) {
        Ok(text) => text,
        Err(Complaint { what, remedy }) => {
            return (None, Some(Problem::new(place, what, "", remedy)));
        }
    };
    let secret = text.strip_suffix('\n').unwrap_or(&text);
    let secret = secret.strip_suffix('\r').unwrap_or(secret);
    if secret.is_empty() {
        let problem = Problem::new(place, "the secret is empty", "", "write it into the file");
        return (None, Some(problem));
    }
    // A credential is guarded by its folder; its own mode may show the group's bits, where systemd lends it by an ACL.
    let lent = credentials().is_some_and(|folder| path.parent() == Some(&folder));
    let problem = if lent { None } else { open_to_others(path) };
    (Some(SecretString::from(secret)), problem)
}

#[cfg(unix)]
fn open_to_others(path: &Path) -> Option<Problem> {
    use std::os::unix::fs::PermissionsExt;
    let mode = std::fs::metadata(path).ok()?.permissions().mode();
    (mode & 0o077 != 0).then(|| {
        Problem::new(
            path.display().to_string(),
            "others on this machine may read this secret",
            "it is used all the same",
            format!("run chmod 600 {}", path.display()),
        )
    })
}

#[cfg(not(unix))]
fn open_to_others(_path: &Path) -> Option<Problem> {
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use secrecy::ExposeSecret;

    /// A secret file of this content and mode, and what is read of it and said about it.
    #[cfg(unix)]
    fn read(content: &str, mode: u32) -> (Option<String>, String) {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("key");
        std::fs::write(&path, content).unwrap();
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(mode)).unwrap();
        let (secret, problem) = read_secret(&path);
        (
            secret.map(|s| s.expose_secret().to_owned()),
            problem.map(|p| p.what).unwrap_or_default(),
        )
    }

    #[cfg(unix)]
    #[test]
    fn one_line_end_is_taken_off_a_secret_and_no_more() {
        assert_eq!(read("pa ss\n\n", 0o600).0.as_deref(), Some("pa ss\n"));
        assert_eq!(
            read("pass\r\n", 0o600),
            (Some("pass".into()), String::new())
        );
    }

    #[cfg(unix)]
    #[test]
    fn a_secret_open_to_others_is_used_and_said() {
        let (secret, said) = read("pass", 0o640);
        assert_eq!(secret.as_deref(), Some("pass"));
        assert!(said.contains("others on this machine"), "{said}");
    }

    #[cfg(unix)]
    #[test]
    fn an_empty_or_missing_secret_is_none() {
        assert_eq!(read("\n", 0o600).0, None);
        let (secret, problem) = read_secret(Path::new("no/such/file"));
        assert!(secret.is_none());
        assert_eq!(problem.unwrap().what, "there is no such file");
    }

    /// Where `password_file = "name"` leads with the config in `etc` and one credential, `smtp-password`.
    #[track_caller]
    fn check_place(name: &str, expected: &str) {
        let folder = tempfile::tempdir().unwrap();
        let credentials = folder.path().join("lent");
        std::fs::create_dir(&credentials).unwrap();
        std::fs::write(credentials.join("smtp-password"), "pass").unwrap();
        let found = secret_among(Some(&credentials), &folder.path().join("etc"), name);
        assert_eq!(found, folder.path().join(expected));
    }

    #[test]
    fn a_bare_name_is_a_credential_where_there_is_one() {
        check_place("smtp-password", "lent/smtp-password");
        check_place("imap-password", "etc/imap-password");
        check_place("./smtp-password", "etc/./smtp-password");
        check_place("keys/smtp-password", "etc/keys/smtp-password");
        check_place("..", "etc/..");
    }

    #[test]
    fn without_credentials_a_bare_name_counts_from_the_config() {
        assert_eq!(
            secret_among(None, Path::new("etc"), "smtp-password"),
            Path::new("etc/smtp-password")
        );
    }
}
