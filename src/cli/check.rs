//! `check`: the config, the register, the sources and the mail.

mod online;
mod running;

use super::exit::Exit;
use super::look::Look;
use super::{ConfigFile, runtime};
use crate::assemble::{carriers, mailbox, roots, source};
use crate::care::{BatchCare, Ground, on_site, standard_day};
use crate::clock::{Clock, SystemClock};
use crate::condition::{LAST_BACKUP, shown as shown_moment};
use crate::config::{Config, HookConfig, HookTo, MailboxConfig, Trust, WeatherConfig, read_secret};
use crate::letters::count_of;
use crate::letters::grafting::no_last_graft;
use crate::lock::Lock;
use crate::nursery::Plan;
use crate::post::hook::is_runnable;
use crate::problem::Problem;
use crate::register::nearest;
use crate::replies::Maildir;
use crate::store::{Store, StoreError};
use crate::survey::{When, survey};
use crate::weather::http::Patience;
use clap::Args;
use std::collections::BTreeSet;
use std::io::Write;
use std::process::ExitCode;

/// Checks the config, the register, the temperature files and that letters can be made. Opens no connection unless
/// asked to, and changes nothing.
#[derive(Debug, Args)]
pub struct Check {
    #[command(flatten)]
    config: ConfigFile,
    /// Also ask every weather service, greet the mail server and open the mailbox with answers
    #[arg(long)]
    online: bool,
    /// How the house stands, from its memory alone: the last good round, days, letters that wait; the exit code says
    /// whether all is well
    #[arg(long, conflicts_with = "online")]
    running: bool,
    /// With --running: as one JSON object
    #[arg(long, requires = "running")]
    json: bool,
}

/// The lines of the report and whether anything in it must be mended.
struct Report<'a> {
    out: &'a mut dyn Write,
    trouble: usize,
}

impl Report<'_> {
    fn good(&mut self, text: &str) -> anyhow::Result<()> {
        writeln!(self.out, "ok    {text}")?;
        Ok(())
    }

    fn mend(&mut self, problem: &Problem) -> anyhow::Result<()> {
        self.trouble += 1;
        writeln!(self.out, "mend  {problem}")?;
        Ok(())
    }

    fn know(&mut self, text: impl std::fmt::Display) -> anyhow::Result<()> {
        writeln!(self.out, "note  {text}")?;
        Ok(())
    }

    /// The last line.
    fn end(&mut self) -> anyhow::Result<()> {
        match self.trouble {
            0 => writeln!(self.out, "\nAll is well.")?,
            n => writeln!(self.out, "\n{} to mend.", count_of(n as u32, "thing"))?,
        }
        Ok(())
    }
}

impl Check {
    pub fn run(self, out: &mut dyn Write) -> anyhow::Result<ExitCode> {
        let config = self.config.load()?;
        if self.running {
            return running::run(&config, self.json, out);
        }
        let mut report = Report { out, trouble: 0 };
        report.good(&format!(
            "{}: {}, {}",
            config.path.display(),
            count_of(config.sites.len() as u32, "site"),
            people(&config)
        ))?;
        for warning in &config.warnings {
            report.know(warning)?;
        }
        if let (_, Some(problem)) = roots(&config) {
            report.mend(&problem)?;
        }
        check_sources(&config, &mut report)?;
        check_post(&config, &mut report)?;
        check_answers(&config, &mut report)?;
        check_pages(&config, &mut report)?;
        let mut copy = whole_copy(&config);
        check_state(&config, &mut copy, &mut report)?;
        let copy = copy.or_else(|_| Store::in_memory())?;
        check_files(&config, copy, &mut report)?;
        if self.online {
            runtime()?.block_on(online::check(&config, &mut report))?;
        }
        report.end()?;
        Ok(match report.trouble {
            0 => ExitCode::SUCCESS,
            _ => Exit::Data.code(),
        })
    }
}

fn people(config: &Config) -> String {
    match config.people.len() {
        1 => "1 person".into(),
        n => format!("{n} people"),
    }
}

fn check_sources(config: &Config, report: &mut Report<'_>) -> anyhow::Result<()> {
    for site in &config.sites {
        for weather in &site.weather {
            match source(&site.site, weather, &Patience::USUAL.into()) {
                Ok(source) => {
                    report.good(&format!(
                        "site {}: temperatures from {}",
                        site.site.id,
                        source.name()
                    ))?;
                    if !source.terms().is_empty() {
                        report.know(source.terms())?;
                    }
                    if !source.attribution().is_empty() {
                        report.know(format_args!("letters will say: {}", source.attribution()))?;
                    }
                }
                Err(problem) => report.mend(&problem)?,
            }
            let secret = match weather {
                WeatherConfig::OpenMeteo(asked) => &asked.key_file,
                WeatherConfig::Url(asked) => &asked.header_file,
                _ => &None,
            };
            if let Some((_, Some(problem))) = secret.as_deref().map(read_secret) {
                report.know(problem)?;
            }
        }
    }
    Ok(())
}

