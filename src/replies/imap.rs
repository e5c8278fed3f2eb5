//! A mailbox with a mail server (RFC 3501): a connection of its own for each look, every exchange within a time limit.
//!
//! Mails are read without marking them (`BODY.PEEK`), their size asked first; they get `\Seen` when they are done with.
//! The password stands in no message. Knows nothing of what mails say.

use super::mailbox::{Arrived, LARGEST, MOST, Mailbag, Mailbox};
use super::maildir::waiting_mails;
use crate::excerpt::{excerpt, without_secret};
use crate::post::{Pending, Security};
use crate::problem::Problem;
use crate::roots::Roots;
use async_imap::error::Error;
use async_imap::{Client, Session};
use futures_util::TryStreamExt;
use secrecy::{ExposeSecret, SecretString};
use std::fmt;
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::TcpStream;
use tokio::time::{Instant, timeout};
use tokio_rustls::TlsConnector;
use tokio_rustls::rustls::pki_types::ServerName;

/// What the config says about the mailbox.
#[derive(Clone, Debug)]
pub struct ImapSettings {
    /// Name or address.
    pub host: String,
    /// 1 to 65535.
    pub port: u16,
    /// How the connection is kept private.
    pub security: Security,
    /// The user.
    pub user: String,
    /// Their password.
    pub password: SecretString,
    /// "INBOX".
    pub folder: String,
    /// Whose certificates are trusted beside those that the system trusts.
    pub roots: Roots,
}

/// A mailbox with a mail server.
pub struct Imap {
    settings: ImapSettings,
    tls: TlsConnector,
    limit: Duration,
}

/// Something that bytes go through both ways.
trait Wire: AsyncRead + AsyncWrite + Unpin + Send + fmt::Debug {}
impl<T: AsyncRead + AsyncWrite + Unpin + Send + fmt::Debug> Wire for T {}

type Open = Session<Box<dyn Wire>>;

/// How far it came.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stage {
    Connecting,
    Login,
    Folder,
    Looking,
    Fetching,
    Marking,
}

/// What stopped it.
#[derive(Debug)]
enum Cause {
    Silence(Duration),
    Said(Error),
    Broken(std::io::Error),
}

#[derive(Debug)]
struct Stop {
    stage: Stage,
    cause: Cause,
}

/// A whole mail may take so many times the limit of a step, and a whole look twice that.
const FOR_A_MAIL: u32 = 6;

impl Imap {
    /// The usual limit for one exchange.
    pub const LIMIT: Duration = Duration::from_secs(20);

    /// Prepares it; connects to nothing. Refuses a machine without root certificates.
    pub fn new(settings: ImapSettings, limit: Duration) -> Result<Self, Problem> {
        match settings.roots.client() {
            Ok(config) => Ok(Self {
                settings,
                tls: TlsConnector::from(Arc::new(config)),
                limit,
            }),
            Err(error) => Err(Problem::new(
                format!("mailbox at {}:{}", settings.host, settings.port),
                format!("no private connection can be prepared: {error}"),
                "no answer is read",
                "install the system's root certificates (package ca-certificates)",
            )),
        }
    }

    async fn open(&self) -> Result<Open, Stop> {
        let ImapSettings { host, port, .. } = &self.settings;
        let connect = TcpStream::connect((host.as_str(), *port));
        let stream = self.io(connect).await?;
        let client = match self.settings.security {
            Security::None => self.greeted(Box::new(stream)).await?,
            Security::Tls => self.greeted(self.private(Box::new(stream)).await?).await?,
            Security::StartTls => {
                let mut client = self.greeted(Box::new(stream)).await?;
                let asked = client.run_command_and_check_ok("STARTTLS", None);
                self.step(Stage::Connecting, asked).await?;
                // What was sent ahead of the private line is dropped with the client.
                Client::new(self.private(client.into_inner()).await?)
            }
        };
        let (user, password) = (&self.settings.user, self.settings.password.expose_secret());
        let login = async {
            let session = client.login(user, password).await;
            session.map_err(|(error, _)| error)
        };
        self.step(Stage::Login, login).await
    }

