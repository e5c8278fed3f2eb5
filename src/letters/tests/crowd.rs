//! Many batches on one morning, and names that are too long.

use super::*;
use crate::care::tests::season::maple;

/// Twenty batches in three blocks of a site, grafted on days 0 and 1.
pub(super) fn site(id: &str, blocks: [&str; 3]) -> Season {
    maple().but(|s| {
        s.site.id = id.into();
        s.batches.clear();
        let origin = s.day(0);
        for k in 0..20_u32 {
            let block = blocks[k as usize % 3];
            s.batches.push(Batch {
                name: format!("{block}-{}", 10 + k),
                site: id.into(),
                block: block.into(),
                plan: s.plan.name.as_str().into(),
                scion: ["Osakazuki", "Bloodgood", "Sango-kaku"][k as usize % 3].into(),
                understock: "palmatum".into(),
                vigour: crate::nursery::Vigour::Usual,
                grafts: 90 + 7 * k,
                grafted_on: origin + chrono::Days::new(u64::from(k % 2)),
                by: "".into(),
                remarks: String::new(),
            });
        }
    })
}

#[test]
#[expect(clippy::too_many_lines, reason = "nearly all of them are the letter")]
fn forty_batches_in_six_blocks_on_two_sites() {
    let seasons = [
        site("home", ["A", "B", "C"]),
        site("hill", ["H1", "H2", "H3"]),
    ];
    let mut notices: Vec<Notice> = seasons
        .iter()
        .flat_map(|season| of_kind(season, 0..0, 16, Kind::Opens))
        .collect();
    assert_eq!(notices.len(), 40);
    notices.sort_by_key(|n| n.kind);
    let text = Morning {
        seasons: &seasons,
        n: 16,
        units: Units::Metric,
    }
    .write(&notices);
    insta::assert_snapshot!(text, @r"
    6 blocks: look for callus lines now (40 batches, 6,260 grafts)

    Alder Fold Nursery, Friday 17 July 2026

    LOOK FOR CALLUS LINES NOW
      Block H1 at hill: 7 batches, 1,071 grafts, by Wed 22 Jul
      Block H2 at hill: 7 batches, 1,120 grafts, by Wed 22 Jul
      Block H3 at hill: 6 batches, 939 grafts, by Wed 22 Jul
      Block A at home: 7 batches, 1,071 grafts, by Wed 22 Jul
      Block B at home: 7 batches, 1,120 grafts, by Wed 22 Jul
      Block C at home: 6 batches, 939 grafts, by Wed 22 Jul

    Look at 10 trees or 5 in 100, whichever is more, across the rows,
    strongest stocks first. Look at both sides of the cut. Write down
    lines (or how many show: lines 3/10) or no-lines.

    Opened by warmth: 14.0 standard days since grafting, reached on
    Wed 15 - Thu 16 Jul.

    Block H1 at hill
      H1-10   90 grafts  by Wed 22 Jul
             Osakazuki: 15.0 standard days, 225 °C·d
      H1-13  111 grafts  by Thu 23 Jul
             Osakazuki: 14.0 standard days, 210 °C·d
      H1-16  132 grafts  by Wed 22 Jul
             Osakazuki: 15.0 standard days, 225 °C·d
      H1-19  153 grafts  by Thu 23 Jul
             Osakazuki: 14.0 standard days, 210 °C·d
      H1-22  174 grafts  by Wed 22 Jul
             Osakazuki: 15.0 standard days, 225 °C·d
      H1-25  195 grafts  by Thu 23 Jul
             Osakazuki: 14.0 standard days, 210 °C·d
      H1-28  216 grafts  by Wed 22 Jul
             Osakazuki: 15.0 standard days, 225 °C·d
    Block H2 at hill
      H2-11   97 grafts  by Thu 23 Jul
             Bloodgood: 14.0 standard days, 210 °C·d
      H2-14  118 grafts  by Wed 22 Jul
             Bloodgood: 15.0 standard days, 225 °C·d
      H2-17  139 grafts  by Thu 23 Jul
             Bloodgood: 14.0 standard days, 210 °C·d
      H2-20  160 grafts  by Wed 22 Jul
             Bloodgood: 15.0 standard days, 225 °C·d
      H2-23  181 grafts  by Thu 23 Jul
             Bloodgood: 14.0 standard days, 210 °C·d
      H2-26  202 grafts  by Wed 22 Jul
             Bloodgood: 15.0 standard days, 225 °C·d
      H2-29  223 grafts  by Thu 23 Jul
             Bloodgood: 14.0 standard days, 210 °C·d
    Block H3 at hill
      H3-12  104 grafts  by Wed 22 Jul
             Sango-kaku: 15.0 standard days, 225 °C·d
      H3-15  125 grafts  by Thu 23 Jul
             Sango-kaku: 14.0 standard days, 210 °C·d
      H3-18  146 grafts  by Wed 22 Jul
             Sango-kaku: 15.0 standard days, 225 °C·d
      H3-21  167 grafts  by Thu 23 Jul
             Sango-kaku: 14.0 standard days, 210 °C·d
      H3-24  188 grafts  by Wed 22 Jul
             Sango-kaku: 15.0 standard days, 225 °C·d
      H3-27  209 grafts  by Thu 23 Jul
             Sango-kaku: 14.0 standard days, 210 °C·d
    Block A at home
      A-10    90 grafts  by Wed 22 Jul
             Osakazuki: 15.0 standard days, 225 °C·d
      A-13   111 grafts  by Thu 23 Jul
             Osakazuki: 14.0 standard days, 210 °C·d
      A-16   132 grafts  by Wed 22 Jul
             Osakazuki: 15.0 standard days, 225 °C·d
      A-19   153 grafts  by Thu 23 Jul
             Osakazuki: 14.0 standard days, 210 °C·d
      A-22   174 grafts  by Wed 22 Jul
             Osakazuki: 15.0 standard days, 225 °C·d
      A-25   195 grafts  by Thu 23 Jul
             Osakazuki: 14.0 standard days, 210 °C·d
      A-28   216 grafts  by Wed 22 Jul
             Osakazuki: 15.0 standard days, 225 °C·d
    Block B at home
      B-11    97 grafts  by Thu 23 Jul
             Bloodgood: 14.0 standard days, 210 °C·d
      B-14   118 grafts  by Wed 22 Jul
             Bloodgood: 15.0 standard days, 225 °C·d
      B-17   139 grafts  by Thu 23 Jul
             Bloodgood: 14.0 standard days, 210 °C·d
      B-20   160 grafts  by Wed 22 Jul
             Bloodgood: 15.0 standard days, 225 °C·d
      B-23   181 grafts  by Thu 23 Jul
             Bloodgood: 14.0 standard days, 210 °C·d
      B-26   202 grafts  by Wed 22 Jul
             Bloodgood: 15.0 standard days, 225 °C·d
      B-29   223 grafts  by Thu 23 Jul
             Bloodgood: 14.0 standard days, 210 °C·d
    Block C at home
      C-12   104 grafts  by Wed 22 Jul
             Sango-kaku: 15.0 standard days, 225 °C·d
      C-15   125 grafts  by Thu 23 Jul
             Sango-kaku: 14.0 standard days, 210 °C·d
      C-18   146 grafts  by Wed 22 Jul
             Sango-kaku: 15.0 standard days, 225 °C·d
      C-21   167 grafts  by Thu 23 Jul
             Sango-kaku: 14.0 standard days, 210 °C·d
      C-24   188 grafts  by Wed 22 Jul
             Sango-kaku: 15.0 standard days, 225 °C·d
      C-27   209 grafts  by Thu 23 Jul
             Sango-kaku: 14.0 standard days, 210 °C·d

    Done? Write it in the field records (lines, no-lines), or as here:
    graftwarden note A-10 lines --count 3/10

    -- 
    Temperatures at home: measured by the logger on 15 days, known to
    Thu 16 Jul.
    Temperatures at hill: measured by the logger on 15 days, known to
    Thu 16 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn long_names_are_broken_at_words() {
    let season = maple().but(|s| {
        s.batches[0].name = "Behind the old packing shed, row 14".into();
        s.batches[0].block = "Behind the old packing shed".into();
        s.batches[0].scion =
            "Acer palmatum var. dissectum Crimson Queen, from the mother tree".into();
    });
    insta::assert_snapshot!(letter(&season, 15, Kind::Opens), @r"
    Block Behind the old packing shed: look for callus lines now (1 batch, 100 grafts)

    Alder Fold Nursery, Thursday 16 July 2026

    LOOK FOR CALLUS LINES NOW
      Block Behind the old packing shed: 1 batch, 100 grafts, by Wed
      22 Jul

    Look at 10 trees or 5 in 100, whichever is more, across the rows,
    strongest stocks first. Look at both sides of the cut. Write down
    lines (or how many show: lines 3/10) or no-lines.

    Opened by warmth: 14.0 standard days since grafting, reached on
    Wed 15 Jul.

      Behind the old packing shed, row 14
        100 grafts  by Wed 22 Jul
        Acer palmatum var. dissectum Crimson Queen, from the mother
        tree: 14.0 standard days, 210 °C·d

    Done? Write it in the field records (lines, no-lines), or as here:
    graftwarden note 'Behind the old packing shed, row 14' lines
    --count 3/10

    -- 
    Temperatures at home: measured by the logger on 14 days, known to
    Wed 15 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn sites_with_usual_days_of_their_own_say_so_once_each() {
    let of_site = |id: &str, size: Option<f64>| {
        maple().but(|s| {
            s.site.id = id.into();
            s.site.standard_day = size.map(crate::units::DegreeDays);
            s.batches[0].site = id.into();
            s.batches[0].name = format!("{id}-1");
        })
    };
    let seasons = [
        of_site("home", None),
        of_site("hill", Some(12.0)),
        of_site("valley", None),
    ];
    let seasons = seasons.map(|s| s.weather("5x20 3x? 2x20 1x? 40x20"));
    let notices: Vec<Notice> = seasons
        .iter()
        .flat_map(|s| of_kind(s, 0..0, 19, Kind::Opens))
        .collect();
    let text = Morning {
        seasons: &seasons,
        n: 19,
        units: Units::Metric,
    }
    .write(&notices);
    let small_print = text.split_once("-- \n").unwrap().1;
    insta::assert_snapshot!(small_print, @r"
    Temperatures at home: measured by the logger on 14 days, known to
    Sun 19 Jul, 1 day put in, 3 days unknown.
    Temperatures at hill: measured by the logger on 14 days, known to
    Sun 19 Jul, 1 day put in, 3 days unknown.
    Temperatures at valley: measured by the logger on 14 days, known
    to Sun 19 Jul, 1 day put in, 3 days unknown.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 12.0 °C·d at hill.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}