fn check_post(config: &Config, report: &mut Report<'_>) -> anyhow::Result<()> {
    let (carriers, problems) = carriers(config);
    for problem in &problems {
        report.mend(problem)?;
    }
    if let Some(hook) = &config.post.hook {
        check_hook(hook, report)?;
    }
    let names: Vec<&str> = carriers.iter().map(|c| c.name()).collect();
    if names.is_empty() {
        report.mend(&Problem::new(
            "[post]",
            "letters have no way out",
            "they would only be kept in the store",
            "add [post.smtp], or a folder",
        ))
    } else {
        report.good(&format!("letters go by {}", names.join(", ")))
    }
}

/// The hook is not tried out: whatever it is handed goes to people.
fn check_hook(hook: &HookConfig, report: &mut Report<'_>) -> anyhow::Result<()> {
    if let Some((Some(_), Some(problem))) = hook.secret_file.as_deref().map(read_secret) {
        report.know(problem)?;
    }
    match &hook.to {
        HookTo::Command(argv) if !is_runnable(argv) => report.mend(&Problem::new(
            format!("[post.hook], {}", hook.to),
            "there is no such program, or it may not be run",
            "letters wait for it",
            "put it there, and let the user who runs graftwarden run it (chmod 755)",
        )),
        _ => Ok(()),
    }
}

fn check_answers(config: &Config, report: &mut Report<'_>) -> anyhow::Result<()> {
    let Some(answers) = &config.answers else {
        return Ok(());
    };
    if let Some(Err(problem)) = mailbox(config) {
        return report.mend(&problem);
    }
    if let Some(problem) = missing_maildir(config) {
        return report.mend(&problem);
    }
    let place = match &answers.mailbox {
        MailboxConfig::Maildir(path) => path.display().to_string(),
        MailboxConfig::Imap(asked) => format!("{} of {}", asked.folder, asked.host),
    };
    report.good(&format!(
        "answers to {} are read from {place}",
        answers.address
    ))?;
    if let MailboxConfig::Imap(asked) = &answers.mailbox
        && let (_, Some(problem)) = read_secret(&asked.password_file)
    {
        report.know(problem)?;
    }
    if answers.trust == Trust::Sender {
        report.know("a mail is taken by its sender's address alone, which anybody can write; trust = \"letter\" asks back first")?;
    }
    Ok(())
}

/// Why the folder with answers cannot be read, where answers come into one.
fn missing_maildir(config: &Config) -> Option<Problem> {
    match &config.answers.as_ref()?.mailbox {
        MailboxConfig::Maildir(path) => Maildir::new(path).look_for().err(),
        MailboxConfig::Imap(_) => None,
    }
}

fn check_pages(config: &Config, report: &mut Report<'_>) -> anyhow::Result<()> {
    let Some(folder) = &config.pages else {
        return Ok(());
    };
    let shown = folder.display().to_string();
    if folder.exists() && !folder.is_dir() {
        return report.mend(&Problem::new(
            shown,
            "pages are to go into this folder, but it is a file",
            "none can be written",
            "name another folder under [pages]",
        ));
    }
    report.good(&format!("pages go into {shown}"))
}

fn check_state(
    config: &Config,
    copy: &mut Result<Store, StoreError>,
    report: &mut Report<'_>,
) -> anyhow::Result<()> {
    let shown = config.state.display().to_string();
    if !config.state.exists() {
        let above = config.state.ancestors().skip(1).find(|path| path.exists());
        if let Some(file) = above.filter(|path| !path.is_dir()) {
            return report.mend(&Problem::new(
                shown,
                format!(
                    "the folder for the program's memory cannot be made, since {} is a file",
                    file.display()
                ),
                "",
                "name another folder as state in the config",
            ));
        }
        return report.know(format_args!("{shown}: the folder for the program's memory is not there yet; the first round makes it"));
    }
    let last = match copy {
        Ok(copy) => copy
            .settle(|memory| memory.moment_of(LAST_BACKUP))
            .map_err(|error: StoreError| error.to_string()),
        Err(error) => Err(error.to_string()),
    };
    match last {
        Ok(last) => {
            report.good(&format!("{shown}: the program's memory can be read"))?;
            let last = last.map_or_else(|| "none yet".into(), |at| shown_moment(at, config.zone));
            report.know(format_args!("{shown}: last backup of the memory: {last}"))?;
        }
        Err(error) => report.mend(&Problem::new(shown.clone(), error, "", ""))?,
    }
    match Lock::take(&config.state) {
        Ok(_) => report.good(&format!(
            "{shown}: can be written, and no other graftwarden is at work on it"
        )),
        Err(held @ crate::lock::LockError::Held { .. }) => report.know(held),
        Err(unusable) => report.mend(&Problem::new(shown, unusable.to_string(), "", "")),
    }
}

