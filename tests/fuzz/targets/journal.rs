//! Any bytes as a journal: a flaw or a journal, never a panic; and a journal that is read can be replayed, recapped and written
//! down again to the very same events.
#![no_main]
#![allow(dead_code, unused_imports, reason = "the modules are the program's, and not all of each is used here")]

include!("../pure.rs");

use libfuzzer_sys::fuzz_target;
use std::cell::RefCell;
use std::path::Path;
use std::rc::Rc;

#[derive(Clone, Default)]
struct Memory(Rc<RefCell<Vec<u8>>>);

impl journal::Disk for Memory {
    fn append(&mut self, bytes: &[u8]) -> std::io::Result<()> {
        self.0.borrow_mut().extend(bytes);
        Ok(())
    }
    fn sync(&mut self) -> std::io::Result<()> {
        Ok(())
    }
    fn cut(&mut self, length: u64) -> std::io::Result<()> {
        self.0.borrow_mut().truncate(length as usize);
        Ok(())
    }
}

/// Put right sums in front of lines, so that what lies behind the check is reached too.
fn summed(bytes: &[u8]) -> Vec<u8> {
    let mut sum = 0;
    let mut out = vec![];
    for (place, json) in bytes.split(|b| *b == b'\n').enumerate() {
        let version_1 = bytes.starts_with(b"{\"stepbell\":1,");
        let mut hasher = crc32fast::Hasher::new_with_initial(if version_1 || place == 0 { 0 } else { sum });
        hasher.update(json);
        sum = hasher.finalize();
        out.extend(format!("{sum:08x} ").into_bytes());
        out.extend(json);
        out.push(b'\n');
    }
    out
}

fn judge(bytes: &[u8]) {
    let Ok(read) = journal::read(bytes) else { return };
    assert!(read.length + read.torn == bytes.len());
    let memory = Memory::default();
    let mut header = read.header.clone();
    header.stepbell = journal::VERSION;
    let mut writer = journal::Writer::begin(Box::new(memory.clone()), Path::new("fuzz"), &header).unwrap();
    for record in &read.records {
        writer.append(record, None).unwrap();
    }
    if header.section_sha256 == read.header.section_sha256 && read.header.stepbell == journal::VERSION {
        let again = journal::read(&memory.0.borrow()).unwrap();
        assert_eq!(again.records, read.records);
    }
    let (section, _) = authoring::read_seeded(&read.header.section, read.header.settings.seed);
    let Some(section) = section.filter(|s| s.steps.len() <= 12) else { return };
    let mut session = session::Session::new(section.compressed(read.header.settings.compress), read.header.settings.clone());
    // Explaining a run can take long by its nature; what is fuzzed here is the reader and the proctor.
    if read.records.len() <= 200 {
        read.replay(&mut session, |_, _| {});
        let _ = (recap::text(session.section(), session.outcome()), recap::spoken(session.section(), session.outcome()));
    }
}

fuzz_target!(|bytes: &[u8]| {
    judge(bytes);
    judge(&summed(bytes));
});
