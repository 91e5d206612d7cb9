//! Durable appends a second: the journal beside SQLite in WAL mode with full sync, in turns on the same disk, and both beside
//! the bare write and sync. `cargo run --release` in this folder; the argument is the folder to write in.

use std::fs::{File, OpenOptions};
use std::io::Write;
use std::path::Path;
use std::time::Instant;
use stepbell::callout::{Heard, Meaning};
use stepbell::journal::{Header, Record, Writer};
use stepbell::outcome::Mode;
use stepbell::session::Event;
use stepbell::time::SampleIndex;

const APPENDS: u64 = 500;
const ROUNDS: usize = 7;

fn record(k: u64) -> Record {
    let start = SampleIndex(k * 80_000);
    let heard = Heard {
        meaning: Meaning::Callout("remove massage cream".into()),
        start,
        end: SampleIndex(start.0 + 14_400),
        confidence: 0.97,
    };
    Record { at: SampleIndex(start.0 + 24_000), event: Event::Heard(heard) }
}

fn a_second(run: impl FnOnce()) -> f64 {
    let begun = Instant::now();
    run();
    APPENDS as f64 / begun.elapsed().as_secs_f64()
}

fn ours(folder: &Path) -> f64 {
    let header = Header::new("2026-01-01T00:00:00Z".into(), "id = \"bench\"\n".repeat(200), Mode::Coach);
    let mut writer = Writer::create(&folder.join("a.journal"), &header).unwrap();
    a_second(|| {
        for k in 0..APPENDS {
            // As the driver does it, with a digest of the usual length.
            let digest = writer.digest_due().then(|| "0123456789abcdef0123456789abcdef".to_string());
            writer.append(&record(k), digest).unwrap();
        }
    })
}

fn sqlite(folder: &Path) -> f64 {
    let database = rusqlite::Connection::open(folder.join("a.sqlite")).unwrap();
    database.pragma_update(None, "journal_mode", "WAL").unwrap();
    database.pragma_update(None, "synchronous", "FULL").unwrap();
    database.execute_batch("CREATE TABLE event (place INTEGER, json TEXT)").unwrap();
    let mut insert = database.prepare("INSERT INTO event VALUES (?1, ?2)").unwrap();
    a_second(|| {
        for k in 0..APPENDS {
            let record = record(k);
            insert.execute((record.at.0 as i64, serde_json::to_string(&record.event).unwrap())).unwrap();
        }
    })
}

fn bare(folder: &Path) -> f64 {
    let mut file: File = OpenOptions::new().append(true).create(true).open(folder.join("a.bare")).unwrap();
    let line = serde_json::to_vec(&record(7)).unwrap();
    a_second(|| {
        for _ in 0..APPENDS {
            file.write_all(&line).unwrap();
            file.sync_data().unwrap();
        }
    })
}

fn middle(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

fn main() {
    let place = std::env::args().nth(1).unwrap_or_else(|| ".".into());
    let (mut journal, mut database, mut plain) = (vec![], vec![], vec![]);
    for _ in 0..ROUNDS {
        let folder = tempfile::tempdir_in(&place).unwrap();
        journal.push(ours(folder.path()));
        database.push(sqlite(folder.path()));
        plain.push(bare(folder.path()));
    }
    let ratios = journal.iter().zip(&database).map(|(a, b)| a / b).collect();
    let (ratio, journal, database, plain) = (middle(ratios), middle(journal), middle(database), middle(plain));
    println!(
        "figure|durable appends over SQLite's (WAL, synchronous=FULL), {APPENDS} each, middle of {ROUNDS} turns|{ratio:.2} \
         ({journal:.0}/s, {database:.0}/s, bare {plain:.0}/s)|at least 1|{}",
        u8::from(ratio < 1.0)
    );
}
