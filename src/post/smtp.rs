//! Letters by SMTP: one fresh connection a letter, everything within one time limit.
//!
//! Tells apart what concerns the letter (a refused recipient) from what concerns the way there (no connection, a wrong
//! password): the latter is never a reason to drop a letter. Knows nothing of letters but their bytes.

mod stop;

use super::{Carrier, Outcome, Parcel, Pending};
use crate::problem::Problem;
use crate::roots::Roots;
use lettre::Address;
use lettre::message::Mailbox;
use lettre::transport::smtp::Error;
use lettre::transport::smtp::authentication::{Credentials, Mechanism};
use lettre::transport::smtp::client::{AsyncSmtpConnection, Certificate, TlsParameters};
use lettre::transport::smtp::commands::{Data, Mail, Rcpt, Rset};
use lettre::transport::smtp::extension::{ClientId, Extension, MailBodyParameter, MailParameter};
use secrecy::{ExposeSecret, SecretString};
use std::net::IpAddr;
use std::time::Duration;
use stop::{Cause, Stage, Stop, innermost, said_back};
use tokio::time::{Instant, timeout, timeout_at};

/// For a polite goodbye after the letter has been taken.
const GOODBYE: Duration = Duration::from_secs(1);

/// How a connection is kept from being read by others.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Security {
    /// From the first byte (usually port 465).
    Tls,
    /// After a first exchange, or not at all (usually port 587).
    StartTls,
    /// Not; only within this machine.
    None,
}

/// What the config says about the mail server.
#[derive(Clone, Debug)]
pub struct SmtpSettings {
    /// Name or address.
    pub host: String,
    /// 1 to 65535.
    pub port: u16,
    /// How the connection is kept private.
    pub security: Security,
    /// User and password.
    pub login: Option<(String, SecretString)>,
    /// Whose certificates are trusted beside those that the system trusts.
    pub roots: Roots,
    /// The sender: `graftwarden@alderfold.example`, or with a name before it and the address in `<>`.
    pub from: String,
}

/// A mail server.
pub struct Smtp {
    settings: SmtpSettings,
    sender: Address,
    tls: Option<TlsParameters>,
    limit: Duration,
}

impl Smtp {
    /// The word in the store.
    pub const NAME: &'static str = "smtp";

    /// The usual limit for one letter.
    pub const LIMIT: Duration = Duration::from_secs(60);

    /// Prepares the carrier; connects to nothing. `limit` is for one whole letter. Refuses an open connection to
    /// another machine, a sender that is no address, and a machine without root certificates.
    pub fn new(settings: SmtpSettings, limit: Duration) -> Result<Self, Problem> {
        let problem = |what: String, remedy: &str| {
            let place = format!("mail server {}:{}", settings.host, settings.port);
            Problem::new(place, what, "no letter is mailed", remedy)
        };
        let sender = settings.from.parse::<Mailbox>().map_err(|_| {
            problem(
                format!("the sender '{}' is not an address", settings.from),
                "write from = \"graftwarden@\" and the farm's own domain",
            )
        })?;
        let tls = match settings.security {
            Security::None if is_loopback(&settings.host) => None,
            Security::None => {
                let what = "security = \"none\" is only for a mail server on this machine";
                return Err(problem(what.into(), "write \"tls\" or \"starttls\""));
            }
            Security::Tls | Security::StartTls => {
                let made = private(&settings);
                Some(made.map_err(|e| {
                    let what = format!("no private connection can be prepared: {}", innermost(&e));
                    problem(
                        what,
                        "install the system's root certificates (package ca-certificates)",
                    )
                })?)
            }
        };
        Ok(Self {
            sender: sender.email,
            settings,
            tls,
            limit,
        })
    }

    /// Connects, logs in, asks for each of these people whether a letter to them would be taken, and says goodbye without
    /// having sent one. The errors are sentences: of all, and of each.
    pub async fn try_out(&self, people: &[&str]) -> Result<Vec<Result<(), String>>, String> {
        let end = Instant::now() + self.limit;
        let mut connection = self.open(end).await.map_err(|stop| self.told(&stop))?;
        let mut answers = Vec::with_capacity(people.len());
        for person in people {
            let asked = self.would_take(&mut connection, person, end).await;
            answers.push(asked.map_err(|stop| self.told(&stop)));
        }
        goodbye(&mut connection).await;
        Ok(answers)
    }

