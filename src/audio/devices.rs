//! Which microphone and which loudspeaker: what the system has, and which one a name means. It opens nothing.

use super::DeviceError;
use cpal::traits::HostTrait;
use cpal::{Device, Host};

/// The name that means what the system takes itself.
const DEFAULT: &str = "default";

/// A device that the system has.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Listed {
    /// What it is called.
    pub name: String,
    /// Whether it takes sound in, and whether it is what the system takes where none is named.
    pub microphone: Option<bool>,
    /// The same for one that gives sound out.
    pub loudspeaker: Option<bool>,
}

/// Microphone or loudspeaker.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Side {
    Microphone,
    Loudspeaker,
}

impl Side {
    pub(super) fn name(self) -> &'static str {
        match self {
            Side::Microphone => "microphone",
            Side::Loudspeaker => "loudspeaker",
        }
    }

    fn usual(self, host: &Host) -> Option<Device> {
        match self {
            Side::Microphone => host.default_input_device(),
            Side::Loudspeaker => host.default_output_device(),
        }
    }

    fn all(self, host: &Host) -> Vec<(String, Device)> {
        let devices: Vec<Device> = match self {
            Side::Microphone => host.input_devices().into_iter().flatten().collect(),
            Side::Loudspeaker => host.output_devices().into_iter().flatten().collect(),
        };
        devices.into_iter().map(|device| (device.to_string(), device)).collect()
    }
}

/// Every device there is, each name once, in the system's order.
pub fn devices() -> Vec<Listed> {
    crate::platform::quiet();
    let host = cpal::default_host();
    let mut found: Vec<Listed> = vec![];
    for side in [Side::Microphone, Side::Loudspeaker] {
        let usual = side.usual(&host).map(|device| device.to_string());
        for (name, _) in side.all(&host) {
            let is_usual = Some(usual.as_ref() == Some(&name));
            let place = found.iter().position(|d| d.name == name).unwrap_or_else(|| {
                found.push(Listed { name, microphone: None, loudspeaker: None });
                found.len() - 1
            });
            match side {
                Side::Microphone => found[place].microphone = is_usual,
                Side::Loudspeaker => found[place].loudspeaker = is_usual,
            }
        }
    }
    found
}

/// The device of a side that is meant by the first name that fits one there; the system's where none does. A name that fits nothing on
/// either side is an error: another device than the one that was asked for would be worse than none.
pub(super) fn meant(names: &[String], side: Side) -> Result<Device, DeviceError> {
    crate::platform::quiet();
    let host = cpal::default_host();
    let usual = || side.usual(&host).ok_or(DeviceError::Absent(side.name()));
    if names.iter().all(|name| name == DEFAULT) {
        return usual();
    }
    let here = side.all(&host);
    let other = if side == Side::Microphone { Side::Loudspeaker } else { Side::Microphone }.all(&host);
    let called = |devices: &[(String, Device)]| devices.iter().map(|(name, _)| name.clone()).collect::<Vec<_>>();
    let mut taken = None;
    for name in names.iter().filter(|name| *name != DEFAULT) {
        match fitting(name, &called(&here))[..] {
            [place] => taken = taken.or(Some(place)),
            [] if !fitting(name, &called(&other)).is_empty() => {}
            [] => return Err(DeviceError::Unknown(name.clone())),
            ref several => {
                let fit = several.iter().map(|k| here[*k].0.clone()).collect::<Vec<_>>().join("; ");
                return Err(DeviceError::Unclear { name: name.clone(), what: side.name(), fit });
            }
        }
    }
    match taken.and_then(|place| here.into_iter().nth(place)) {
        Some((_, device)) => Ok(device),
        None => usual(),
    }
}

/// Which names a name means: the one that it is, or else those that begin with it, or else those that hold it, in any case of letters.
fn fitting(name: &str, names: &[String]) -> Vec<usize> {
    let name = name.to_lowercase();
    let those = |fits: &dyn Fn(&str) -> bool| -> Vec<usize> {
        names.iter().enumerate().filter(|(_, n)| fits(&n.to_lowercase())).map(|(k, _)| k).collect()
    };
    // Of devices of one name the system's first is taken.
    if let Some(first) = those(&|n| n == name).first() {
        return vec![*first];
    }
    let begin = those(&|n| n.starts_with(&name));
    if begin.is_empty() { those(&|n| n.contains(&name)) } else { begin }
}

#[cfg(test)]
mod tests {
    use super::fitting;

    #[test]
    fn a_part_of_a_name_means_one_device_or_is_unclear() {
        let names = ["Monitor of Headset", "Headset", "Headset 2", "Built-in", "Built-in"].map(String::from);
        for (name, places) in [
            ("headset", &[1][..]),
            ("head", &[1, 2]),
            ("monitor", &[0]),
            ("of head", &[0]),
            ("built-in", &[3]),
            ("built", &[3, 4]),
            ("webcam", &[]),
        ] {
            assert_eq!(fitting(name, &names), places, "{name}");
        }
    }
}
