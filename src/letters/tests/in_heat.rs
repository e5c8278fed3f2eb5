//! Letters that send people to work while a spell of heat is on or foretold.

use super::*;
use crate::care::tests::season::maple;

#[test]
fn tape_waits_for_the_end_of_the_heat() {
    let season = maple()
        .records("15 lines, 16 headed-back, 21 looked")
        .weather("20x20 4x33 40x20")
        .but(|s| s.horizon = 4);
    insta::assert_snapshot!(letter(&season, 22, Kind::Opens), @r"
    Block C: tape off and tie in after the heat, from Sat 25 Jul (1 batch, 100 grafts)

    Alder Fold Nursery, Thursday 23 July 2026

    TAPE OFF AND TIE IN AFTER THE HEAT, FROM SAT 25 JUL
      Block C: 1 batch, 100 grafts, by roughly Mon 27 Jul

    Not in the heat of Tue 21 - Fri 24 Jul (up to 33 °C): leave the
    tape on and bare no trunk until it is over, and do this from Sat
    25 Jul on.

    Callus on both sides and scion firm: tape off, tie the scion to
    the stock, and head back a second time at the same visit if seven
    mild days have passed since the first. Otherwise slit the tape
    opposite the scion, rebind loosely, write down tape-eased, and
    look again in five mild days. Not before strong wind or heavy
    rain, and no bare trunks when 35 °C is forecast.

    Opened by warmth: 22.3 standard days since grafting, reached on
    Wed 22 Jul.

      C-14  100 grafts  by roughly Mon 27 Jul
            Osakazuki: 22.3 standard days, 335 °C·d

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    For the crew: start early, rest in the shade, drink before you are
    thirsty, look after each other. Local rules and qualified advice
    come first.

    Done? Write it in the field records (tape-off), or as here:
    graftwarden note C-14 tape-off

    -- 
    Temperatures at home: measured by the logger on 21 days, known to
    Wed 22 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn a_strangling_stock_does_not_wait() {
    let season = maple()
        .records("15 lines")
        .weather("20x20 4x33 40x20")
        .but(|s| {
            s.horizon = 4;
            another(s, "C-15", |_| ());
            s.records
                .extend(s.clone().records("16 C-15 headed-back").records.pop());
        });
    let mut notices = of_kind(&season, 1..19, 19, Kind::OverCallusRisk);
    notices.extend(of_kind(&season, 1..19, 19, Kind::HeatSpike));
    notices.sort_by_key(|n| n.kind);
    let seasons = std::slice::from_ref(&season);
    let units = Units::Metric;
    let text = Morning {
        seasons,
        n: 19,
        units,
    }
    .write(&notices);
    insta::assert_snapshot!(text, @r"
    Block C: risk of over-callusing by Thu 23 Jul (1 batch, 100 grafts)

    Alder Fold Nursery, Monday 20 July 2026

    RISK OF OVER-CALLUSING BY THU 23 JUL
      Block C: 1 batch, 100 grafts, by Thu 23 Jul

    By the forecast the warmth at which over-callusing becomes a risk
    is reached in 3 days, Thu 23 Jul. The time to head back runs out
    before that, on Wed 22 Jul.

    What moves it: the 4 days up to then bring 90 °C·d, where days of
    usual weather bring 60 °C·d.

    A stock left whole may be driving the callus over the scion by
    then. Where lines show on both sides, head back; where none are
    seen, do not cut, look again.

    The heat foretold for Tue 21 - Thu 23 Jul (up to 33 °C) is no
    reason to wait: it drives callus over the scion all the faster. Do
    this early in the morning.

      C-14  100 grafts  by Thu 23 Jul
            Osakazuki: 18.0 standard days, 270 °C·d

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    Done? Write it in the field records (headed-back), or as here:
    graftwarden note C-14 headed-back

    -- 
    Temperatures at home: measured by the logger on 18 days, known to
    Sun 19 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn where_the_window_closes_in_the_heat_tape_is_eased() {
    let season = maple()
        .records("15 lines, 16 headed-back, 21 looked, 26 looked")
        .weather("20x20 10x33 40x20");
    for kind in [Kind::LastCall, Kind::Late] {
        let n = if kind == Kind::Late { 26 } else { 25 };
        let text = letter(&season, n, kind).replace('\n', " ");
        let eased = "Take no tape off in the heat of Tue 21 - Thu 30 Jul (up to 33 °C): until it is over, slit it opposite the scion early in the morning where it cuts in, rebind loosely and write down tape-eased; take it off from Fri 31 Jul on.";
        assert!(text.contains(eased), "{text}");
    }
}

#[test]
fn two_sites_have_their_own_weather() {
    let hot = maple()
        .records("15 lines, 16 headed-back, 21 looked")
        .weather("20x20 4x33 40x20");
    let cool = maple()
        .records("15 lines, 16 headed-back, 21 looked")
        .but(|s| {
            s.site.id = "hill".into();
            s.batches[0].site = "hill".into();
            s.batches[0].name = "H-1".into();
            for record in &mut s.records {
                record.target = crate::nursery::Target::Batch("H-1".into());
            }
        });
    let mut notices = of_kind(&hot, 1..22, 22, Kind::Opens);
    notices.extend(of_kind(&cool, 1..22, 22, Kind::Opens));
    let seasons = [hot, cool];
    let units = Units::Metric;
    let text = Morning {
        seasons: &seasons,
        n: 22,
        units,
    }
    .write(&notices);
    let text = text.replace('\n', " ");
    assert!(text.contains("TAPE OFF AND TIE IN NOW"), "{text}");
    assert!(text.contains("C-14: Not in the heat of Tue 21 - Fri 24 Jul (up to 33 °C): leave the tape on and bare no trunk until it is over, and do this from Sat 25 Jul on."), "{text}");
}
