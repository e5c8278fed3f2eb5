//! The care plans compiled into the program.

use super::plan::read_plan;
use crate::nursery::Plan;

const TEXTS: [(&str, &str); 5] = [
    (
        "maple-field-t-graft.toml",
        include_str!("../../config/plans/maple-field-t-graft.toml"),
    ),
    (
        "side-veneer-under-glass.toml",
        include_str!("../../config/plans/side-veneer-under-glass.toml"),
    ),
    (
        "apple-chip-bud.toml",
        include_str!("../../config/plans/apple-chip-bud.toml"),
    ),
    (
        "walnut-field-graft.toml",
        include_str!("../../config/plans/walnut-field-graft.toml"),
    ),
    (
        "grape-bench-graft.toml",
        include_str!("../../config/plans/grape-bench-graft.toml"),
    ),
];

/// The built-in care plans, in the order of the documentation.
pub fn built_in() -> Vec<Plan> {
    TEXTS
        .iter()
        .filter_map(|(name, text)| read_plan(name, (*text).to_owned()).0)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::nursery::{Anchor, Cutoff, Held, Method, MonthDay, Need, Opening, Repeat, What};
    use crate::units::{Celsius, DegreeDays, StandardDays};
    use chrono::{Days, NaiveDate};

    fn plan(name: &str) -> Plan {
        let found = built_in().into_iter().find(|p| p.name == name);
        found.unwrap_or_else(|| panic!("{name} is not built in"))
    }

    fn standard(days: f64) -> Need {
        Need::Standard(StandardDays(days))
    }

    #[test]
    fn nothing_is_wrong_with_a_built_in_plan() {
        for (name, text) in TEXTS {
            let (plan, found) = read_plan(name, text.to_owned());
            let said: Vec<String> = found.iter().map(|f| f.render(false)).collect();
            assert_eq!(said.join("\n"), "");
            let file = plan.unwrap().name.to_lowercase().replace(' ', "-") + ".toml";
            assert_eq!(file, name, "file and plan bear one name");
        }
    }

    #[test]
    fn every_number_of_a_plan_says_where_it_comes_from() {
        let origins = [
            "judgement",
            "common practice",
            "memory",
            "Alley & Peterson",
            "Hedrick",
        ];
        let texts = TEXTS.iter().filter(|(name, _)| !name.starts_with("maple"));
        for (name, text) in texts {
            for line in text.lines() {
                let (value, comment) = line.split_once(" # ").unwrap_or((line, ""));
                let keyed = !value.starts_with('#')
                    && !value.starts_with("say")
                    && !value.starts_with("version");
                if keyed && value.chars().any(|c| c.is_ascii_digit()) {
                    assert!(
                        origins.iter().any(|o| comment.contains(o)),
                        "{name}: {line}"
                    );
                }
            }
        }
    }

    #[test]
    fn the_maple_plan_is_read_as_it_is_written() {
        let maple = plan("maple field T-graft");
        assert_eq!(
            (maple.model.method, maple.model.cutoff),
            (Method::SingleSine, Cutoff::Horizontal)
        );
        assert_eq!((maple.model.base, maple.model.upper), (5.0, Some(30.0)));
        assert_eq!(maple.reference, Celsius(20.0));
        assert_eq!(maple.reckoning.assumed, standard(14.0));
        let ids: Vec<&str> = maple.steps.iter().map(|s| s.id.as_str()).collect();
        let expect = "callus-check head-back look-again tape-off re-graft ties-and-suckers autumn-look take stump dock";
        assert_eq!(ids.join(" "), expect);
        let limit = maple.limit.as_ref().unwrap();
        assert_eq!(
            (limit.warmth, limit.strong_sooner),
            (standard(10.0), standard(3.0))
        );
        assert_eq!(
            (limit.from.as_str(), limit.until.as_str()),
            ("callus-check", "head-back")
        );
        assert_eq!(
            maple.step("head-back").unwrap().opens,
            Opening {
                after: Anchor::Grafted,
                at_once: vec![What::Lines],
                warmth: Some(standard(18.0)),
                min_days: None,
                max_days: None,
                months: None,
                held: Some(Held {
                    by: What::NoLines,
                    during: standard(3.0)
                }),
                unless: vec![],
                needs: None,
                week_below: None,
                from: None,
                repeat: None,
            }
        );
        let tape = maple.step("tape-off").unwrap();
        assert_eq!(
            (tape.opens.warmth, tape.opens.max_days),
            (Some(standard(21.0)), Some(35))
        );
        assert_eq!(tape.closes.unwrap().warmth, Some(standard(28.0)));
        assert_eq!(tape.minutes_per_100, Some(150.0));
        let check = maple.step("callus-check").unwrap();
        assert_eq!(
            (check.opens.min_days, check.opens.max_days),
            (Some(8), Some(35))
        );
        let stump = maple.step("stump").unwrap();
        assert_eq!(
            (stump.opens.months, stump.opens.from),
            (Some(12), MonthDay::new(11, 1))
        );
        assert_eq!(stump.closes.unwrap().on, MonthDay::new(12, 31));
        assert_eq!(
            maple.step("dock").unwrap().opens.needs,
            Some((What::HeadLength, 30.0))
        );
        assert_eq!(
            maple.step("take").unwrap().opens.warmth,
            Some(Need::Heat(DegreeDays(300.0)))
        );
        let suckers = &maple.step("ties-and-suckers").unwrap().opens;
        assert_eq!(suckers.repeat, Some(Repeat::Days(28, Celsius(10.0))));
        let look = maple.step("look-again").unwrap();
        let Some(Repeat::Warmth(rules)) = &look.opens.repeat else {
            panic!("it comes again by warmth");
        };
        assert!(look.aside);
        assert_eq!(rules.len(), 5);
        assert_eq!(
            (rules[0].until_warmth, rules[0].once),
            (Some(standard(24.0)), false)
        );
        assert!(rules[1].under_half && rules[1].once);
    }

    /// One opening worked by hand: days of one constant temperature, so that a day's heat is that temperature above
    /// the base (below the upper one, every method agrees).
    struct ByHand {
        plan: &'static str,
        step: &'static str,
        /// °C·d of a standard day: the reference less the base.
        standard_day: f64,
        /// The constant temperature, and a day's heat at it.
        constant: f64,
        daily: f64,
        /// What the step needs in °C·d.
        need: f64,
        grafted: &'static str,
        opens: &'static str,
    }

    #[track_caller]
    fn check(hand: &ByHand) {
        let plan = plan(hand.plan);
        let size = plan.reference.0 - plan.model.base;
        assert!(
            (size - hand.standard_day).abs() < 1e-9,
            "standard day {size}"
        );
        assert!((hand.constant - plan.model.base - hand.daily).abs() < 1e-9);
        assert!(plan.model.upper.is_some_and(|upper| hand.constant <= upper));
        let opens = &plan.step(hand.step).unwrap().opens;
        let Some(Need::Standard(days)) = opens.warmth else {
            panic!("it opens by standard days");
        };
        let need = days.as_heat(DegreeDays(hand.standard_day)).0;
        assert!((need - hand.need).abs() < 1e-9, "need {need}");
        // The day of grafting gives nothing; each one after it gives a day's heat.
        let whole = (hand.need / hand.daily).ceil() as u32;
        assert!(opens.min_days.is_none_or(|min| min <= whole));
        assert!(opens.max_days.is_none_or(|max| max >= whole));
        let grafted: NaiveDate = hand.grafted.parse().unwrap();
        assert_eq!(
            grafted + Days::new(whole.into()),
            hand.opens.parse::<NaiveDate>().unwrap()
        );
    }

    #[test]
    fn the_maple_callus_check_by_hand() {
        // Standard day 20 - 5 = 15. Need 14 x 15 = 210. At 17 °C: 12 a day, 210 / 12 = 17.5, so the end of day 18.
        // 10 July + 18 = 28 July.
        check(&ByHand {
            plan: "maple field T-graft",
            step: "callus-check",
            standard_day: 15.0,
            constant: 17.0,
            daily: 12.0,
            need: 210.0,
            grafted: "2026-07-10",
            opens: "2026-07-28",
        });
    }

    #[test]
    fn the_side_veneer_callus_check_by_hand() {
        // Standard day 18 - 5 = 13. Need 20 x 13 = 260. At 16 °C: 11 a day, 260 / 11 = 23.6, so the end of day 24.
        // 20 January + 24 = 13 February.
        check(&ByHand {
            plan: "side-veneer under glass",
            step: "callus-check",
            standard_day: 13.0,
            constant: 16.0,
            daily: 11.0,
            need: 260.0,
            grafted: "2026-01-20",
            opens: "2026-02-13",
        });
    }

    #[test]
    fn the_chip_bud_tie_by_hand() {
        // Standard day 18 - 4 = 14. Need 28 x 14 = 392. At 15 °C: 11 a day, 392 / 11 = 35.6, so the end of day 36.
        // 12 August + 36 = 17 September (19 days to 31 August, 17 more).
        check(&ByHand {
            plan: "apple chip bud",
            step: "tape-off",
            standard_day: 14.0,
            constant: 15.0,
            daily: 11.0,
            need: 392.0,
            grafted: "2026-08-12",
            opens: "2026-09-17",
        });
    }

    #[test]
    fn the_walnut_callus_check_by_hand() {
        // Standard day 27 - 15 = 12. Need 14 x 12 = 168. At 22 °C: 7 a day, 168 / 7 = 24, so the end of day 24.
        // 5 May + 24 = 29 May.
        check(&ByHand {
            plan: "walnut field graft",
            step: "callus-check",
            standard_day: 12.0,
            constant: 22.0,
            daily: 7.0,
            need: 168.0,
            grafted: "2026-05-05",
            opens: "2026-05-29",
        });
    }

    #[test]
    fn the_grape_callus_check_by_hand() {
        // Standard day 25.5 - 15.5 = 10. Need 8 x 10 = 80. At 24 °C: 8.5 a day, 80 / 8.5 = 9.4, so the end of day 10.
        // 25 February + 10 = 7 March (3 days to 28 February, 7 more).
        check(&ByHand {
            plan: "grape bench graft",
            step: "callus-check",
            standard_day: 10.0,
            constant: 24.0,
            daily: 8.5,
            need: 80.0,
            grafted: "2026-02-25",
            opens: "2026-03-07",
        });
    }
}