    /// The server speaks first.
    async fn greeted(&self, stream: Box<dyn Wire>) -> Result<Client<Box<dyn Wire>>, Stop> {
        let mut client = Client::new(stream);
        let greeting = async {
            let said = client.read_response().await?;
            said.map(drop).ok_or(Error::ConnectionLost)
        };
        self.step(Stage::Connecting, greeting).await?;
        Ok(client)
    }

    async fn private(&self, stream: Box<dyn Wire>) -> Result<Box<dyn Wire>, Stop> {
        let name = ServerName::try_from(self.settings.host.clone()).map_err(|error| Stop {
            stage: Stage::Connecting,
            cause: Cause::Broken(std::io::Error::other(error)),
        })?;
        let stream = self.io(self.tls.connect(name, stream)).await?;
        Ok(Box::new(stream))
    }

    async fn io<T>(&self, exchange: impl Future<Output = std::io::Result<T>>) -> Result<T, Stop> {
        let stage = Stage::Connecting;
        let cause = match timeout(self.limit, exchange).await {
            Ok(Ok(done)) => return Ok(done),
            Ok(Err(error)) => Cause::Broken(error),
            Err(_) => Cause::Silence(self.limit),
        };
        Err(Stop { stage, cause })
    }

    async fn step<T>(
        &self,
        stage: Stage,
        exchange: impl Future<Output = Result<T, Error>>,
    ) -> Result<T, Stop> {
        let limit = match stage {
            Stage::Fetching => self.limit * FOR_A_MAIL,
            _ => self.limit,
        };
        let cause = match timeout(limit, exchange).await {
            Ok(Ok(done)) => return Ok(done),
            Ok(Err(error)) => Cause::Said(error),
            Err(_) => Cause::Silence(limit),
        };
        Err(Stop { stage, cause })
    }

    /// Opens the folder; the number is new when the server has numbered its mails anew.
    async fn folder(&self, session: &mut Open) -> Result<u32, Stop> {
        let folder = self.step(Stage::Folder, session.select(&self.settings.folder));
        Ok(folder.await?.uid_validity.unwrap_or_default())
    }

    /// The numbers of unread mails, the oldest first.
    async fn unread(&self, session: &mut Open) -> Result<Vec<u32>, Stop> {
        let found = self.step(Stage::Looking, session.uid_search("UNSEEN"));
        let mut unread: Vec<u32> = found.await?.into_iter().collect();
        self.still_there(session).await?;
        unread.sort_unstable();
        Ok(unread)
    }

    /// A line that broke in the midst of an answer reads like one that ended.
    async fn still_there(&self, session: &mut Open) -> Result<(), Stop> {
        let asked = session.run_command_and_check_ok("NOOP");
        self.step(Stage::Looking, asked).await
    }

    async fn read(&self) -> Result<Mailbag, Stop> {
        let begun = Instant::now();
        let mut session = self.open().await?;
        let validity = self.folder(&mut session).await?;
        let mut unread = self.unread(&mut session).await?;
        unread.truncate(MOST);
        let mut bag = Mailbag::default();
        for uid in unread {
            if begun.elapsed() > self.limit * FOR_A_MAIL * 2 {
                break;
            }
            match self.mail(&mut session, uid, validity).await {
                Ok(mail) => bag.mails.extend(mail),
                // What has been read by then is not lost with the line.
                Err(stop) if bag.mails.is_empty() => return Err(stop),
                Err(stop) => {
                    tracing::warn!("{}", self.told(&stop));
                    return Ok(bag);
                }
            }
        }
        goodbye(session).await;
        Ok(bag)
    }

