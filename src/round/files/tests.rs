use super::*;
use crate::nursery::What;
use crate::register::append;
use crate::round::absorb;
use crate::store::Store;
use tempfile::TempDir;

const CONFIG: &str = "version = 1\n\n[nursery]\nname = \"Alder Fold Nursery\"\nzone = \"Europe/Brussels\"\n\n[[site]]\nid = \"hill\"\nlatitude = 50.8\nlongitude = 4.4\n\n[[site.weather]]\nsource = \"file\"\npath = \"temps.csv\"\n\n[post]\nlog = true\nfrom = \"Alder Fold Nursery <letters@alderfold.example>\"\n\n[[people]]\nname = \"Maren Holt\"\nemail = \"maren@alderfold.example\"\n";

const BATCHES: &str = "\
batch,site,block,plan,grafts,grafted_on
A1,hill,A,maple field T-graft,310,2026-08-03
A2,hill,A,maple field T-graft,120,2026-08-01
A3,hill,A,maple field T-graft,90,2026-08-05
A4,hill,A,maple field T-graft,80,2026-08-06
";
const RECORDS: &str = "date,batch,what,count\n2026-08-15,A1,looked,\n";

/// A folder with the growers' files, and what is remembered of them.
struct Farm {
    folder: TempDir,
    store: Store,
    on: &'static str,
}

/// Of the register, the records and what was confirmed: whether each was read, and what was told of all.
type Seen = (Vec<bool>, Vec<String>);

impl Farm {
    fn new() -> Self {
        let farm = Self {
            folder: tempfile::tempdir().unwrap(),
            store: Store::in_memory().unwrap(),
            on: "2026-08-20",
        };
        farm.put("graftwarden.toml", CONFIG);
        farm.put("batches.csv", BATCHES);
        farm.put("records.csv", RECORDS);
        let path = farm.config().accepted();
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        farm.confirm("n1");
        farm
    }

    /// The same, after a first look.
    fn looked_at() -> Self {
        let mut farm = Self::new();
        assert_eq!(farm.look(), (vec![true; 3], vec![]));
        farm
    }

    fn put(&self, name: &str, text: impl AsRef<[u8]>) {
        std::fs::write(self.folder.path().join(name), text).unwrap();
    }

    fn edit(&self, name: &str, from: &str, to: &str) {
        let text = std::fs::read_to_string(self.folder.path().join(name)).unwrap();
        assert!(text.contains(from), "{from}");
        self.put(name, text.replace(from, to));
    }

    fn config(&self) -> Config {
        Config::load(&self.folder.path().join("graftwarden.toml")).unwrap()
    }

    /// Somebody's record is confirmed, as answers and notes do it.
    fn confirm(&self, id: &str) {
        let record = Record {
            date: "2026-08-16".parse().unwrap(),
            target: crate::nursery::Target::Batch("A2".into()),
            what: What::Looked,
            count: None,
            by: "Maren".into(),
            remarks: String::new(),
        };
        let at = self.now();
        append(&self.config().accepted(), &record, at, id).unwrap();
    }

    fn now(&self) -> DateTime<Utc> {
        format!("{}T06:00:00Z", self.on).parse().unwrap()
    }

    /// Reads what is there and writes it down.
    fn look(&mut self) -> Seen {
        let (config, now) = (self.config(), self.now());
        self.store
            .settle::<_, StoreError>(|memory| {
                let known = |role: &str| memory.reading(role).unwrap();
                let incoming = read_register(&config, &Register::AsItStands, now, known);
                let told = absorb(memory, &incoming, now)?;
                let mut read = vec![!incoming.batches.unwrap().is_known()];
                read.extend(incoming.records.iter().map(|came| !came.is_known()));
                Ok((read, told.iter().map(|p| p.what.clone()).collect()))
            })
            .unwrap()
    }

    fn grafts_of(&mut self, name: &str) -> u32 {
        let batches = self.store.settle(|memory| memory.batches()).unwrap();
        batches.iter().find(|b| b.name == name).unwrap().grafts
    }