    /// Names sender and recipient, and takes both back.
    async fn would_take(
        &self,
        connection: &mut AsyncSmtpConnection,
        person: &str,
        end: Instant,
    ) -> Result<(), Stop> {
        let recipient = person.parse::<Address>().map_err(|_| Stop {
            stage: Stage::Envelope,
            cause: Cause::Unable("this is no address"),
        })?;
        let parameters = parameters(connection, [&self.sender, &recipient], b"")?;
        let mail = Mail::new(Some(self.sender.clone()), parameters);
        step(end, Stage::Envelope, connection.command(mail)).await?;
        let to = Rcpt::new(recipient, Vec::new());
        let taken = step(end, Stage::Envelope, connection.command(to)).await;
        step(end, Stage::Envelope, connection.command(Rset)).await?;
        taken.map(drop)
    }

    async fn send(&self, parcel: &Parcel) -> Outcome {
        let Ok(recipient) = parcel.recipient.parse::<Address>() else {
            return Outcome::Refused {
                why: format!("'{}' is not an address", parcel.recipient),
            };
        };
        let end = Instant::now() + self.limit;
        let handed = async {
            let mut connection = self.open(end).await?;
            self.hand_over(&mut connection, &recipient, &parcel.bytes, end)
                .await?;
            goodbye(&mut connection).await;
            Ok::<(), Stop>(())
        };
        match handed.await {
            Ok(()) => Outcome::Delivered,
            Err(stop) if stop.is_about_the_server() => Outcome::Away {
                why: self.told(&stop),
                rest: None,
            },
            Err(stop) => {
                let why = format!("letter to {}: {}", parcel.recipient, self.told(&stop));
                if stop.is_about_the_letter() {
                    Outcome::Refused { why }
                } else {
                    Outcome::Later { why }
                }
            }
        }
    }

    /// Connects and, where there is a login, logs in.
    async fn open(&self, end: Instant) -> Result<AsyncSmtpConnection, Stop> {
        let hello = ClientId::default();
        let server = (self.settings.host.as_str(), self.settings.port);
        let (at_once, later) = match self.settings.security {
            Security::StartTls => (None, self.tls.clone()),
            Security::Tls | Security::None => (self.tls.clone(), None),
        };
        let mut connection = step(end, Stage::Connect, async {
            // Each address of the server gets a share of the time.
            let share = Some(self.limit / 4);
            let mut connection =
                AsyncSmtpConnection::connect_tokio1(server, share, &hello, at_once, None).await?;
            if let Some(tls) = later {
                connection.starttls(tls, &hello).await?;
            }
            Ok(connection)
        })
        .await?;
        if let Some((user, password)) = &self.settings.login {
            let login = Credentials::new(user.clone(), password.expose_secret().into());
            let ways = [Mechanism::Plain, Mechanism::Login];
            step(end, Stage::Login, connection.auth(&ways, &login)).await?;
        }
        Ok(connection)
    }

    async fn hand_over(
        &self,
        connection: &mut AsyncSmtpConnection,
        recipient: &Address,
        message: &[u8],
        end: Instant,
    ) -> Result<(), Stop> {
        let parameters = parameters(connection, [&self.sender, recipient], message)?;
        let mail = Mail::new(Some(self.sender.clone()), parameters);
        step(end, Stage::Envelope, connection.command(mail)).await?;
        let to = Rcpt::new(recipient.clone(), Vec::new());
        step(end, Stage::Envelope, connection.command(to)).await?;
        step(end, Stage::Envelope, connection.command(Data)).await?;
        // The line end before the final dot is added below, and is part of the message (RFC 5321, 4.1.1.4).
        let message = message.strip_suffix(b"\r\n").unwrap_or(message);
        step(end, Stage::Letter, connection.message(message)).await?;
        Ok(())
    }

    /// What stopped it, as a sentence that names the server.
    fn told(&self, stop: &Stop) -> String {
        let SmtpSettings { host, port, .. } = &self.settings;
        let ways = match &self.settings.login {
            Some((user, password)) => said_back(user, password.expose_secret()),
            None => Vec::new(),
        };
        format!(
            "mail server {host}:{port}, {}",
            stop.told(self.limit, &ways)
        )
    }
}