    /// One mail; none where somebody has thrown it away meanwhile.
    async fn mail(
        &self,
        session: &mut Open,
        uid: u32,
        validity: u32,
    ) -> Result<Option<Arrived>, Stop> {
        let Some(about) = self.ask(session, uid, "(RFC822.SIZE)").await? else {
            return Ok(None);
        };
        let size = u64::from(about.size.unwrap_or(u32::MAX));
        let what = if size > LARGEST {
            "(BODY.PEEK[HEADER])"
        } else {
            "(BODY.PEEK[])"
        };
        let Some(fetched) = self.ask(session, uid, what).await? else {
            return Ok(None);
        };
        let bytes = fetched.body().or(fetched.header()).unwrap_or_default();
        Ok(Some(Arrived::new(format!("{validity}:{uid}"), bytes, size)))
    }

    async fn ask(
        &self,
        session: &mut Open,
        uid: u32,
        what: &str,
    ) -> Result<Option<async_imap::types::Fetch>, Stop> {
        let asked = async {
            let mut answers = session.uid_fetch(uid.to_string(), what).await?;
            let mut found = None;
            while let Some(answer) = answers.try_next().await? {
                if answer.uid == Some(uid) {
                    found = Some(answer);
                }
            }
            Ok(found)
        };
        let found = self.step(Stage::Fetching, asked).await?;
        if found.is_none() {
            self.still_there(session).await?;
        }
        Ok(found)
    }

    async fn mark(&self, handles: Vec<String>) -> Result<(), Stop> {
        let mut session = self.open().await?;
        let validity = format!("{}:", self.folder(&mut session).await?);
        // Numbered anew they come again, and are known by their Message-IDs.
        let uids: Vec<&str> = handles
            .iter()
            .filter_map(|handle| handle.strip_prefix(&validity))
            .collect();
        if !uids.is_empty() {
            let mark = format!("UID STORE {} +FLAGS.SILENT (\\Seen)", uids.join(","));
            let marked = session.run_command_and_check_ok(mark);
            self.step(Stage::Marking, marked).await?;
        }
        goodbye(session).await;
        Ok(())
    }

    async fn check(&self) -> Result<String, Stop> {
        let mut session = self.open().await?;
        self.folder(&mut session).await?;
        let waiting = self.unread(&mut session).await?.len();
        goodbye(session).await;
        Ok(format!("{}: {}", self.place(), waiting_mails(waiting)))
    }

    fn place(&self) -> String {
        let ImapSettings { host, port, .. } = &self.settings;
        format!("mailbox at {host}:{port}")
    }

    fn told(&self, stop: &Stop) -> Problem {
        let password = self.settings.password.expose_secret();
        // As it stands in the command, and that as the library shows it.
        let escaped = |text: &str| text.replace('\\', "\\\\").replace('"', "\\\"");
        let (once, twice) = (escaped(password), escaped(&escaped(password)));
        let (what, remedy) = stop.told(&self.settings.folder, &[twice, once, password.into()]);
        Problem::new(self.place(), what, "no answer is read", remedy)
    }
}

impl Mailbox for Imap {
    fn look(&self) -> Pending<'_, Result<Mailbag, Problem>> {
        Box::pin(async { self.read().await.map_err(|stop| self.told(&stop)) })
    }

    fn put_aside(&self, handles: Vec<String>) -> Pending<'_, Result<(), Problem>> {
        Box::pin(async { self.mark(handles).await.map_err(|stop| self.told(&stop)) })
    }

    fn try_out(&self) -> Pending<'_, Result<String, Problem>> {
        Box::pin(async { self.check().await.map_err(|stop| self.told(&stop)) })
    }
}

/// All is read: whatever happens now changes nothing.
async fn goodbye(mut session: Open) {
    let _ = timeout(Duration::from_secs(1), session.logout()).await;
}

