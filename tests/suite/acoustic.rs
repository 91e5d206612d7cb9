//! The acoustic module against what was made by others: features by kaldi-native-fbank, the network by numpy, the graph by the recipe.

use std::path::Path;
use std::process::Command;
use stepbell::acoustic::features::Mfcc;
use stepbell::acoustic::graph::graph;
use stepbell::acoustic::judge::Judge;
use stepbell::acoustic::letters::Letters;
use stepbell::acoustic::network::Network;
use stepbell::acoustic::phones::Phones;

fn model() -> &'static Path {
    Path::new("models/fetched/english")
}

/// Run Python with numpy and the recipe at hand; its standard output, as numbers.
fn python(script: &str, arguments: &[&str]) -> Vec<f32> {
    let out = Command::new("models/fetched/python/bin/python")
        .args(["-c", &format!("import sys; sys.path.insert(0, 'models/recipe')\n{script}")])
        .args(arguments)
        .output()
        .expect("models/setup.sh made a Python with numpy");
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8_lossy(&out.stdout).split_whitespace().map(|n| n.parse().unwrap()).collect()
}

fn demo(seconds: std::ops::Range<usize>) -> Vec<f32> {
    let mut wav = hound::WavReader::open("tests/audio/demo.wav").unwrap();
    assert_eq!(wav.spec().sample_rate, 16_000);
    let sound: Vec<f32> = wav.samples::<i16>().map(|s| f32::from(s.unwrap()) / 32_768.0).collect();
    sound[seconds.start * 16_000..seconds.end * 16_000].to_vec()
}

/// The first frames of the demo recording from second 40, as kaldi-native-fbank 1.22.3 (PyPI) gives them with the settings of
/// Kaldi that `features.rs` names; written down by `tests/reference/features.py`.
#[test]
fn features_are_kaldis() {
    let reference = std::fs::read_to_string("tests/data/acoustic/features.txt").unwrap();
    let reference: Vec<f32> = reference.split_whitespace().map(|n| n.parse().unwrap()).collect();
    let ours = Mfcc::default().of(&demo(40..42));
    assert!(reference.len() >= 40 * 40 && ours.len() >= reference.len());
    for (k, (ours, theirs)) in ours.iter().zip(&reference).enumerate() {
        assert!((ours - theirs).abs() < 0.02, "frame {} cepstrum {}: {ours} for {theirs}", k / 40, k % 40);
    }
}

/// The recipe's own forward pass, in numpy and double precision, on the features of a second of the demo.
#[test]
fn the_network_computes_what_the_recipe_computes() {
    let features = Mfcc::default().of(&demo(41..42));
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("features");
    let text: Vec<String> = features.iter().map(f32::to_string).collect();
    std::fs::write(&path, text.join(" ")).unwrap();
    let theirs = python(
        "import numpy as np, make_vosk_model as m\n\
         spec, P = m.load_net('models/english/net.npz')\n\
         x = np.array(open(sys.argv[1]).read().split(), float).reshape(-1, 40)\n\
         print(*m.forward(m.lower(spec, P), x).ravel())",
        &[path.to_str().unwrap()],
    );
    let network = Network::read(&std::fs::read(model().join("am/final.mdl")).unwrap()).unwrap();
    let ours = network.scores(&features);
    assert_eq!(ours.len(), theirs.len());
    let worst = ours.iter().zip(&theirs).map(|(a, b)| (a - b).abs()).fold(0.0, f32::max);
    assert!(worst < 0.02, "{worst}");
}

