//! `[[people]]`: who gets letters, and whether somebody gets everything that matters.

use super::post;
use super::raw::{Section, offer};
use super::report::Complaint;
use super::resolve::{span_off, units};
use crate::nursery::{Gets, Person, Quiet};
use chrono::NaiveTime;
use toml::Spanned;

/// Reads one person; the sites they name are checked only where all sites could be read.
pub(super) fn person(s: Section<'_>, ids: &[&str], sites_known: bool) -> Option<Person> {
    let name = s.need(
        "name",
        s.line("name"),
        "write name = \"the name on the letter\"",
    );
    let email = s.parsed("email", post::address);
    let email = s.need(
        "email",
        email,
        "write email = \"somebody@alderfold.example\"",
    );
    let words = Gets::ALL.map(Gets::name);
    let gets = s.choices("gets", &words, Gets::named);
    let gets = gets.unwrap_or_else(|| Gets::ALL.to_vec());
    if gets.is_empty() {
        let complaint = Complaint::new(
            "this person gets nothing",
            format!("name some of {}, or take the person out", words.join(", ")),
        );
        s.findings().warning(s.place("gets"), complaint);
    }
    let sites = s.texts("sites").unwrap_or_default();
    for site in sites
        .iter()
        .filter(|site| sites_known && !ids.contains(&site.get_ref().as_str()))
    {
        let complaint = Complaint::new(
            format!("there is no site \"{}\"", site.get_ref()),
            offer(site.get_ref(), ids),
        );
        s.findings().error(site.span(), complaint);
    }
    let blocks = s.texts("blocks").unwrap_or_default();
    let off = s.list("days_off", span_off).unwrap_or_default();
    let units = units(&s);
    let quiet = s.parsed("quiet", quiet_hours);
    let urgent_always = s.flag("urgent_always").unwrap_or_default();
    if urgent_always && !s.has("quiet") {
        let complaint = Complaint::new(
            "there are no hours that urgent letters could break",
            "write quiet = \"20:30-05:30\", or leave urgent_always out",
        );
        s.findings().warning(s.place("urgent_always"), complaint);
    }
    s.finish();
    let plain = |list: Vec<Spanned<String>>| list.into_iter().map(Spanned::into_inner).collect();
    Some(Person {
        name: name?,
        email: email?,
        gets,
        sites: plain(sites),
        blocks: plain(blocks),
        off: off.into_iter().map(Spanned::into_inner).collect(),
        units,
        quiet,
        urgent_always,
    })
}

/// "20:30-05:30": from the first to just before the second, over midnight where that comes first.
fn quiet_hours(text: &str) -> Result<Quiet, Complaint> {
    let remedy = "write the first and the last hour, as in \"20:30-05:30\"";
    let time = |text: &str| NaiveTime::parse_from_str(text.trim(), "%H:%M").ok();
    let times = text
        .split_once('-')
        .map(|(from, to)| (time(from), time(to)));
    let Some((Some(from), Some(to))) = times else {
        let what = format!("'{text}' does not say from when to when");
        return Err(Complaint::new(what, remedy));
    };
    Quiet::new(from, to).ok_or_else(|| {
        let what = format!("'{text}' ends as it begins: that may be a whole day or nothing");
        Complaint::new(what, remedy)
    })
}

/// News that reaches nobody is still ledgered; the grower should know.
pub(super) fn unheard(top: &Section<'_>, people: &[Person], ids: &[&str]) {
    let warn = |what: String| {
        let complaint = Complaint::new(what, "add the word to somebody's gets, or a person");
        top.findings().warning(top.place("people"), complaint);
    };
    for news in [Gets::Work, Gets::Urgent, Gets::Trouble] {
        let word = news.name();
        let takers: Vec<&Person> = people.iter().filter(|p| p.gets.contains(&news)).collect();
        if takers.is_empty() {
            warn(format!("nobody gets \"{word}\""));
            continue;
        }
        for id in ids {
            let here = |p: &&&Person| p.sites.is_empty() || p.sites.iter().any(|site| site == id);
            let here: Vec<&&Person> = takers.iter().filter(here).collect();
            if here.is_empty() {
                warn(format!("nobody gets \"{word}\" of site \"{id}\""));
            } else if here.iter().all(|p| !p.blocks.is_empty()) {
                let mut blocks: Vec<&str> = here
                    .iter()
                    .flat_map(|p| p.blocks.iter().map(String::as_str))
                    .collect();
                blocks.sort_unstable();
                blocks.dedup();
                warn(format!(
                    "\"{word}\" of site \"{id}\" reaches somebody only for blocks {}",
                    blocks.join(", ")
                ));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::tests::{SMALL, check_refused, check_warned, load, with};
    use crate::units::Units;

    #[test]
    fn people_must_be_reachable_and_their_sites_known() {
        check_refused(
            &with("maren@alderfold.example", "maren@"),
            &["'maren@' is not a mail address"],
        );
        check_refused(
            &format!("{SMALL}sites = [\"hil\"]\ngets = [\"wrok\"]"),
            &["no site \"hil\"", "perhaps `hill`", "perhaps `work`"],
        );
    }

    #[test]
    fn measures_and_quiet_hours_are_each_persons_own() {
        let plain = load(SMALL).unwrap().people.remove(0);
        assert_eq!(
            (plain.units, plain.quiet, plain.urgent_always),
            (None, None, false)
        );
        let text =
            format!("{SMALL}units = \"us\"\nquiet = \"20:30 - 05:30\"\nurgent_always = true");
        let own = load(&text).unwrap().people.remove(0);
        let time = |hour, minute| NaiveTime::from_hms_opt(hour, minute, 0).unwrap();
        assert_eq!(own.units, Some(Units::Us));
        assert_eq!(own.quiet, Quiet::new(time(20, 30), time(5, 30)));
        assert!(own.urgent_always && own.quiet.is_some());
    }

    #[test]
    fn quiet_hours_must_say_from_when_to_when() {
        for text in [
            "20:30",
            "20:30-",
            "half nine-05:30",
            "20:30-24:30",
            "20:30-05:30-06:00",
        ] {
            let what = format!("'{text}' does not say from when to when");
            check_refused(&format!("{SMALL}quiet = \"{text}\""), &[&what]);
        }
        check_refused(
            &format!("{SMALL}quiet = \"20:30-20:30\""),
            &["ends as it begins", "write the first and the last hour"],
        );
        check_refused(
            &format!("{SMALL}units = \"imperial\""),
            &["units", "metric"],
        );
        check_warned(
            &format!("{SMALL}urgent_always = true"),
            &["no hours that urgent letters could break"],
        );
    }

    #[test]
    fn news_that_reaches_nobody_is_a_warning() {
        check_warned(
            &format!("{SMALL}gets = [\"weekly\", \"trouble\"]"),
            &["nobody gets \"work\"", "nobody gets \"urgent\""],
        );
        let blocks = format!(
            "{SMALL}blocks = [\"C\"]\n[[people]]\nname = \"O\"\nemail = \"o@alderfold.example\"\ngets = [\"work\", \"trouble\"]"
        );
        check_warned(
            &blocks,
            &["\"urgent\" of site \"hill\" reaches somebody only for blocks C"],
        );
        check_warned(
            &with("zone =", "working_days = []\nzone ="),
            &["no working day at all"],
        );
    }
}