impl Stop {
    /// What stopped it, and what to do.
    fn told(&self, folder: &str, secret: &[String]) -> (String, &'static str) {
        let stage = match self.stage {
            Stage::Connecting => "while connecting, the server".to_owned(),
            Stage::Login => "at the login, the server".into(),
            Stage::Folder => format!("asked for the folder '{folder}', the server"),
            Stage::Looking => "asked for new mails, the server".into(),
            Stage::Fetching => "asked for a mail, the server".into(),
            Stage::Marking => "asked to mark mails as read, the server".into(),
        };
        let cause = match &self.cause {
            Cause::Silence(limit) => {
                format!("gave no answer within {} s", limit.as_secs_f64())
            }
            Cause::Said(Error::No(said) | Error::Bad(said)) => {
                format!("said no: {}", info(&without_secret(said, secret)))
            }
            Cause::Said(Error::ConnectionLost) => "broke off".into(),
            Cause::Said(error) => format!(
                "could not be understood ({})",
                excerpt(without_secret(&error.to_string(), secret).as_bytes())
            ),
            Cause::Broken(error) => format!("failed ({error})"),
        };
        let refused = matches!(&self.cause, Cause::Said(Error::No(_) | Error::Bad(_)));
        let remedy = match self.stage {
            Stage::Login if refused => {
                "check user and password_file under [answers.imap]; many providers want a password of its own for each program"
            }
            Stage::Folder if refused => "check folder under [answers.imap]",
            Stage::Connecting if self.is_unknown_certificate() => {
                "if it has a certificate of your own making, name its root in SSL_CERT_FILE"
            }
            _ => {
                "if it lasts, check host and port under [answers.imap], and that the server is well"
            }
        };
        (format!("{stage} {cause}"), remedy)
    }

    fn is_unknown_certificate(&self) -> bool {
        matches!(&self.cause, Cause::Broken(error) if error.to_string().contains("certificate"))
    }
}

/// What the server said, out of what the library makes of it: `code: …, info: Some("…")`, or `information: Some("…")`.
fn info(said: &str) -> String {
    let quoted = said
        .split_once("info")
        .and_then(|(_, rest)| rest.split_once('"'))
        .and_then(|(_, rest)| rest.rsplit_once('"'));
    let inner = quoted.map_or("", |(inner, _)| inner);
    // A code for programs stands before what people read.
    let inner = match inner
        .strip_prefix('[')
        .and_then(|rest| rest.split_once(']'))
    {
        Some((_, rest)) => rest.trim(),
        None => inner,
    };
    match inner {
        "" => "without a reason".into(),
        inner => excerpt(inner.as_bytes()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(said: &str, shown: &str) {
        assert_eq!(info(said), shown);
    }

    #[test]
    fn what_a_server_says_is_shown_alone() {
        check(
            "code: None, info: Some(\"mailbox is locked\")",
            "mailbox is locked",
        );
        check("code: Some(Alert), info: None", "without a reason");
        check(
            "code: None, info: Some(\"[AUTHENTICATIONFAILED] wrong password\")",
            "wrong password",
        );
        check(
            "outcome: Outcome { code: None, information: Some(\"no such folder\") }",
            "no such folder",
        );
    }

    #[test]
    fn a_password_is_shown_nowhere() {
        let settings = ImapSettings {
            roots: Roots::default(),
            host: "imap.alderfold.example".into(),
            port: 993,
            security: Security::Tls,
            user: "answers".into(),
            password: "hazel-4711".into(),
            folder: "INBOX".into(),
        };
        assert!(!format!("{settings:?}").contains("hazel"));
        let imap = Imap::new(settings, Imap::LIMIT).unwrap();
        let stop = Stop {
            stage: Stage::Login,
            cause: Cause::Said(Error::No(
                "code: None, info: Some(\"hazel-4711 is wrong\")".into(),
            )),
        };
        assert_eq!(
            imap.told(&stop).to_string(),
            "mailbox at imap.alderfold.example:993: at the login, the server said no: (the password) is wrong; no answer is read. Check user and password_file under [answers.imap]; many providers want a password of its own for each program."
        );
    }
}
