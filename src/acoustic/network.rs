//! The acoustic network, read out of a model folder's final.mdl and computed here, so that a callout that libvosk found can be
//! weighed against what else the sound may have been. Kaldi's binary format as our own writer uses it (DEVELOPERS.md); a
//! network of another make is refused, and then there is simply no evidence.

use super::features::CEPSTRA;
use ndarray::{ArrayView1, ArrayView2};
use std::collections::{BTreeMap, BTreeSet};

/// Frames of cepstra for one frame of scores.
pub const STEP: usize = 3;

/// Why a network can't be used for evidence.
#[derive(Debug, thiserror::Error, PartialEq, Eq)]
#[error("the network in final.mdl has a part that is not known here: {0}")]
pub struct Unknown(String);

enum Part {
    Affine { weights: Vec<f32>, bias: Vec<f32>, inputs: usize },
    Scale(Vec<f32>),
    Bias(Vec<f32>),
    Rectify,
    Normalise,
    Same,
}

/// What a node looks at.
enum Input {
    /// Rows of one node at these offsets, side by side.
    Append(usize, Vec<i32>),
    /// `scale` times one node, plus another.
    Sum(f32, usize, usize),
}

/// A feed-forward network; node 0 is the features.
pub struct Network {
    nodes: Vec<(Part, Input)>,
    width: Vec<usize>,
}

struct Reader<'a> {
    rest: &'a [u8],
}

impl<'a> Reader<'a> {
    fn take(&mut self, n: usize) -> Result<&'a [u8], Unknown> {
        let (head, tail) = self.rest.split_at_checked(n).ok_or_else(|| Unknown("it ends too early".into()))?;
        self.rest = tail;
        Ok(head)
    }

    fn token(&mut self) -> Result<String, Unknown> {
        let at = self.rest.iter().position(|b| !b.is_ascii_whitespace()).unwrap_or(0);
        self.take(at)?;
        let n = self.rest.iter().take(100).position(|b| *b == b' ').ok_or_else(|| Unknown("no token".into()))?;
        let word = String::from_utf8_lossy(self.take(n)?).into_owned();
        self.take(1)?;
        Ok(word)
    }

    fn expect(&mut self, token: &str) -> Result<(), Unknown> {
        let found = self.token()?;
        if found == token { Ok(()) } else { Err(Unknown(format!("{found} in the place of {token}"))) }
    }

    fn int(&mut self) -> Result<usize, Unknown> {
        let bytes = self.take(5)?;
        let value = i32::from_le_bytes([bytes[1], bytes[2], bytes[3], bytes[4]]);
        usize::try_from(value).map_err(|_| Unknown("a size below nothing".into()))
    }

    fn floats(&mut self, n: usize) -> Result<Vec<f32>, Unknown> {
        let bytes = self.take(n.checked_mul(4).ok_or_else(|| Unknown("a size too large".into()))?)?;
        Ok(bytes.chunks_exact(4).map(|b| f32::from_le_bytes([b[0], b[1], b[2], b[3]])).collect())
    }

    fn vector(&mut self) -> Result<Vec<f32>, Unknown> {
        self.expect("FV")?;
        let n = self.int()?;
        self.floats(n)
    }

    fn matrix(&mut self) -> Result<(Vec<f32>, usize, usize), Unknown> {
        self.expect("FM")?;
        let (rows, columns) = (self.int()?, self.int()?);
        Ok((self.floats(rows.saturating_mul(columns))?, rows, columns))
    }

    /// Pass over everything up to and with this text.
    fn past(&mut self, text: &str) -> Result<&'a [u8], Unknown> {
        let at = self.rest.windows(text.len()).position(|w| w == text.as_bytes());
        let at = at.ok_or_else(|| Unknown(format!("no {text}")))?;
        let before = self.take(at)?;
        self.take(text.len())?;
        Ok(before)
    }
}

impl Network {
    /// Read the bytes of a final.mdl.
    pub fn read(mdl: &[u8]) -> Result<Network, Unknown> {
        let mut reader = Reader { rest: mdl };
        reader.past("<Nnet3> \n")?;
        let lines = String::from_utf8_lossy(reader.past("\n\n")?).into_owned();
        reader.expect("<NumComponents>")?;
        let count = reader.int()?;
        if count > 1_000 {
            return Err(Unknown(format!("{count} parts")));
        }
        let mut parts = BTreeMap::new();
        for _ in 0..count {
            reader.expect("<ComponentName>")?;
            let name = reader.token()?;
            let kind = reader.token()?;
            let part = match kind.as_str() {
                "<FixedAffineComponent>" => {
                    reader.expect("<LinearParams>")?;
                    let (weights, rows, columns) = reader.matrix()?;
                    reader.expect("<BiasParams>")?;
                    let bias = reader.vector()?;
                    if bias.len() != rows {
                        return Err(Unknown("a bias of another length".into()));
                    }
                    Part::Affine { weights, bias, inputs: columns }
                }
                "<FixedScaleComponent>" => {
                    reader.expect("<Scales>")?;
                    Part::Scale(reader.vector()?)
                }
                "<FixedBiasComponent>" => {
                    reader.expect("<Bias>")?;
                    Part::Bias(reader.vector()?)
                }
                "<RectifiedLinearComponent>" => Part::Rectify,
                "<LogSoftmaxComponent>" => Part::Normalise,
                "<NoOpComponent>" => Part::Same,
                _ => return Err(Unknown(kind)),
            };
            reader.past(&kind.replace('<', "</"))?;
            parts.insert(name, part);
        }
        Network::wired(&lines, parts)
    }

