//! Connections that do not come about, hang, drip, or cannot be trusted.

use super::{Failure, Log, QUICK, date, good, house, moment, run, series, site};
use crate::program::Nursery;
use crate::scripted_server::{Hanging, Reply, Scripted, json};
use chrono::Utc;
use graftwarden::weather::http::{Line, Patience};
use reqwest::dns::{Addrs, Name, Resolve, Resolving};
use std::net::{Ipv4Addr, SocketAddr, TcpListener};
use std::sync::Arc;
use std::time::Duration;

/// Little time, and one try: what hangs is left soon.
const SHORT: Patience = Patience {
    connect: Duration::from_millis(100),
    whole: Duration::from_millis(150),
    retries: 0,
    ..QUICK
};

/// Whoever asks for a name gets these addresses, or hears that there are none.
struct Names(Vec<SocketAddr>);

impl Resolve for Names {
    fn resolve(&self, _: Name) -> Resolving {
        let addresses = self.0.clone();
        Box::pin(async move {
            if addresses.is_empty() {
                return Err("no such name".into());
            }
            Ok(Box::new(addresses.into_iter()) as Addrs)
        })
    }
}

fn names(patience: Patience, addresses: &[SocketAddr]) -> Line {
    Line {
        names: Some(Arc::new(Names(addresses.to_vec()))),
        ..patience.into()
    }
}

#[test]
fn drop_by_drop() {
    Failure::of(|_| Reply::Drip)
        .before_a_file()
        .by(SHORT)
        .asked(1, 1)
        .says("gave no whole answer within 0.15 s");
}

#[test]
fn not_a_word() {
    Failure::of(|_| Reply::Silent)
        .before_a_file()
        .by(SHORT)
        .asked(1, 1)
        .says("gave no whole answer within 0.15 s");
}

#[test]
fn the_connection_ends_before_a_word() {
    Failure::of(|_| Reply::Bytes(Vec::new())).says("the connection to http://127.0.0.1");
}

#[test]
fn nobody_is_there() {
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap();
    let url = format!("http://{}", listener.local_addr().unwrap());
    drop(listener);
    Failure::at(url).says("could not be reached: Connection refused");
}

#[test]
fn nobody_knows_the_name() {
    Failure::at("http://localhost:80".into())
        .by(names(QUICK, &[]))
        .says("http://localhost/v1?latitude=50.8000&longitude=4.4000");
    Failure::at("http://localhost:80".into())
        .by(names(QUICK, &[]))
        .says("could not be reached: no such name");
}

#[tokio::test]
async fn every_address_hangs() {
    let hanging = Hanging::at(0);
    let url = format!("http://localhost:{}", hanging.address.port());
    let line = names(SHORT, &[hanging.address]);
    // The rounds have a runtime of their own.
    let played = tokio::task::spawn_blocking(move || {
        Failure::at(url)
            .before_a_file()
            .by(line)
            .says("could not be reached: no connection within 0.1 s");
    });
    played.await.unwrap();
}

/// Only the first of its addresses hangs, as when a service's IPv6 is dead: the next one is taken.
#[tokio::test]
async fn the_first_address_hangs() {
    let server = Scripted::start();
    let hanging = Hanging::at(server.port());
    let patience = Patience {
        connect: Duration::from_millis(400),
        ..QUICK
    };
    let good_one = SocketAddr::from((Ipv4Addr::LOCALHOST, server.port()));
    let line = names(patience, &[hanging.address, good_one]);
    let url = format!("http://localhost:{}", server.port());
    let played = tokio::task::spawn_blocking(move || {
        let now = moment("2024-07-17T04:10:00Z");
        server.says(good(now));
        let (nursery, log) = (
            Nursery::bare().with("batches.csv", super::BATCHES),
            Log::default(),
        );
        let source = format!("source = \"open-meteo\"\nurl = \"{url}/v1\"\npast_days = 5");
        let house = house(&nursery, &site("home", &[&source]), now, line);
        run(&house, &log);
        assert_eq!(log.take(), [""; 0]);
        assert_eq!(server.asked(), 1);
        let series = series(&house);
        let day = series.day(date("2024-07-16")).unwrap();
        assert_eq!((day.min, day.max), (10.0, 20.0));
    });
    played.await.unwrap();
}

#[test]
fn a_certificate_that_nobody_stands_behind() {
    let (server, _) = Scripted::encrypted();
    server.says(good(moment("2024-07-17T04:10:00Z")));
    Failure::at(server.url())
        .says("showed a certificate that cannot be trusted: nobody whom this machine knows stands behind it; the days already known stay in use.");
    assert_eq!(server.asked(), 0, "nothing was asked over it");
}

/// The same by the config alone.
#[test]
fn a_certificate_that_the_config_names() {
    let (server, certificate) = Scripted::encrypted();
    let now = Utc::now();
    let days = super::open_meteo(now, super::warmth(10.0, 20.0));
    server.says(json(200, days.to_string()));
    let source = format!(
        "source = \"open-meteo\"\nurl = \"{}/v1\"\npast_days = 5",
        server.url()
    );
    let nursery = Nursery::small()
        .with("own.pem", &certificate)
        .but(
            "graftwarden.toml",
            "source = \"file\"\npath = \"temps.csv\"",
            &source,
        )
        .but(
            "graftwarden.toml",
            "version = 1",
            "version = 1\nca_file = \"own.pem\"",
        );
    let answered = nursery.run("check --online").out;
    assert!(
        answered.contains("yes   temperatures of home from open-meteo: "),
        "{answered}"
    );
    nursery.write("own.pem", "-- none --");
    let refused = nursery.run("check --online").out;
    assert!(
        refused.contains(
            "mend  own.pem: there is no certificate in it; no certificate of your own is trusted."
        ),
        "{refused}"
    );
    assert_eq!(server.asked(), 1);
}

#[test]
fn a_certificate_that_the_machine_was_told_to_trust() {
    let (server, certificate) = Scripted::encrypted();
    let (_, another) = Scripted::encrypted();
    let files = Nursery::small()
        .with("own.pem", &certificate)
        .with("another.pem", &another);
    let nursery = files.but(
        "graftwarden.toml",
        "source = \"file\"\npath = \"temps.csv\"",
        &format!(
            "source = \"open-meteo\"\nurl = \"{}/v1\"\npast_days = 5",
            server.url()
        ),
    );
    let now = Utc::now();
    server.says(json(
        200,
        super::open_meteo(now, super::warmth(10.0, 20.0)).to_string(),
    ));
    let check = |trusted: &str| {
        let mut command = nursery.command("check --online");
        command.env("SSL_CERT_FILE", nursery.path(trusted));
        String::from_utf8(command.output().unwrap().stdout).unwrap()
    };
    let refused = check("another.pem");
    assert!(
        refused.contains("showed a certificate that cannot be trusted"),
        "{refused}"
    );
    assert_eq!(server.asked(), 0);
    let answered = check("own.pem");
    assert!(
        answered.contains("yes   temperatures of home from open-meteo: "),
        "{answered}"
    );
    assert_eq!(server.asked(), 1);
}
