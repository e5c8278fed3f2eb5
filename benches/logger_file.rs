//! A logger's file of 200 MB with a reading every ten minutes. The goals are 60 MB/s or more, and under 60 MB of memory.
//! Shorter files show that this holds in whatever way a logger writes.

use chrono::{NaiveDate, NaiveDateTime, TimeDelta};
use chrono_tz::America::New_York;
use divan::Bencher;
use divan::counter::BytesCount;
use graftwarden::config::layout_of;
use graftwarden::weather::csv_file::{TemperatureFile, read};
use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::path::Path;

const MEGABYTE: u64 = 1_000_000;
const LONG: u64 = 200 * MEGABYTE;
const SHORT: u64 = 20 * MEGABYTE;

/// One way to write.
struct Shape {
    name: &'static str,
    header: &'static str,
    /// What the config says of it.
    config: &'static str,
    /// A row, by its moment, its number and its temperature.
    row: fn(NaiveDateTime, u32, f64) -> String,
    utf16: bool,
}

/// The shortest rows, which make the most dates.
const PLAIN: Shape = Shape {
    name: "plain",
    header: "timestamp,temp_c,rh\n",
    config: "",
    row: |at, number, temp| format!("{at},{temp:.1},{}\n", number % 100),
    utf16: false,
};

/// A row of words after each reading, and now and then a quotation mark that is never closed.
const WORDY: Shape = Shape {
    name: "wordy",
    header: "timestamp,temp_c,event\n",
    config: "",
    row: |at, number, temp| {
        let stray = if number % 128 == 0 { "\"" } else { "" };
        format!("{at},{temp:.1},{stray}logged\nEVENT\n")
    },
    utf16: false,
};

const SHAPES: [Shape; 7] = [
    WORDY,
    Shape {
        name: "station",
        header: "TIMESTAMP,RECORD,BattV,AirTC,RH,WS_ms,WindDir,SlrW,BP_mbar,Rain_mm,SoilTC\n",
        config: "",
        row: |at, number, temp| {
            format!("\"{at}\",{number},12.61,{temp:.2},81.3,2.31,245.8,311.4,1013,0.2,9.81\n")
        },
        utf16: false,
    },
    Shape {
        name: "decimal comma",
        header: "Nr;Datum;Temperatur;Feuchte\n",
        config: "date_format = \"%d.%m.%Y %H:%M:%S\"",
        row: |at, number, temp| {
            let temp = format!("{temp:.1}").replace('.', ",");
            format!(
                "{number};{};{temp} °C;81,3\n",
                at.format("%d.%m.%Y %H:%M:%S")
            )
        },
        utf16: false,
    },
    Shape {
        name: "twelve hours",
        header: "\"#\",\"Date Time\",\"Temp, °F\"\n",
        config: "date_format = \"%m/%d/%y %I:%M:%S %p\"\nunit = \"F\"",
        row: |at, number, temp| {
            format!("{number},{},{temp:.3}\n", at.format("%m/%d/%y %I:%M:%S %p"))
        },
        utf16: false,
    },
    Shape {
        name: "offsets",
        header: "time,temp_c\n",
        config: "",
        row: |at, _, temp| format!("{}+00:00,{temp:.1}\n", at.format("%Y-%m-%dT%H:%M:%S")),
        utf16: false,
    },
    Shape {
        name: "fixed clock",
        header: "date,time,temp_c\n",
        config: "clock = \"-05:00\"\ninterval_end = true",
        row: |at, _, temp| format!("{},{temp:.1}\n", at.format("%Y-%m-%d,%H:%M")),
        utf16: false,
    },
    Shape {
        utf16: true,
        name: "UTF-16",
        ..PLAIN
    },
];

fn main() {
    println!("200 MB of readings: the goals are 60 MB/s or more and under 60 MB of memory");
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("readings.csv");
    let at_first = memory("VmRSS:");
    for shape in [PLAIN, WORDY] {
        shape.write(&path, LONG).expect("200 MB on the disk");
        let days = shape.read(&path).days.len();
        let name = shape.name;
        // The peak is that of the whole process so far: rather too much than too little.
        match at_first.zip(memory("VmHWM:")) {
            Some((at_first, peak)) => println!(
                "{name}: {days} days took up to {:.1} MB of memory",
                peak.saturating_sub(at_first) as f64 * 1024.0 / MEGABYTE as f64
            ),
            None => println!("{name}: {days} days; this system does not say how memory grows"),
        }
    }
    divan::main();
}

/// What the system says of this process's memory, in KiB.
fn memory(name: &str) -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with(name))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

impl Shape {
    fn write(&self, path: &Path, length: u64) -> io::Result<()> {
        let mut file = BufWriter::new(File::create(path)?);
        let mut put = |text: &str| {
            if self.utf16 {
                let bytes: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
                file.write_all(&bytes).map(|()| bytes.len() as u64)
            } else {
                file.write_all(text.as_bytes()).map(|()| text.len() as u64)
            }
        };
        let first = NaiveDate::from_ymd_opt(1890, 1, 1).and_then(|date| date.and_hms_opt(0, 0, 0));
        let mut at = first.expect("a date of the calendar");
        let mut written = put(self.header)?;
        for number in 0.. {
            if written >= length {
                break;
            }
            let temp = f64::from(number % 997) / 40.0 - 3.0;
            written += put(&(self.row)(at, number, temp))?;
            at += TimeDelta::minutes(10);
        }
        file.flush()
    }

    fn read(&self, path: &Path) -> TemperatureFile {
        let layout = layout_of(self.config).expect("lines without a fault");
        let file = read(path, &layout, Some(New_York));
        assert!(file.problems.is_empty(), "{:?}", file.problems);
        assert!(file.left_out.len() <= 2, "{:?}", file.left_out);
        file
    }

    fn bench(&self, bencher: Bencher, length: u64) {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let path = folder.path().join("readings.csv");
        self.write(&path, length).expect("room on the disk");
        bencher
            .counter(BytesCount::new(length))
            .bench_local(|| self.read(&path));
    }
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn a_long_file(bencher: Bencher) {
    PLAIN.bench(bencher, LONG);
}

#[divan::bench(args = SHAPES.map(|shape| shape.name), sample_count = 5, sample_size = 1)]
fn other_shapes(bencher: Bencher, name: &str) {
    let shape = SHAPES.into_iter().find(|shape| shape.name == name);
    shape.expect("one of them").bench(bencher, SHORT);
}
