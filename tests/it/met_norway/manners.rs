//! How MET Norway is asked: who asks, how often, and what is not sent twice.

use super::*;

fn reminded(memo: Option<String>) -> Ask {
    Ask { memo, ..ask() }
}

#[tokio::test]
async fn the_question_is_put_as_the_service_wants_it() {
    let server = WeatherServer::saying(json(200, FIXTURE)).await;
    source(&server.url(), Europe::Oslo).fetch(ask()).await;
    let requests = server.requests().await;
    let request = &requests[0];
    assert_eq!(
        request.url.query(),
        Some("lat=59.1235&lon=9.5678&altitude=125")
    );
    let header = |name: &str| request.headers[name].to_str().unwrap();
    let agent = header("user-agent");
    assert!(agent.starts_with("graftwarden/"), "{agent}");
    assert!(agent.ends_with(" (office@alderfold.example)"), "{agent}");
    assert!(header("accept-encoding").contains("gzip"));
    assert!(!request.headers.contains_key("if-modified-since"));
}

#[tokio::test]
async fn places_on_the_edges_of_the_map_are_asked_for_with_four_decimals() {
    for (latitude, longitude, elevation, zone, query) in [
        (90.0, 0.0, None, Tz::UTC, "lat=90.0000&lon=0.0000"),
        (
            -0.000_02,
            -179.999_99,
            Some(-3.4),
            Etc::GMTPlus12,
            "lat=0.0000&lon=-180.0000&altitude=-3",
        ),
        (
            78.223_172,
            15.626_723,
            Some(0.2),
            Arctic::Longyearbyen,
            "lat=78.2232&lon=15.6267&altitude=0",
        ),
        (
            -90.0,
            139.25,
            Some(2835.0),
            Tz::UTC,
            "lat=-90.0000&lon=139.2500&altitude=2835",
        ),
    ] {
        let site = Site {
            latitude,
            longitude,
            elevation,
            ..site(zone)
        };
        let from = moment("2026-04-14T00:00:00Z");
        let sent = document((latitude, longitude), from, (50, 8), |_| Some(-7.5));
        let server = WeatherServer::saying(json(200, &sent.to_string())).await;
        let source = MetNorway::new(&site, settings(&server.url()), QUICK).unwrap();
        let found = source.fetch(ask()).await;
        assert_eq!(found.problems, []);
        let warmest: Vec<_> = found.days.iter().map(|d| (d.min, d.max)).collect();
        assert!(warmest.len() >= 3, "{found:?}");
        assert!(warmest.iter().all(|both| *both == (-7.5, -7.5)));
        assert_eq!(server.requests().await[0].url.query(), Some(query));
    }
}

#[tokio::test]
async fn who_cannot_be_reached_does_not_ask() {
    for contact in ["", "  ", "Alder Fold Nursery"] {
        let settings = Settings {
            contact: contact.into(),
            ..settings("https://weather.example/v1")
        };
        let refused = MetNorway::new(&site(Tz::UTC), settings, QUICK).unwrap_err();
        assert_eq!(
            refused.to_string(),
            "site hill, met-norway: the service answers only who says how to be reached, and contact has no e-mail \
             address or web page; this source is not used. Set from under [post], or contact here, in plain letters."
        );
    }
    let refused = MetNorway::new(&site(Tz::UTC), settings("weather"), QUICK).unwrap_err();
    assert_eq!(
        refused.to_string(),
        "site hill, met-norway: its url is not a web address; this source is not used. Write it like \
         https://api.met.no/weatherapi/locationforecast/2.0/complete."
    );
    let usual = Settings {
        url: None,
        ..settings("")
    };
    let source = MetNorway::new(&site(Tz::UTC), usual, QUICK).unwrap();
    assert_eq!(source.host().as_deref(), Some("api.met.no:443"));
}

#[tokio::test]
async fn an_unchanged_document_is_not_sent_twice() {
    let first = json(200, FIXTURE).insert_header("last-modified", LAST_MODIFIED);
    let unchanged =
        ResponseTemplate::new(304).insert_header("expires", "Tue, 14 Apr 2026 21:50:00 GMT");
    let server = WeatherServer::saying(unchanged).await.first(first).await;
    let source = source(&server.url(), Europe::Oslo);
    let new = source.fetch(ask()).await;
    assert_eq!(new.days.len(), 4);
    let same = source.fetch(reminded(new.memo.clone())).await;
    assert!(same.answered && same.passing);
    assert_eq!((same.days, same.problems), (vec![], vec![]));
    assert_eq!(same.memo, new.memo);
    assert!(same.not_before >= Some(moment("2026-04-14T21:50:00Z")));
    let sent = |request: &wiremock::Request| {
        let since = request.headers.get("if-modified-since");
        since.map(|since| since.to_str().unwrap().to_owned())
    };
    let sent: Vec<_> = server.requests().await.iter().map(sent).collect();
    assert_eq!(sent, [None, Some(LAST_MODIFIED.into())]);
}

#[tokio::test]
async fn a_new_document_is_remembered_by_its_own_words() {
    // Not a date that any program would write, nor one that has been.
    let odd = "tue, 14 Apr 2037 20:43:19 +0000";
    let server =
        WeatherServer::saying(json(200, FIXTURE).insert_header("last-modified", odd)).await;
    let source = source(&server.url(), Europe::Oslo);
    let first = source.fetch(ask()).await;
    let second = source.fetch(reminded(first.memo)).await;
    assert_eq!(second.days.len(), 4);
    assert_eq!(server.requests().await[1].headers["if-modified-since"], odd);
    // Without such words there is nothing to remember.
    let (found, _) = heard(json(200, FIXTURE)).await;
    assert_eq!(found.memo, None);
}