/// A copy of the memory that was looked through.
fn whole_copy(config: &Config) -> Result<Store, StoreError> {
    let copy = Store::copy_of(&config.state)?;
    copy.look_through()?;
    Ok(copy)
}

/// The register and the temperature files as a round would see them.
fn check_files(config: &Config, copy: Store, report: &mut Report<'_>) -> anyhow::Result<()> {
    let mut look = Look::at(config, copy)?;
    let now = SystemClock.now();
    let (problems, lines, blocks) = look.read(|memory| {
        let batches = memory.batches()?;
        let blocks: BTreeSet<String> = batches.iter().map(|b| b.block.to_string()).collect();
        let batches = count_of(batches.len() as u32, "batch");
        let records = count_of(memory.records()?.len() as u32, "field record");
        survey(memory, config, When::Now(now), |survey| {
            let mut lines = vec![format!("{batches} and {records} in force")];
            lines.extend(survey.grounds.iter().map(temperatures));
            lines.extend(
                survey
                    .grounds
                    .iter()
                    .flat_map(|ground| usual(ground, &survey.cares)),
            );
            (survey.problems, lines, blocks)
        })
    })?;
    if !config.records.exists() {
        report.know(format_args!("{}: there is no such file yet; field records can be written there, or with `graftwarden note`", config.records.display()))?;
    }
    for problem in look.problems.iter().chain(&problems) {
        report.mend(problem)?;
    }
    for line in unknown_blocks(config, &blocks) {
        report.know(line)?;
    }
    for line in lines {
        report.know(line)?;
    }
    Ok(())
}

/// Blocks that somebody gets letters of and no batch stands in: most likely a slip, for then these letters never come.
fn unknown_blocks(config: &Config, known: &BTreeSet<String>) -> Vec<String> {
    let mut lines = Vec::new();
    for person in config.people.iter().filter(|_| !known.is_empty()) {
        let here = |block: &&String| known.iter().any(|b| b.eq_ignore_ascii_case(block));
        for block in person.blocks.iter().filter(|block| !here(block)) {
            let near = nearest(block, known.iter().map(String::as_str))
                .map_or_else(String::new, |near| format!("; is {near} meant?"));
            lines.push(format!(
                "[[people]] {}: no batch in the register stands in block {block}, so there are no letters of it{near}",
                person.name
            ));
        }
    }
    lines
}

fn temperatures(ground: &Ground<'_>) -> String {
    match ground.series.last_known() {
        Some(last) => format!("site {}: temperatures known to {last}", ground.site.id),
        None => format!("site {}: no temperatures known yet", ground.site.id),
    }
}

/// What the years before tell of a site: the size of a standard day where none is set, and the last day for grafting.
fn usual(ground: &Ground<'_>, cares: &[BatchCare<'_>]) -> Vec<String> {
    let site = &ground.site.id;
    let mut lines = Vec::new();
    for plan in plans_in_use(ground, cares) {
        if ground.site.standard_day.is_none()
            && let Some((heat, days)) = ground.usual_day(&plan.model)
        {
            lines.push(format!(
                "site {site}: a usual day of the grafting season gives {:.1} °C·d by {} (mean of {days} days of years before), a standard day of the plan {:.1}; to count in days of this site write standard_day = {:.1} under [[site]]",
                heat.0,
                plan.name,
                standard_day(ground.site, plan).0,
                heat.0
            ));
        }
        match ground.last_graft(&plan.name) {
            Some(Ok(last)) => {
                if let Some((day, frost)) = last.of_season(ground.moment.today) {
                    lines.push(format!(
                        "site {site}: last safe day for grafting {day} by {} (in 80 of 100 years no frost before {frost}, by {} years before)",
                        plan.name,
                        last.years()
                    ));
                }
            }
            Some(Err(why)) => lines.push(format!(
                "site {site}: {} ({})",
                no_last_graft(why),
                plan.name
            )),
            None => {}
        }
    }
    lines
}

/// The plans that batches of the site go by.
fn plans_in_use<'c>(ground: &Ground<'_>, cares: &[BatchCare<'c>]) -> Vec<&'c Plan> {
    let here = on_site(cares, &ground.site.id).iter();
    let mut plans: Vec<&Plan> = here.map(|care| care.plan).collect();
    plans.sort_by(|a, b| a.name.cmp(&b.name));
    plans.dedup_by(|a, b| a.name == b.name);
    plans
}
