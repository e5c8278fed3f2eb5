//! The one care-plan parser: TOML to [`Plan`], for the built-in plans and the nursery's own.
//!
//! Every problem of a plan is found at once. `step` reads steps, `sense` looks at the plan as a whole. Knows nothing of dates or weather.

use super::files::read_text;
use super::raw::{self, Section};
use super::report::{Complaint, Finding, Findings, Source};
use super::resolve::readable_version;
use super::sense::sense;
use super::step::step;
use super::warmth::{only_warmth, what, whole};
use crate::nursery::{Cutoff, Limit, Method, Model, Need, Plan, Reckoning, Sensitive};
use crate::units::{Celsius, StandardDays};
use std::path::Path;

/// Reads a plan of the nursery's own.
pub(super) fn read_plan_file(path: &Path) -> (Option<Plan>, Vec<Finding>) {
    let name = path.display().to_string();
    match read_text(path) {
        Ok(text) => read_plan(&name, text),
        Err(complaint) => {
            let text = String::new();
            let findings = Findings::of(Source { name, text });
            findings.of_file(complaint);
            (None, findings.into_list())
        }
    }
}

/// Reads a plan from its text. There is one only where nothing is wrong with it.
pub(super) fn read_plan(name: &str, text: String) -> (Option<Plan>, Vec<Finding>) {
    let findings = Findings::of(Source {
        name: name.to_owned(),
        text,
    });
    let source = findings.source();
    let plan = raw::parse(&source.text, &findings)
        .and_then(|table| plan(Section::new("the plan", table.get_ref(), 0..0, &findings)));
    let found = findings.into_list();
    (plan.filter(|_| found.iter().all(|f| f.warning)), found)
}

fn plan(top: Section<'_>) -> Option<Plan> {
    if !readable_version(&top) {
        return None;
    }
    let name = top.need("name", top.line("name"), "write the name the register uses");
    let heat = top.need(
        "heat",
        top.section("heat"),
        "begin it with [heat] and the method",
    );
    let heat = heat.and_then(heat_model);
    let callus = top.section("callus");
    let callus = top.need(
        "callus",
        callus,
        "write [callus] with assumed, seen and unseen",
    );
    let reckoning = callus.and_then(reckoning);
    let limit = top.section("limit").map(limit);
    let sensitive = top.section("sensitive").map(sensitive);
    let under_cover = top.flag("under_cover").unwrap_or(false);
    if !top.has("step") {
        top.error("the plan has no step", "add a [[step]]");
    }
    let mut ids: Vec<String> = Vec::new();
    let mut steps = Vec::new();
    for section in top.sections("step") {
        let place = section.place("id");
        let step = step(section);
        if let Some(step) = &step {
            if ids.contains(&step.id) {
                let complaint = Complaint::new(
                    "another step has this id",
                    "give each step an id of its own",
                );
                top.findings().error(place.clone(), complaint);
            }
            ids.push(step.id.clone());
        }
        steps.push(step.map(|step| (step, place)));
    }
    let steps: Option<Vec<_>> = steps.into_iter().collect();
    if let Some(steps) = &steps {
        sense(
            &top,
            steps,
            limit.iter().flatten(),
            sensitive.iter().flatten(),
        );
    }
    top.finish();
    let (model, reference) = heat?;
    Some(Plan {
        name: name?,
        model,
        reference,
        reckoning: reckoning?,
        steps: steps?.into_iter().map(|(step, _)| step).collect(),
        limit: whole(limit)?,
        sensitive: whole(sensitive)?,
        under_cover,
    })
}

fn heat_model(s: Section<'_>) -> Option<(Model, Celsius)> {
    let method = s.choice("method", &Method::ALL.map(Method::name), Method::named);
    let remedy = "write method = \"single-sine\" or another of config/README.md";
    let method = s.need("method", method, remedy);
    let cutoff = s.choice("cutoff", &Cutoff::ALL.map(Cutoff::name), Cutoff::named);
    let temperature = |key| s.number(key, -60.0..=80.0);
    let remedy = "write the temperature in °C below which nothing grows";
    let base = s.need("base", temperature("base"), remedy);
    let (optimum, upper) = (temperature("optimum"), temperature("upper"));
    let remedy = "write the mean in °C of the usual days that the plan's standard days are days of";
    let reference = s.need("reference", temperature("reference"), remedy);
    let place = s.span();
    let reference_place = s.place("reference");
    let findings = s.findings();
    s.finish();

    let model = Model::new(method?, cutoff.unwrap_or_default(), base?, optimum, upper)
        .map_err(|what| {
            findings.error(place, Complaint::new(what, "mend the numbers under [heat]"));
        })
        .ok()?;
    let reference = reference?;
    if reference <= model.base || model.upper.is_some_and(|upper| reference > upper) {
        let what = format!("reference {reference} does not lie between base and upper");
        let remedy = "a usual day must give heat: choose a temperature above base";
        findings.error(reference_place, Complaint::new(what, remedy));
    }
    Some((model, Celsius(reference)))
}