#[test]
fn the_graph_is_the_recipes_to_the_byte() {
    let mut phones = Phones::read(model()).unwrap();
    phones.teach("gua", phones.spelt("g w aa").unwrap());
    let words = ["gua", "steam", "towel", "towels", "a", "the", "mask", "massage", "two", "too", "tapotement", "read"];
    let entries = words.iter().map(|w| (w.to_string(), phones.of(w).to_vec())).collect();
    let ours = graph(&entries, &phones, phones.filler);
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).display().to_string();
    let names = |p: &Vec<usize>| p.iter().map(|p| phones.names[*p].as_str()).collect::<Vec<_>>().join(" ");
    let lines = entries.iter().flat_map(|(w, ways)| ways.iter().map(move |p| (w, p)));
    let lexicon: String = lines.map(|(w, p)| format!("{w} {}\n", names(p))).collect();
    std::fs::write(at("lexicon"), lexicon).unwrap();
    python(
        "import make_vosk_model as m\n\
         lines = [l.split() for l in open('models/fetched/english/graph/filler.txt')]\n\
         m.phone_bigram = lambda *_: {(p, q): float(c) for p, q, c in (l for l in lines if len(l) == 3)}\n\
         costs = next(tuple(map(float, l[1:])) for l in lines if l[0] == '#')\n\
         ps = m.PhoneSet(); lex = m.read_lexicon(sys.argv[1] + '/lexicon', ps)\n\
         words = sorted({w for w, _ in lex}); wid = {w: k for k, w in enumerate(words, 1)}\n\
         rel = m.write_lookahead_py(m.build_hcl(lex, ps, wid, 0.5, costs), sys.argv[1] + '/HCLr.fst')\n\
         nid = {w: rel[k] for w, k in wid.items()}\n\
         open(sys.argv[1] + '/words.txt', 'w').write('<eps> 0\\n' + ''.join('%s %d\\n' % (w, nid[w]) for w in sorted(nid, key=nid.get)))\n\
         import numpy as np\n\
         ns, start, arcs, final = m.g_from_unigrams({w: 1.0 for w in words if w != '[unk]'}, nid)\n\
         a = np.array(arcs, dtype=[('s', 'i4'), ('l', 'i4'), ('w', 'f4'), ('d', 'i4')])\n\
         by, _, _ = m.const_fst_bytes(ns, start, a['s'], a['l'], a['l'], a['w'], a['d'], np.array(final, 'f4'), 'i')\n\
         open(sys.argv[1] + '/Gr.fst', 'wb').write(by)",
        &[folder.path().to_str().unwrap()],
    );
    assert_eq!(ours.words, std::fs::read_to_string(at("words.txt")).unwrap());
    assert!(ours.hclr == std::fs::read(at("HCLr.fst")).unwrap(), "HCLr.fst differs");
    assert!(ours.gr == std::fs::read(at("Gr.fst")).unwrap(), "Gr.fst differs");
}

/// Every fiftieth word of CMUdict, not learned from: the phones told from the letters against those of the dictionary.
#[test]
fn a_word_unknown_is_said_nearly_right() {
    let phones = Phones::read(model()).unwrap();
    let held: std::collections::BTreeSet<String> = phones.words().map(|(w, _)| w.clone()).step_by(50).collect();
    let letters = Letters::learn(&phones, |w| !held.contains(w));
    let (mut wrong, mut of) = (0, 0);
    for word in &held {
        let said = letters.say(word);
        let distance = |way: &Vec<usize>| strsim::generic_levenshtein(way, &said);
        let (least, length) = phones.of(word).iter().map(|w| (distance(w), w.len())).min().unwrap();
        wrong += least;
        of += length;
    }
    let rate = wrong as f64 / of as f64;
    println!("phones wrong in {} unseen words of CMUdict: {rate:.3}", held.len());
    assert!(rate < 0.15, "{rate}");
}

#[test]
fn a_foreign_or_broken_network_gives_no_evidence_and_no_panic() {
    let good = std::fs::read(model().join("am/final.mdl")).unwrap();
    assert!(Network::read(b"").is_err() && Network::read(b"\0B<TransitionModel> ").is_err());
    for cut in [100, 5_000, 50_000, good.len() / 2, good.len() - 40] {
        let _ = Network::read(&good[..cut]);
    }
    let mut other = good.clone();
    let at = other.windows(8).position(|w| w == b"Append(O").unwrap();
    other[at + 3] = b'X';
    assert!(Network::read(&other).is_err());
    assert!(Judge::read(Path::new("tests")).is_none());
}