#[tokio::test]
async fn what_was_remembered_of_another_place_is_not_sent() {
    let server =
        WeatherServer::saying(json(200, FIXTURE).insert_header("last-modified", LAST_MODIFIED))
            .await;
    let memo = source(&server.url(), Europe::Oslo).fetch(ask()).await.memo;
    let moved = Site {
        longitude: 9.5679,
        ..site(Europe::Oslo)
    };
    for site in [moved, site(Europe::Berlin)] {
        let source = MetNorway::new(&site, settings(&server.url()), QUICK).unwrap();
        assert_eq!(source.fetch(reminded(memo.clone())).await.days.len(), 4);
    }
    let requests = server.requests().await;
    assert_eq!(requests.len(), 3);
    for request in requests {
        assert!(!request.headers.contains_key("if-modified-since"));
    }
    let (found, _) = heard(ResponseTemplate::new(304)).await;
    useless(&found, "it says unchanged to a first question");
}

#[tokio::test]
async fn an_answer_of_no_use_does_not_change_what_is_remembered() {
    let good = json(200, FIXTURE).insert_header("last-modified", LAST_MODIFIED);
    let stale = FIXTURE.replace("2026-04-14T20:41:07Z", "2026-04-13T20:41:07Z");
    for bad in [
        json(200, &stale).insert_header("last-modified", "Wed, 15 Apr 2026 07:00:00 GMT"),
        json(200, &FIXTURE[..9000]),
        json(503, "{}"),
        html(403, "no"),
    ] {
        let server = WeatherServer::saying(bad).await.first(good.clone()).await;
        let source = source(&server.url(), Europe::Oslo);
        let memo = source.fetch(ask()).await.memo;
        assert!(memo.as_deref().unwrap().ends_with(LAST_MODIFIED));
        let found = source.fetch(reminded(memo.clone())).await;
        assert!(!found.answered);
        assert_eq!(found.memo, memo);
    }
}

#[tokio::test]
async fn it_is_left_alone_until_the_document_expires() {
    let expiring = |text: &str| json(200, FIXTURE).insert_header("expires", text);
    let (found, _) = heard(expiring("Tue, 14 Apr 2026 21:51:30 GMT")).await;
    let expires = moment("2026-04-14T21:51:30Z");
    let until = found.not_before.unwrap();
    assert!(
        until >= expires && until < expires + TimeDelta::minutes(5),
        "{until}"
    );
    // The same delay each time, and another one for another site.
    let (again, _) = heard(expiring("Tue, 14 Apr 2026 21:51:30 GMT")).await;
    assert_eq!(again.not_before, Some(until));
    let mut delays = vec![until - expires];
    for latitude in [59.13, 59.14, 59.15] {
        let site = Site {
            latitude,
            ..site(Europe::Oslo)
        };
        let server = WeatherServer::saying(expiring("Tue, 14 Apr 2026 21:51:30 GMT")).await;
        let source = MetNorway::new(&site, settings(&server.url()), QUICK).unwrap();
        delays.push(source.fetch(ask()).await.not_before.unwrap() - expires);
    }
    delays.sort_unstable();
    delays.dedup();
    assert_eq!(delays.len(), 4, "{delays:?}");
    // Nobody means a year, or what has been, or nothing.
    let (found, _) = heard(expiring("Wed, 14 Apr 2027 21:51:30 GMT")).await;
    let until = found.not_before.unwrap() - moment(NOW);
    assert!(until >= TimeDelta::hours(24) && until < TimeDelta::hours(24) + TimeDelta::minutes(5));
    for text in ["Tue, 14 Apr 2026 21:19:59 GMT", "0"] {
        assert_eq!(heard(expiring(text)).await.0.not_before, None);
    }
    assert_eq!(heard(json(200, FIXTURE)).await.0.not_before, None);
}

#[tokio::test]
async fn a_version_that_will_end_is_used_and_told() {
    let (found, requests) = heard(json(203, FIXTURE)).await;
    assert_eq!(requests, 1);
    assert!(found.answered && !found.passing);
    assert_eq!(found.days.len(), 4);
    assert_eq!(found.problems.len(), 1);
    let told = found.problems[0].to_string();
    assert!(
        told.ends_with(
            "the service says that this version of it will end; its answer is used. Look for a newer version of this \
             program before it does."
        ),
        "{told}"
    );
}

#[tokio::test]
async fn shut_out_it_stays_away_for_a_day_and_says_so() {
    let (found, requests) = heard(html(403, "<h1>403 Forbidden</h1>")).await;
    useless(&found, "answered 403: <h1>403 Forbidden</h1>");
    useless(&found, "Look at contact in the config");
    assert_eq!(requests, 1);
    assert!(!found.passing);
    assert_eq!(found.not_before, Some(moment("2026-04-15T21:20:00Z")));
}

#[tokio::test]
async fn throttled_it_does_not_ask_on() {
    for body in [
        "",
        "<h1>429 Too Many Requests</h1>",
        r#"{"message":"Too many concurrent requests"}"#,
    ] {
        let (found, requests) = heard(html(429, body)).await;
        useless(&found, "answered 429: ");
        assert_eq!(requests, 1);
        assert!(found.passing);
        let rest = found.not_before.unwrap() - moment(NOW);
        assert!(
            rest >= TimeDelta::hours(1) && rest < TimeDelta::minutes(65),
            "{rest}"
        );
    }
}