    fn wired(lines: &str, mut parts: BTreeMap<String, Part>) -> Result<Network, Unknown> {
        let mut place: BTreeMap<String, usize> = BTreeMap::from([("input".to_string(), 0)]);
        let mut network = Network { nodes: vec![], width: vec![CEPSTRA] };
        let mut output = None;
        for line in lines.lines() {
            let unknown = || Unknown(line.to_string());
            let field = |name: &str| line.split_once(&format!("{name}=")).map(|(_, rest)| rest);
            let word = |text: &str| text.split(' ').next().unwrap_or_default().to_string();
            if line.starts_with("input-node") {
                if field("dim").map(word) != Some(CEPSTRA.to_string()) {
                    return Err(unknown());
                }
            } else if line.starts_with("output-node") {
                output = field("input").map(word);
            } else {
                let name = field("name").map(word).ok_or_else(unknown)?;
                let part = parts.remove(&name).ok_or_else(unknown)?;
                let input = input(field("input").ok_or_else(unknown)?, &place).ok_or_else(unknown)?;
                let given = match &input {
                    Input::Append(node, offsets) => network.width[*node] * offsets.len(),
                    Input::Sum(_, a, b) if network.width[*a] == network.width[*b] => network.width[*a],
                    Input::Sum(..) => return Err(unknown()),
                };
                let (wanted, width) = match &part {
                    Part::Affine { bias, inputs, .. } => (*inputs, bias.len()),
                    Part::Scale(v) | Part::Bias(v) => (v.len(), v.len()),
                    Part::Rectify | Part::Normalise | Part::Same => (given, given),
                };
                if given != wanted {
                    return Err(unknown());
                }
                network.nodes.push((part, input));
                network.width.push(width);
                place.insert(name, network.nodes.len());
            }
        }
        match output.and_then(|o| place.get(&o).copied()) {
            Some(last) if last == network.nodes.len() && last > 0 => Ok(network),
            _ => Err(Unknown("no output".into())),
        }
    }

    /// How many scores a frame has.
    pub fn outputs(&self) -> usize {
        self.width[self.nodes.len()]
    }

    /// The scores of every third frame of `features` (frames of 40, one after the other), as natural logs of scaled likelihoods:
    /// `ceil(frames / 3)` rows of [`Network::outputs`]. Beyond both ends the first and last frame go on, as in libvosk.
    pub fn scores(&self, features: &[f32]) -> Vec<f32> {
        self.some(features, 0..(features.len() / CEPSTRA).div_ceil(STEP))
    }

    /// How many frames of features before and after the one of a score it looks at.
    pub fn reach(&self) -> (usize, usize) {
        let rows = self.needed(BTreeSet::from([0])).swap_remove(0);
        let far = |row: Option<&i32>| row.map_or(0, |r| r.unsigned_abs() as usize);
        (far(rows.first()), far(rows.last()))
    }

    /// Which rows of each node are needed for some of the last, from the features up.
    fn needed(&self, rows: BTreeSet<i32>) -> Vec<BTreeSet<i32>> {
        let last = self.nodes.len();
        let mut needed: Vec<BTreeSet<i32>> = vec![BTreeSet::new(); last + 1];
        needed[last] = rows;
        for node in (1..=last).rev() {
            let rows: Vec<i32> = needed[node].iter().copied().collect();
            match &self.nodes[node - 1].1 {
                Input::Append(from, offsets) => {
                    needed[*from].extend(rows.iter().flat_map(|r| offsets.iter().map(move |o| r + o)))
                }
                Input::Sum(_, a, b) => {
                    needed[*a].extend(&rows);
                    needed[*b].extend(&rows);
                }
            }
        }
        needed
    }

