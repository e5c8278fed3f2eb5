//! How large a letter is on its way: many mail programs cut off what is beyond 100 kB, and some phones fetch it by radio.

use crate::program::{CONFIG, Nursery, RECORDS, temperatures};

/// Forty batches in four blocks, each with a name of forty letters, that all wait for a look on the first morning.
fn forty() -> Nursery {
    let rows = (0..40).map(|n| {
        let block = ["Mühlenfeld hinter der Scheune am Bach", "Behind the old packing shed, north", "Long field by the railway, low half", "Terrace above the lower pond, west"][n / 10];
        let name = format!("Row {:02} behind the packing shed, north {:02}", n + 1, 40 - n);
        assert_eq!(name.chars().count(), 40);
        format!("\"{name}\",\"{block}\",maple field T-graft,\"Acer palmatum var. dissectum Ember Lace\",{},2024-07-0{}\n", 90 + n, 1 + n % 2)
    });
    let batches = format!(
        "batch,block,plan,scion,grafts,grafted_on\n{}",
        rows.collect::<String>()
    );
    let answers = "\n[answers]\naddress = \"answers@alderfold.example\"\nmaildir = \"mail\"\n";
    let nursery = Nursery::small()
        .with("graftwarden.toml", &(CONFIG.to_owned() + answers))
        .with("batches.csv", &batches)
        .with("records.csv", RECORDS)
        .with("temps.csv", &temperatures("2024-07-16"));
    for folder in ["mail/new", "mail/cur", "mail/tmp"] {
        std::fs::create_dir_all(nursery.path(folder)).unwrap();
    }
    nursery
}

/// The letters as they are sent.
fn sent(nursery: &Nursery) -> Vec<Vec<u8>> {
    let files = std::fs::read_dir(nursery.path("letters")).unwrap();
    files
        .map(|file| std::fs::read(file.unwrap().path()).unwrap())
        .collect()
}

#[test]
fn a_letter_of_forty_batches_stays_under_100_kb_on_its_way() {
    let nursery = forty();
    nursery.round("2024-07-17T06:10:00+02:00").well();
    let letters = sent(&nursery);
    assert_eq!(letters.len(), 1);
    for letter in letters {
        assert!(letter.len() < 100_000, "{} bytes", letter.len());
    }
}
