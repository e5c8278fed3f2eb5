//! How services are asked: one question at a time for each of them, all of them side by side, nobody again who refused,
//! and the same over a restart.

use super::{Log, QUICK, good, house, moment, run, site};
use crate::program::Nursery;
use crate::scripted_server::{Reply, Scripted, html, json};
use chrono::{DateTime, Utc};
use graftwarden::assemble::House;
use graftwarden::notices::Kind;
use graftwarden::round::{Whom, is_to_be_asked_again, round_with};
use graftwarden::store::Memory;
use graftwarden::weather::http::Patience;
use std::net::{Ipv4Addr, TcpListener};
use std::sync::{Arc, Barrier};
use std::time::Duration;

const NOW: &str = "2024-07-16T04:10:00Z";

fn nursery() -> Nursery {
    let rows = ["a", "b", "c"].map(|site| {
        format!("{site}1,{site},{site},maple field T-graft,Ember Lace,310,2024-07-10\n")
    });
    let head = "batch,site,block,plan,scion,grafts,grafted_on\n";
    Nursery::bare().with("batches.csv", &format!("{head}{}", rows.concat()))
}

/// Sites a, b and c, each with open-meteo at one of these servers.
fn sites(servers: [&Scripted; 3]) -> String {
    sites_at(servers.map(Scripted::url))
}

fn sites_at(urls: [String; 3]) -> String {
    let source = |url: String| {
        format!("source = \"open-meteo\"\nurl = \"{url}/v1\"\npast_days = 5\nforecast_days = 3\n")
    };
    let ids = ["a", "b", "c"].into_iter().zip(urls);
    ids.map(|(id, url)| site(id, &[&source(url)])).collect()
}

fn bytes(reply: Reply) -> Vec<u8> {
    match reply {
        Reply::Bytes(bytes) => bytes,
        _ => panic!("it is bytes"),
    }
}

#[test]
fn one_service_is_asked_one_question_at_a_time() {
    let (nursery, log, server) = (nursery(), Log::default(), Scripted::start());
    let while_ = Duration::from_millis(20);
    server.says(Reply::Later(while_, bytes(good(moment(NOW)))));
    run(
        &house(&nursery, &sites([&server; 3]), moment(NOW), QUICK),
        &log,
    );
    assert_eq!((server.asked(), server.busiest()), (3, 1));
    assert_eq!(log.take(), [""; 0]);
}

/// Each of them answers only once all are being asked. They are one machine, but not one service: their ports differ.
#[test]
fn different_services_are_asked_side_by_side() {
    let (nursery, log) = (nursery(), Log::default());
    let servers = [Scripted::start(), Scripted::start(), Scripted::start()];
    let together = Arc::new(Barrier::new(3));
    for server in &servers {
        server.says(Reply::Together(together.clone(), bytes(good(moment(NOW)))));
    }
    let [a, b, c] = &servers;
    run(
        &house(&nursery, &sites([a, b, c]), moment(NOW), QUICK),
        &log,
    );
    assert_eq!(log.take(), [""; 0]);
    assert_eq!(servers.map(|server| server.asked()), [1, 1, 1]);
}

#[test]
fn who_shuts_out_one_site_is_not_asked_for_the_next() {
    let (nursery, log) = (nursery(), Log::default());
    let (closed, open) = (Scripted::start(), Scripted::start());
    closed.says(html(403, "no"));
    let round = |at: &str, seen: [usize; 2]| {
        open.says(good(moment(at)));
        let outcome = run(
            &house(
                &nursery,
                &sites([&closed, &closed, &open]),
                moment(at),
                QUICK,
            ),
            &log,
        );
        assert_eq!([closed.asked(), open.asked()], seen, "{at}");
        super::count(&outcome, Kind::Trouble)
    };
    assert_eq!(
        round("2024-07-16T04:10:00Z", [1, 1]),
        1,
        "told for one of them"
    );
    let lines = log.take();
    assert_eq!(lines.len(), 1, "{lines:?}");
    // The program is begun anew each time; what it was told, it knows.
    assert_eq!(round("2024-07-16T16:10:00Z", [0, 1]), 0);
    assert_eq!(log.take(), [""; 0]);
    closed.says(good(moment("2024-07-17T04:10:00Z")));
    assert_eq!(round("2024-07-17T04:10:00Z", [2, 1]), 0);
    let again: Vec<_> = log.take();
    assert_eq!(again.len(), 2, "{again:?}");
    assert!(
        again.iter().all(|line| line.contains("answers again")),
        "{again:?}"
    );
    assert_eq!(round("2024-07-17T16:10:00Z", [2, 1]), 0);
    assert_eq!(log.take(), [""; 0]);
}