fn reckoning(s: Section<'_>) -> Option<Reckoning> {
    let assumed = only_warmth(&s, "assumed");
    let seen = s.need("seen", what(&s, "seen"), "write seen = \"lines\"");
    let unseen = s.need("unseen", what(&s, "unseen"), "write unseen = \"no-lines\"");
    s.finish();
    Some(Reckoning {
        assumed: assumed?,
        seen: seen?,
        unseen: unseen?,
    })
}

/// The steps between which something holds.
fn span(s: &Section<'_>) -> (Option<String>, Option<String>) {
    (
        s.need(
            "from",
            s.text("from"),
            "write the id of the step whose opening begins it",
        ),
        s.need(
            "until",
            s.text("until"),
            "write the id of the step whose doing ends it",
        ),
    )
}

fn limit(s: Section<'_>) -> Option<Limit> {
    let id = s.need("id", s.line("id"), "write a short name");
    let title = s.need(
        "title",
        s.line("title"),
        "write what it is called in letters",
    );
    let warmth = only_warmth(&s, "warmth");
    let sooner = if s.has("strong_sooner") {
        only_warmth(&s, "strong_sooner")
    } else {
        Some(Need::Standard(StandardDays(0.0)))
    };
    let (from, until) = span(&s);
    let say = s.need(
        "say",
        s.text("say"),
        "write what people who can go and look should do",
    );
    s.finish();
    Some(Limit {
        id: id?,
        title: title?,
        warmth: warmth?,
        strong_sooner: sooner?,
        from: from?,
        until: until?,
        say: say?,
    })
}

fn sensitive(s: Section<'_>) -> Option<Sensitive> {
    let (from, until) = span(&s);
    s.finish();
    Some(Sensitive {
        from: from?,
        until: until?,
    })
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    pub(in crate::config) const SMALL: &str = r#"
name = "small"
[heat]
method = "single-sine"
cutoff = "horizontal"
base = 5
upper = 30
reference = 20
[callus]
assumed = { standard_days = 14 }
seen = "lines"
unseen = "no-lines"
[[step]]
id = "look"
title = "look"
opens = { after = "grafted", standard_days = 14 }
closes = { after = "grafted", standard_days = 21 }
brings = ["lines"]
say = "Look."
"#;

    /// The plan with one text in it put in place of another is refused, and every one of these stands in what is said.
    #[track_caller]
    pub(in crate::config) fn check(old: &str, new: &str, words: &[&str]) {
        assert!(SMALL.contains(old), "{old}");
        let (plan, found) = read_plan("small.toml", SMALL.replacen(old, new, 1));
        assert_eq!(plan, None);
        let said: Vec<String> = found.iter().map(|f| f.render(false)).collect();
        let said = said.join("\n");
        for word in words {
            assert!(said.contains(word), "'{word}' is not in:\n{said}");
        }
    }

    #[test]
    fn the_small_plan_is_a_plan() {
        let (plan, found) = read_plan("small.toml", SMALL.to_owned());
        assert_eq!(found.len(), 0);
        let plan = plan.unwrap();
        assert_eq!(
            (plan.steps.len(), plan.limit, plan.sensitive),
            (1, None, None)
        );
    }

    #[test]
    fn words_and_kinds_are_checked_with_their_place() {
        check(
            "single-sine",
            "singel-sine",
            &["small.toml:4:10", "perhaps `single-sine`"],
        );
        check(
            "base = 5",
            "base = \"five\"",
            &["`base` cannot be the text 'five'"],
        );
        check(
            "brings = [\"lines\"]",
            "brings = [\"line\"]\nbrigns = 1",
            &["perhaps `lines`", "perhaps `brings`"],
        );
        check("\"grafted\"", "\"graft\"", &["perhaps `grafted`"]);
        check(
            "brings = [\"lines\"]",
            "",
            &["no record could answer this step"],
        );
        check(
            "upper = 30",
            "upper = 3",
            &["upper 3 must lie above base 5"],
        );
        check(
            "reference = 20",
            "reference = 4",
            &["does not lie between base and upper"],
        );
    }

    #[test]
    fn several_faults_are_said_at_once() {
        check("name = \"small\"", "", &["has no name"]);
        let text = SMALL
            .replace("base = 5", "bace = 5")
            .replace("say =", "sya =");
        let (_, found) = read_plan("small.toml", text);
        assert_eq!(found.len(), 4, "two keys missing, two unknown");
    }
}
