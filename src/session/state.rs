//! The state of a session as digests see it.

use super::{Session, Stage};
use crate::outcome::{Mode, Outcome};
use crate::section::Section;
use crate::time::{Ms, SampleIndex};
use serde::Serialize;
use sha2::{Digest, Sha256};
use std::ops::Not;

/// Raised whenever the same events would leave another state than before, so that digests of it are not compared.
pub const STATE: u32 = 4;

/// What a digest is made from, names and order as [`STATE`] stands for them. Wording is no part of it: it may be mended.
#[derive(Serialize)]
struct State<'a> {
    section: &'a Section,
    mode: Mode,
    phase: Stage,
    next_id: u32,
    awaited: Option<u32>,
    cueing: Option<(u32, usize)>,
    warned: bool,
    paused_before: Ms,
    hinted: &'a [usize],
    #[serde(skip_serializing_if = "Option::is_none")]
    waited: Option<SampleIndex>,
    #[serde(skip_serializing_if = "Not::not")]
    silent: bool,
    #[serde(skip_serializing_if = "Not::not")]
    listens_again: bool,
    #[serde(skip_serializing_if = "Not::not")]
    answers: bool,
    #[serde(skip_serializing_if = "Not::not")]
    asks_time: bool,
    #[serde(skip_serializing_if = "Not::not")]
    unreported: bool,
    #[serde(skip_serializing_if = "Not::not")]
    deaf: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    drop: Option<u64>,
    #[serde(skip_serializing_if = "Not::not")]
    held: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    voice: Option<SampleIndex>,
    #[serde(skip_serializing_if = "Option::is_none")]
    voice_ended: Option<SampleIndex>,
    #[serde(skip_serializing_if = "<[usize]>::is_empty")]
    doubtful: &'a [usize],
    #[serde(skip_serializing_if = "Not::not")]
    confirms: bool,
    unsaid: Vec<u32>,
    outcome: &'a Outcome,
}

impl Session {
    /// SHA-256 over all that the session holds, its first 16 bytes in hex.
    pub fn digest(&self) -> String {
        // Taken apart whole, so that no new field is forgotten here.
        let Session {
            section,
            settings,
            stage,
            next_id,
            awaited,
            cueing,
            warned,
            paused_before,
            hinted,
            waited,
            last_said: _,
            topic: _,
            deaf,
            stopped: _,
            drop,
            held,
            voice,
            voice_ended,
            doubtful,
            unsaid,
            outcome,
        } = self;
        let state = State {
            section,
            mode: settings.mode,
            phase: *stage,
            next_id: *next_id,
            awaited: *awaited,
            cueing: *cueing,
            warned: *warned,
            paused_before: *paused_before,
            hinted,
            waited: *waited,
            silent: settings.silent(),
            listens_again: settings.listens_again,
            answers: settings.answers,
            asks_time: settings.asks_time,
            unreported: settings.unreported,
            deaf: *deaf,
            drop: *drop,
            doubtful,
            confirms: settings.confirms,
            held: *held,
            voice: *voice,
            voice_ended: *voice_ended,
            unsaid: unsaid.iter().map(|(id, _)| *id).collect(),
            outcome,
        };
        // Nothing in a session can fail to be written as JSON: it has no maps with other keys than text.
        let json = serde_json::to_vec(&state).unwrap_or_default();
        Sha256::digest(json).iter().take(16).map(|b| format!("{b:02x}")).collect()
    }
}