/// Where the network is down each try takes minutes; all of them are asked again all the same.
#[test]
fn a_host_that_cannot_be_reached_is_tried_for_one_site_only() {
    let (nursery, log, server) = (nursery(), Log::default(), Scripted::start());
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap();
    let nobody = format!("http://{}", listener.local_addr().unwrap());
    drop(listener);
    server.says(good(moment(NOW)));
    let urls = [nobody.clone(), nobody, server.url()];
    let round = |sites: &str, at: &str| {
        run(&house(&nursery, sites, moment(at), QUICK), &log);
        log.take()
    };
    let lines = round(&sites_at(urls), NOW);
    assert_eq!(lines.len(), 1, "{lines:?}");
    assert!(lines[0].contains("site a, open-meteo"), "{lines:?}");
    assert!(lines[0].contains("could not be reached"), "{lines:?}");
    assert_eq!(server.asked(), 1);

    let later = "2024-07-16T04:15:00Z";
    server.says(good(moment(later)));
    let lines = round(&sites([&server; 3]), later);
    assert_eq!(lines.len(), 2, "{lines:?}");
    let well = |line: &String| line.contains("answers again");
    assert!(lines.iter().all(well), "{lines:?}");
}

#[test]
fn a_rest_that_was_noted_by_a_wrong_clock_is_not_kept() {
    let (nursery, log, server) = (nursery(), Log::default(), Scripted::start());
    server.says(html(403, "no"));
    run(
        &house(
            &nursery,
            &sites([&server; 3]),
            moment("2031-07-16T04:10:00Z"),
            QUICK,
        ),
        &log,
    );
    assert_eq!(server.asked(), 1);
    server.says(good(moment(NOW)));
    run(
        &house(&nursery, &sites([&server; 3]), moment(NOW), QUICK),
        &log,
    );
    assert_eq!(server.asked(), 3);
}

/// What a service asks for within the patience of a fetch is waited for: here nothing at all.
#[test]
fn a_short_wish_is_heard_within_the_fetch() {
    let (nursery, log, server) = (nursery(), Log::default(), Scripted::start());
    let wish = |seconds| crate::scripted_server::say(503, &[("retry-after", seconds)], "busy");
    let patience = Patience {
        retries: 3,
        ..QUICK
    };
    let asked = |seconds| {
        server.says(wish(seconds));
        let house = house(&nursery, &sites([&server; 3]), moment(NOW), patience);
        run(&house, &log);
        server.asked()
    };
    assert_eq!(
        asked("1"),
        1,
        "too long for this fetch, and then the others are not asked"
    );
    let (fresh, log) = (self::nursery(), Log::default());
    server.says(wish("0"));
    run(
        &house(&fresh, &sites([&server; 3]), moment(NOW), patience),
        &log,
    );
    assert_eq!(server.asked(), 4);
}

#[test]
fn who_failed_is_asked_again_between_the_rounds_and_nobody_else() {
    let (nursery, log) = (nursery(), Log::default());
    let (broken, open) = (Scripted::start(), Scripted::start());
    let begin = |at: &str| -> House {
        open.says(good(moment(at)));
        house(&nursery, &sites([&broken, &open, &open]), moment(at), QUICK)
    };
    let due = |at: &str, minutes| {
        let house = begin(at);
        let asked = |memory: &Memory<'_>| is_to_be_asked_again(&house, memory, minutes);
        house.with_store(asked).unwrap()
    };
    assert!(!due(NOW, 0), "there was no round yet");
    broken.says(json(503, "{}"));
    run(&begin(NOW), &log);
    assert_eq!([broken.asked(), open.asked()], [2, 2]);
    assert!(!due("2024-07-16T04:14:00Z", 0));
    assert!(due("2024-07-16T04:15:00Z", 0));
    assert!(!due("2024-07-16T04:15:00Z", 7), "the minutes of its own");

    let at: DateTime<Utc> = moment("2024-07-16T04:15:00Z");
    broken.says(good(at));
    let house = begin("2024-07-16T04:15:00Z");
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .unwrap();
    runtime
        .block_on(round_with(&house, Whom::WhoFailed))
        .unwrap();
    assert_eq!([broken.asked(), open.asked()], [1, 0]);
    assert!(!due("2024-07-16T09:00:00Z", 0), "it answers again");
}
