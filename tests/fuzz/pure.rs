// The program's pure modules, as source at the target's root: each target includes this list.
#[path = "../../src/authoring/mod.rs"]
mod authoring;
#[path = "../../src/callout/mod.rs"]
mod callout;
#[path = "../../src/drawing.rs"]
mod drawing;
#[path = "../../src/intent/mod.rs"]
mod intent;
#[path = "../../src/journal/mod.rs"]
mod journal;
#[path = "../../src/listen/result.rs"]
mod result;
#[path = "../../src/outcome.rs"]
mod outcome;
#[path = "../../src/platform/mod.rs"]
mod platform;
#[path = "../../src/problem.rs"]
mod problem;
#[path = "../../src/recap/mod.rs"]
mod recap;
#[path = "../../src/review/mod.rs"]
mod review;
#[path = "../../src/section/mod.rs"]
mod section;
#[path = "../../src/session/mod.rs"]
mod session;
#[path = "../../src/text.rs"]
mod text;
#[path = "../../src/time.rs"]
mod time;
#[path = "../../src/words.rs"]
mod words;
