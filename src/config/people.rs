//! `[[people]]`: who gets letters, and whether somebody gets everything that matters.

use super::post;
use super::raw::{Section, offer};
use super::report::Complaint;
use super::resolve::span_off;
use crate::nursery::{Gets, Person};
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
    s.finish();
    let plain = |list: Vec<Spanned<String>>| list.into_iter().map(Spanned::into_inner).collect();
    Some(Person {
        name: name?,
        email: email?,
        gets,
        sites: plain(sites),
        blocks: plain(blocks),
        off: off.into_iter().map(Spanned::into_inner).collect(),
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
    use crate::config::tests::{SMALL, check_refused, check_warned, with};

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