    #[track_caller]
    fn check(&mut self, read: [bool; 3], told: &[&str]) {
        let told = told.iter().map(|what| (*what).to_owned()).collect();
        assert_eq!(self.look(), (read.to_vec(), told));
    }
}

const NONE: [bool; 3] = [false; 3];
const REGISTER: [bool; 3] = [true, false, false];

#[test]
fn what_has_not_changed_is_not_read() {
    let mut farm = Farm::looked_at();
    farm.check(NONE, &[]);
    farm.put("batches.csv", BATCHES);
    farm.on = "2026-08-21";
    farm.check(NONE, &[]);
}

#[test]
fn the_first_grafting_is_known_all_the_same() {
    let mut farm = Farm::looked_at();
    let (config, now) = (farm.config(), farm.now());
    let first = |known: Option<Reading>| {
        let known = |role: &str| known.clone().filter(|_| role == "batches");
        let came = read_register(&config, &Register::AsItStands, now, known).batches;
        came.map(|came| (came.is_known(), came.first)).unwrap()
    };
    let known = farm.store.settle(|memory| memory.reading("batches"));
    let day = "2026-08-01".parse().ok();
    assert_eq!(first(None), (false, day));
    assert_eq!(first(known.unwrap()), (true, day));
}

#[test]
fn each_file_is_read_when_a_byte_of_it_has_changed() {
    let mut farm = Farm::looked_at();
    farm.edit("batches.csv", ",310,", ",311,");
    farm.check(REGISTER, &[]);
    assert_eq!(farm.grafts_of("A1"), 311);
    farm.edit("records.csv", "looked,\n", "looked, \n");
    farm.check([false, true, false], &[]);
    farm.confirm("n2");
    farm.check([false, false, true], &[]);
    farm.check(NONE, &[]);
}

#[test]
fn what_rows_are_made_out_by_is_compared_too() {
    let mut farm = Farm::looked_at();
    farm.edit(
        "graftwarden.toml",
        "[post]",
        "[[site]]\nid = \"valley\"\nlatitude = 50.8\nlongitude = 4.5\n\n[[site.weather]]\nsource = \"file\"\npath = \"temps.csv\"\n\n[post]",
    );
    farm.check(REGISTER, &[]);
    farm.check(NONE, &[]);
    farm.edit("graftwarden.toml", "\"hill\"", "\"Hill\"");
    farm.check(REGISTER, &[]);
    let batches = farm.store.settle(|memory| memory.batches()).unwrap();
    assert!(batches.iter().all(|batch| batch.site == "Hill"));
}

#[test]
fn what_is_wrong_is_told_each_time() {
    let mut farm = Farm::looked_at();
    farm.edit("batches.csv", ",310,", ",many,");
    for _ in 0..3 {
        farm.check(REGISTER, &["'many' is not a number of grafts"]);
    }
    farm.edit("batches.csv", "grafted_on\n", "grafted_on,row\n");
    farm.edit("batches.csv", ",many,", ",310,");
    for _ in 0..2 {
        farm.check(REGISTER, &["the column row is not known"]);
    }
}

#[test]
fn a_row_that_waits_is_read_when_its_day_has_come() {
    let mut farm = Farm::new();
    farm.edit("batches.csv", "120,2026-08-01", "120,2026-08-22");
    let waits = |today| format!("2026-08-22 is in the future (today is {today})");
    farm.check([true; 3], &[&waits("2026-08-20")]);
    farm.on = "2026-08-21";
    farm.check(REGISTER, &[&waits("2026-08-21")]);
    farm.on = "2026-08-22";
    farm.check(REGISTER, &[]);
    farm.check(NONE, &[]);
    assert_eq!(farm.grafts_of("A2"), 120);
    // The clock had run ahead.
    farm.on = "2026-08-21";
    farm.check(REGISTER, &[&waits("2026-08-21")]);
}

