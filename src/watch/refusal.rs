//! While the clock cannot be right: says so, and asks the services for the time, later and later.
//!
//! Nothing goes by mail meanwhile: a letter would carry the wrong date, and the certificates of servers are judged by the
//! same clock. A doubt that lasts is handed to the hook, which may be a modem that needs neither.

use crate::assemble::House;
use crate::clock::{Doubt, REMEDY};
use crate::post::hook::{Told, body};
use crate::post::message::message_id;
use crate::post::{Hook, Outcome, Parcel};
use crate::round::ask_the_time;
use crate::store::StoreError;
use std::time::{Duration, Instant};

/// Until the services are asked for the time again; the last one repeats.
const GAPS: [Duration; 4] = [
    Duration::from_secs(60),
    Duration::from_secs(5 * 60),
    Duration::from_secs(20 * 60),
    Duration::from_secs(60 * 60),
];

/// Told by the hook once the services were asked so often, after 26 minutes: a machine that comes up before its network
/// has no need of it.
const TOLD_AFTER: usize = 4;

/// What was done about it so far.
#[derive(Default)]
pub(super) struct Refusal {
    asked: usize,
    next: Option<Instant>,
}

impl Refusal {
    /// Says so and asks, where it is time to.
    pub async fn go_on(&mut self, house: &House, doubt: &Doubt) -> Result<(), StoreError> {
        let now = house.clock.monotonic();
        if self.next.is_some_and(|next| now < next) {
            return Ok(());
        }
        self.next = Some(now + GAPS[self.asked.min(GAPS.len() - 1)]);
        self.asked += 1;
        tracing::error!("{doubt}; no round is walked and nothing is sent. To mend it, {REMEDY}");
        super::show(&format!("no round is walked: {doubt}"));
        ask_the_time(house).await;
        if self.asked == TOLD_AFTER {
            tell_by_hook(house, doubt).await?;
        }
        Ok(())
    }

    /// The clock is believed.
    pub fn end(&mut self) {
        if self.next.is_some() {
            super::show(super::WAITING);
        }
        *self = Self::default();
    }
}

/// Once for each doubt, to everybody, and past the outbox: its rows are due by the clock that is doubted. A service that is
/// started anew meanwhile tells it again.
async fn tell_by_hook(house: &House, doubt: &Doubt) -> Result<(), StoreError> {
    let Some(hook) = house.carriers.iter().find(|c| c.name() == Hook::NAME) else {
        return Ok(());
    };
    let config = &house.config;
    let from = config.post.from.as_ref().map_or("", |from| &from.email);
    let secret = house.with_store(|memory| memory.secret())?;
    let subject = "No rounds: the clock of this machine is wrong";
    let text = format!(
        "No round is walked: {doubt}.\n\nUntil it is right nobody is told what is due, and no letter goes out. To mend it, {REMEDY}.\n"
    );
    for person in &config.people {
        let message_id = message_id(&secret, &person.email, &[doubt.to_string()], from);
        let bytes = body(&Told {
            nursery: &config.name,
            person: (&person.name, &person.email),
            subject,
            short: subject,
            text: &text,
            urgent: true,
            dated: doubt.now.with_timezone(&config.zone).fixed_offset(),
            message_id: &message_id,
        });
        let parcel = Parcel {
            recipient: person.email.clone(),
            message_id,
            subject: subject.into(),
            bytes,
        };
        match hook.carry(&parcel).await {
            Outcome::Delivered => {}
            Outcome::Later { why } | Outcome::Away { why, .. } | Outcome::Refused { why } => {
                tracing::error!(recipient = %person.email, "the hook was not told of the clock: {why}");
            }
        }
        house.health.progress();
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::{ManualClock, Why};
    use crate::config::Config;
    use crate::post::{Carrier, Pending};
    use crate::store::Store;
    use std::sync::{Arc, Mutex};

    const CONFIG: &str = r#"
        [nursery]
        name = "Alder Fold Nursery"
        zone = "Europe/Brussels"
        [[people]]
        name = "Maren Holt"
        email = "maren@alderfold.example"
        [[people]]
        name = "Jory Beck"
        email = "jory@alderfold.example"
        [[site]]
        id = "hill"
        latitude = 50.8
        longitude = 4.4
        [[site.weather]]
        source = "file"
        path = "temps.csv"
    "#;

    struct Modem(Arc<Mutex<Vec<Parcel>>>);

    impl Carrier for Modem {
        fn name(&self) -> &'static str {
            Hook::NAME
        }

        fn carry<'a>(&'a self, parcel: &'a Parcel) -> Pending<'a, Outcome> {
            self.0.lock().unwrap().push(parcel.clone());
            Box::pin(async { Outcome::Delivered })
        }
    }

    #[tokio::test]
    async fn a_doubt_that_lasts_is_handed_to_the_hook_once() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("graftwarden.toml");
        std::fs::write(&path, CONFIG).unwrap();
        let config = Config::load(&path).unwrap();
        let store = Store::open(&config.state).unwrap();
        let now = "2027-07-03T05:00:00Z".parse().unwrap();
        let clock = Arc::new(ManualClock::at(now));
        let (mut house, _) = House::live(config, clock, store);
        let told = Arc::default();
        house.carriers = vec![Box::new(Modem(Arc::clone(&told)))];
        let right_at = "2026-07-03T04:10:00Z".parse().unwrap();
        let why = Why::LongAfter(right_at);
        let doubt = Doubt { now, why };
        let mut refusal = Refusal::default();
        let mut heard = Vec::new();
        for _ in 0..6 {
            // The gap has passed.
            refusal.next = None;
            refusal.go_on(&house, &doubt).await.unwrap();
            heard.push(told.lock().unwrap().len());
        }
        assert_eq!(heard, [0, 0, 0, 2, 2, 2]);
        let told = told.lock().unwrap();
        let to: Vec<&str> = told.iter().map(|p| p.recipient.as_str()).collect();
        assert_eq!(to, ["maren@alderfold.example", "jory@alderfold.example"]);
        let body: serde_json::Value = serde_json::from_slice(&told[0].bytes).unwrap();
        insta::assert_snapshot!(format!("{}\n\n{}", body["subject"].as_str().unwrap(), body["text"].as_str().unwrap()), @r"
        No rounds: the clock of this machine is wrong

        No round is walked: this machine's clock says 2027-07-03 05:00 GMT, 365 days after it was last known to be right (2026-07-03 04:10 GMT), and nothing shows that so much time has passed.

        Until it is right nobody is told what is due, and no letter goes out. To mend it, set this machine's clock; if it is right, run `graftwarden round --clock-is-right`.
        ");
    }
}