    /// Some of the rows that [`Network::scores`] gives.
    pub fn some(&self, features: &[f32], rows: std::ops::Range<usize>) -> Vec<f32> {
        let frames = features.len() / CEPSTRA;
        let wanted: BTreeSet<i32> = rows.map(|r| (r * STEP) as i32).filter(|r| *r < frames as i32).collect();
        if wanted.is_empty() {
            return vec![];
        }
        let last = self.nodes.len();
        let rows: Vec<Vec<i32>> = self.needed(wanted).into_iter().map(|r| r.into_iter().collect()).collect();
        let mut values: Vec<Vec<f32>> = vec![];
        let edge = |r: &i32| (*r).clamp(0, frames as i32 - 1) as usize * CEPSTRA;
        values.push(rows[0].iter().flat_map(|r| features[edge(r)..edge(r) + CEPSTRA].iter().copied()).collect());
        for node in 1..=last {
            let (part, input) = &self.nodes[node - 1];
            let row_of = |from: usize, row: i32| {
                let at = rows[from].partition_point(|r| *r < row) * self.width[from];
                &values[from][at..at + self.width[from]]
            };
            let given: Vec<f32> = match input {
                Input::Append(from, offsets) => {
                    let mut given = Vec::with_capacity(rows[node].len() * offsets.len() * self.width[*from]);
                    for row in &rows[node] {
                        offsets.iter().for_each(|o| given.extend_from_slice(row_of(*from, row + o)));
                    }
                    given
                }
                Input::Sum(scale, a, b) => {
                    let mut given = Vec::with_capacity(rows[node].len() * self.width[*a]);
                    for row in &rows[node] {
                        given.extend(row_of(*a, *row).iter().zip(row_of(*b, *row)).map(|(x, y)| scale * x + y));
                    }
                    given
                }
            };
            values.push(part.apply(given, rows[node].len()));
        }
        values.pop().unwrap_or_default()
    }
}

/// `a`, `Append(a, Offset(a, 1))`, `Sum(Scale(0.66, a), b)`.
fn input(text: &str, place: &BTreeMap<String, usize>) -> Option<Input> {
    let inside = |text: &str, call: &str| Some(text.strip_prefix(call)?.strip_suffix(')')?.to_string());
    let at = |name: &str| place.get(name.trim()).copied();
    if let Some(sum) = inside(text, "Sum(") {
        let (scaled, plain) = sum.rsplit_once(',')?;
        let (scale, a) =
            inside(scaled.trim(), "Scale(")?.split_once(',').map(|(s, a)| (s.to_string(), a.to_string()))?;
        return Some(Input::Sum(scale.trim().parse().ok()?, at(&a)?, at(plain)?));
    }
    let list = inside(text, "Append(").unwrap_or_else(|| text.to_string());
    // The commas inside Offset(..) are made into colons, so that those between the terms are left.
    let (mut depth, mut flat) = (0, String::new());
    for c in list.chars() {
        depth += i32::from(c == '(') - i32::from(c == ')');
        flat.push(if c == ',' && depth > 0 { ':' } else { c });
    }
    let (mut from, mut offsets) = (None, vec![]);
    for term in flat.split(',').map(str::trim) {
        let (name, offset) = match inside(term, "Offset(") {
            Some(shifted) => {
                let (name, offset) = shifted.split_once(':')?;
                (name.to_string(), offset.trim().parse().ok()?)
            }
            None => (term.to_string(), 0),
        };
        let node = at(&name)?;
        if from.replace(node).is_some_and(|f| f != node) {
            return None;
        }
        offsets.push(offset);
    }
    Some(Input::Append(from?, offsets))
}

impl Part {
    fn apply(&self, mut given: Vec<f32>, rows: usize) -> Vec<f32> {
        match self {
            Part::Affine { weights, bias, inputs } => {
                let bias = ArrayView1::from(bias);
                let matrix = ArrayView2::from_shape((bias.len(), *inputs), weights);
                match (ArrayView2::from_shape((rows, *inputs), &given), matrix) {
                    (Ok(given), Ok(weights)) => (given.dot(&weights.t()) + bias).into_raw_vec_and_offset().0,
                    _ => vec![0.0; rows * bias.len()],
                }
            }
            Part::Scale(scales) => {
                given.iter_mut().zip(scales.iter().cycle()).for_each(|(x, s)| *x *= s);
                given
            }
            Part::Bias(biases) => {
                given.iter_mut().zip(biases.iter().cycle()).for_each(|(x, b)| *x += b);
                given
            }
            Part::Rectify => {
                given.iter_mut().for_each(|x| *x = x.max(0.0));
                given
            }
            Part::Normalise => {
                let width = given.len() / rows.max(1);
                for row in given.chunks_mut(width.max(1)) {
                    let most = row.iter().copied().fold(f32::NEG_INFINITY, f32::max);
                    let total = most + row.iter().map(|x| (x - most).exp()).sum::<f32>().ln();
                    row.iter_mut().for_each(|x| *x -= total);
                }
                given
            }
            Part::Same => given,
        }
    }
}