#[test]
fn rows_that_are_gone_are_told_as_before() {
    let mut farm = Farm::looked_at();
    let a3 = "A3,hill,A,maple field T-graft,90,2026-08-05\n";
    let a4 = "A4,hill,A,maple field T-graft,80,2026-08-06\n";
    farm.edit("batches.csv", a3, "");
    farm.check(REGISTER, &["the row of A3 is not there any more"]);
    farm.check(NONE, &[]);
    assert_eq!(farm.grafts_of("A3"), 90);
    farm.edit("batches.csv", a4, a3);
    farm.check(REGISTER, &["the row of A4 is not there any more"]);
    farm.put("batches.csv", BATCHES);
    farm.check(REGISTER, &[]);
    farm.edit("batches.csv", a3, "");
    farm.edit("batches.csv", a4, "");
    for _ in 0..2 {
        farm.check(REGISTER, &["2 of its rows are gone at once"]);
    }
}

#[test]
fn a_file_put_back_after_another_reading_is_read_again() {
    let mut farm = Farm::looked_at();
    farm.edit("batches.csv", ",310,", ",1,");
    farm.edit("batches.csv", ",120,", ",many,");
    farm.check(REGISTER, &["'many' is not a number of grafts"]);
    assert_eq!(farm.grafts_of("A1"), 1);
    farm.put("batches.csv", BATCHES);
    farm.check(REGISTER, &[]);
    assert_eq!(farm.grafts_of("A1"), 310);
}

#[test]
fn a_register_of_another_name_begins_anew_and_may_hold_the_same_batch() {
    let mut farm = Farm::looked_at();
    let next = "batch,block,plan,grafts,grafted_on\nA1,B,maple field T-graft,77,2026-08-18\n";
    farm.put("next.csv", next);
    farm.edit(
        "graftwarden.toml",
        "name = \"Alder Fold Nursery\"\n",
        "name = \"Alder Fold Nursery\"\nbatches = \"next.csv\"\n",
    );
    farm.check(REGISTER, &[]);
    assert_eq!((farm.grafts_of("A1"), farm.grafts_of("A2")), (77, 120));
    farm.edit("graftwarden.toml", "batches = \"next.csv\"\n", "");
    farm.check(REGISTER, &[]);
    assert_eq!(farm.grafts_of("A1"), 310);
}

#[test]
fn a_register_that_cannot_be_read_for_a_while_is_known_again() {
    let mut farm = Farm::looked_at();
    farm.put("batches.csv", "");
    farm.check(REGISTER, &["the file is empty"]);
    farm.put("batches.csv", BATCHES);
    farm.check(NONE, &[]);
}

#[test]
fn what_was_confirmed_is_read_again_where_a_mail_was_cut_short() {
    let mut farm = Farm::new();
    farm.confirm("m1-1");
    farm.look();
    farm.check(NONE, &[]);
    let forget = |memory: &Memory<'_>| memory.forget_records("m1");
    farm.store.settle(forget).unwrap();
    farm.check([true; 3], &[]);
    let records = farm.store.settle(|memory| memory.records()).unwrap();
    assert_eq!(records.len(), 3);
}

#[test]
fn a_rehearsal_reads_what_was_written_by_yesterday_where_that_is_more_than_before() {
    let mut farm = Farm::new();
    let config = farm.config();
    let register = Register::AsItStood(ReadOnce::of(&config));
    let mut seen = Vec::new();
    for day in ["2026-08-03", "2026-08-04", "2026-08-05"] {
        let now = format!("{day}T06:00:00Z").parse().unwrap();
        let store = &mut farm.store;
        let reading = |memory: &Memory<'_>| memory.reading("batches");
        let known = store.settle(reading).unwrap();
        let incoming = read_register(&config, &register, now, |_| known.clone());
        let write = |memory: &Memory<'_>| absorb(memory, &incoming, now);
        assert_eq!(store.settle(write).unwrap(), []);
        let batches = store.settle(|memory| memory.batches()).unwrap();
        let names: Vec<String> = batches.iter().map(|batch| batch.name.clone()).collect();
        let came = incoming.batches.unwrap();
        let first = came.first.unwrap().to_string();
        seen.push((names.join(" "), first, came.is_known()));
    }
    let expected = [
        ("A2", "2026-08-01", false),
        ("A1 A2", "2026-08-01", false),
        ("A1 A2", "2026-08-01", true),
    ];
    assert_eq!(
        seen,
        expected.map(|(names, first, known)| (names.to_owned(), first.to_owned(), known))
    );
}