impl Carrier for Smtp {
    fn name(&self) -> &'static str {
        Self::NAME
    }

    fn carry<'a>(&'a self, parcel: &'a Parcel) -> Pending<'a, Outcome> {
        Box::pin(self.send(parcel))
    }
}

fn private(settings: &SmtpSettings) -> Result<TlsParameters, Error> {
    let mut made = TlsParameters::builder(settings.host.clone());
    for root in settings.roots.iter() {
        made = made.add_root_certificate(Certificate::from_der(root.to_vec())?);
    }
    made.build()
}

/// The library bounds only the connecting, so every exchange is bounded here.
async fn step<T>(
    end: Instant,
    stage: Stage,
    exchange: impl Future<Output = Result<T, Error>>,
) -> Result<T, Stop> {
    let cause = match timeout_at(end, exchange).await {
        Ok(Ok(done)) => return Ok(done),
        Ok(Err(error)) => Cause::Said(error),
        Err(_) => Cause::Silence,
    };
    Err(Stop { stage, cause })
}

/// The letter has been taken: whatever happens now changes nothing.
async fn goodbye(connection: &mut AsyncSmtpConnection) {
    let _ = timeout(GOODBYE, connection.quit()).await;
}

/// What the server must be told about characters outside ASCII; it may be unable to take them.
fn parameters(
    connection: &AsyncSmtpConnection,
    addresses: [&Address; 2],
    message: &[u8],
) -> Result<Vec<MailParameter>, Stop> {
    let has = |extension| connection.server_info().supports_feature(extension);
    let unable = |what| Stop {
        stage: Stage::Envelope,
        cause: Cause::Unable(what),
    };
    let mut parameters = Vec::new();
    if !addresses.iter().all(|a| AsRef::<str>::as_ref(a).is_ascii()) {
        if !has(Extension::SmtpUtfEight) {
            return Err(unable(
                "an address has letters that this server does not know",
            ));
        }
        parameters.push(MailParameter::SmtpUtfEight);
    }
    if !message.is_ascii() {
        if !has(Extension::EightBitMime) {
            return Err(unable(
                "the letter has bytes that this server does not take",
            ));
        }
        parameters.push(MailParameter::Body(MailBodyParameter::EightBitMime));
    }
    Ok(parameters)
}

fn is_loopback(host: &str) -> bool {
    host == "localhost" || host.parse::<IpAddr>().is_ok_and(|ip| ip.is_loopback())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settings(host: &str, security: Security, from: &str) -> SmtpSettings {
        SmtpSettings {
            host: host.into(),
            port: 25,
            security,
            login: None,
            roots: Roots::default(),
            from: from.into(),
        }
    }

    #[track_caller]
    fn refused(host: &str, from: &str, told: &str) {
        let made = Smtp::new(settings(host, Security::None, from), Smtp::LIMIT);
        assert_eq!(made.err().unwrap().to_string(), told);
    }

    #[test]
    fn an_open_connection_is_only_for_this_machine() {
        refused(
            "mail.alderfold.example",
            "a@alderfold.example",
            "mail server mail.alderfold.example:25: security = \"none\" is only for a mail server on this machine; no letter is mailed. Write \"tls\" or \"starttls\".",
        );
        for host in ["localhost", "127.0.0.1", "::1"] {
            let made = Smtp::new(settings(host, Security::None, "a@b.example"), Smtp::LIMIT);
            assert!(made.is_ok(), "{host}");
        }
    }

    #[test]
    fn a_sender_may_have_a_name_and_must_have_an_address() {
        let named = "Alder Fold <warden@alderfold.example>";
        let made = Smtp::new(settings("localhost", Security::None, named), Smtp::LIMIT).unwrap();
        assert_eq!(made.sender.to_string(), "warden@alderfold.example");
        refused(
            "localhost",
            "the warden",
            "mail server localhost:25: the sender 'the warden' is not an address; no letter is mailed. Write from = \"graftwarden@\" and the farm's own domain.",
        );
    }
}
