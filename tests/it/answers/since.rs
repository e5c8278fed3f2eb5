//! What one person's answer wrote down, others who were told of that work hear with their next letter.

use super::*;
use crate::program::temperatures;

const SINCE: &str = "WRITTEN DOWN SINCE OUR LAST LETTER";

#[test]
fn the_others_hear_of_it_with_their_next_letter_and_once() {
    let nursery = told();
    let asked = letters_to(&nursery, MAREN);
    Mail {
        from: MAREN,
        to: asked[0].answer_at(),
        id: "m1@phone.example",
        words: "A1 lines 8/10",
        ..Mail::default()
    }
    .comes(&nursery, "m1");
    nursery.round(SOON).well();
    // What it opens goes to both at once: heading back.
    let newest = |person| {
        let letters = letters_to(&nursery, person);
        let mut about = letters
            .into_iter()
            .filter(|l| l.text.contains("HEAD BACK NOW"));
        about.next_back().unwrap()
    };
    let to_jory = newest(JORY);
    assert!(body(&to_jory).contains(SINCE), "{}", body(&to_jory));
    assert!(
        body(&to_jory).contains("A1 lines 8/10 (Maren Holt, Tue 16 Jul)."),
        "{}",
        body(&to_jory)
    );
    assert!(!body(&newest(MAREN)).contains(SINCE), "her own words");
    // Said once: the next letter does not say it again.
    nursery.write("temps.csv", temperatures("2024-07-17"));
    nursery.round("2024-07-18T06:10:00+02:00").well();
    let letters = letters_to(&nursery, JORY);
    let with_it = letters.iter().filter(|l| l.text.contains(SINCE));
    assert_eq!((with_it.count(), letters.len()), (1, 3));
}
