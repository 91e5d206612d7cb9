//! The real driver, session, journal and search for callouts on tokio's paused clock. A seed makes a section, a candidate who
//! slips, a recogniser that misses, makes up and lags, devices that go away, and a disk that fills up, fails and loses power.
//! The same seed without faults is what the findings are held against.
//!
//!     SEEDS=10000 cargo test --release --test simulation -- --nocapture
//!     SEED=17 cargo test --release --test simulation -- --nocapture
//!
//! `TRACE=1` prints the section and the journal of each run that was closed.

mod chain;
mod plan;
mod planted;
mod run;
mod school;
mod world;

use plan::{Plan, Storage};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};

/// Most bytes that a run may hold at one time: sound for its longest announcement is most of it.
const MOST_BYTES: usize = 16 << 20;

/// Judge one seed; gives what happened, and the most bytes held.
fn judge(seed: u64) -> Result<(run::Happened, usize), String> {
    let plan = Plan::new(seed);
    let mut runs = Err("nothing was run".to_string());
    let memory = allocation_counter::measure(|| {
        runs = run::run(&plan, false).and_then(|(whole, _)| {
            run::run(&plan, true).map(|ran| (whole, ran)).map_err(|e| format!("with faults: {e}"))
        });
    });
    let (whole, (cut, happened)) = runs?;
    let most = memory.bytes_max as usize;
    if whole != cut {
        return Err(format!(
            "other findings than without faults:\n  without {whole:?}\n  with    {cut:?}\n  {happened:?}"
        ));
    }
    if most > MOST_BYTES {
        return Err(format!("{most} bytes were held at one time"));
    }
    Ok((happened, most))
}

fn figure(name: &str, value: impl std::fmt::Display, target: &str, met: bool) {
    println!("\nfigure|{name}|{value}|{target}|{}", u8::from(!met));
    assert!(met, "{name}: {value}, but {target} is wanted");
}

#[test]
fn every_seed_keeps_what_happened_and_ends() {
    let number = |name: &str| std::env::var(name).ok().and_then(|n| n.parse::<u64>().ok());
    let (first, count) = number("SEED").map_or((0, number("SEEDS").unwrap_or(300)), |seed| (seed, 1));
    let next = Arc::new(AtomicU64::new(first));
    let failures = Arc::new(Mutex::new(vec![]));
    let all = Arc::new(Mutex::new(vec![]));
    let began = std::time::Instant::now();
    let threads: Vec<_> = (0..std::thread::available_parallelism().map_or(1, |n| n.get()))
        .map(|_| {
            let (next, failures, all) = (Arc::clone(&next), Arc::clone(&failures), Arc::clone(&all));
            std::thread::spawn(move || {
                loop {
                    let seed = next.fetch_add(1, Ordering::Relaxed);
                    if seed >= first + count {
                        return;
                    }
                    match std::panic::catch_unwind(|| judge(seed)) {
                        Ok(Ok(happened)) => all.lock().unwrap().push(happened),
                        Ok(Err(why)) => failures.lock().unwrap().push((seed, why)),
                        Err(_) => failures.lock().unwrap().push((seed, "it panicked".into())),
                    }
                }
            })
        })
        .collect();
    threads.into_iter().for_each(|t| t.join().unwrap());
    let failures = failures.lock().unwrap();
    for (seed, why) in failures.iter().take(5) {
        println!(
            "seed {seed}: {why}\n  again: SEED={seed} cargo test --release --locked --test simulation -- --nocapture"
        );
    }
    let all = all.lock().unwrap();
    let failed = |wanted: fn(&Storage) -> bool| all.iter().flat_map(|(h, _)| &h.failed).filter(|f| wanted(f)).count();
    println!(
        "{} seeds in {:.1} s: {} events, {} said afterwards, {} resumed, {} power failures, {} full disks, {} failed syncs, {} device faults; at most {} kB held",
        count,
        began.elapsed().as_secs_f64(),
        all.iter().map(|(h, _)| h.records).sum::<usize>(),
        all.iter().map(|(h, _)| h.afterwards).sum::<usize>(),
        all.iter().map(|(h, _)| h.resumed).sum::<usize>(),
        failed(|f| matches!(f, Storage::Crash(_))),
        failed(|f| *f == Storage::Full),
        failed(|f| *f == Storage::SyncFailed),
        all.iter().map(|(h, _)| h.devices).sum::<usize>(),
        all.iter().map(|(_, most)| most).max().unwrap_or(&0) / 1000,
    );
    figure(&format!("simulated runs of {count} that broke a promise"), failures.len(), "0", failures.is_empty());
}
