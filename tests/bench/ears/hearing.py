"""Shared by the scripts here: running our ears over jobs, and telling right from wrong."""
import argparse
import collections
import glob
import json
import math
import os
import subprocess
from concurrent.futures import ThreadPoolExecutor


def arguments():
    """What every script here is told: where the recordings are, and what hears them."""
    ap = argparse.ArgumentParser()
    ap.add_argument("out")
    ap.add_argument("--bin", required=True)
    ap.add_argument("--model", required=True)
    ap.add_argument("--library", required=True)
    return ap


ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "..")
# The shipped sections, by name. An exam lies beside the trades' folders, and has no callouts of its own.
SECTION_FILES = {os.path.basename(f)[:-5]: f for f in glob.glob(os.path.join(ROOT, "prompts", "*", "*.toml"))}

# One for each core, but each holds the model.
PROCESSES = min(16, len(os.sched_getaffinity(0)))


def ours(program, model, library, jobs, vocabulary, processes=PROCESSES, seek=None, measure=False):
    """Run `ears hear` over the jobs, a section's with all its wordings; gives its answers, in order."""
    env = dict(os.environ, LD_LIBRARY_PATH=library)

    def go(part):
        lines = [json.dumps(dict(wav=j["wav"], phrases=sorted(vocabulary[j["grammar"]]), section=SECTION_FILES.get(j["grammar"]), measure=measure, seek=seek(j) if seek else [],
                                 profile=j.get("profile"))) for j in part]
        done = subprocess.run([program, "hear", model], input="\n".join(lines), capture_output=True, text=True, env=env)
        if done.returncode:
            raise SystemExit(f"ears: {done.stderr[-2000:]}")
        return [json.loads(line) for line in done.stdout.splitlines()]
    with ThreadPoolExecutor(processes) as pool:
        parts = list(pool.map(go, [jobs[k::processes] for k in range(processes)]))
    return [parts[k % processes][k // processes] for k in range(len(jobs))]


def same(vocabulary, grammar, a, b):
    """Whether two phrases stand for the same: a step is called by either of its callouts."""
    stands = vocabulary[grammar]
    return a == b or bool(set(stands.get(a, [])) & set(stands.get(b, [])))


def judged(job, found, vocabulary):
    """Which of the found phrases are right, as the index of what was said, or none; each thing said is found once."""
    used, out = set(), []
    for f in found:
        right = None
        for k, (phrase, start, end) in enumerate(job.get("truth", [])):
            if k not in used and f["start"] < end + 0.15 and f["end"] > start - 0.15 and same(vocabulary, job["grammar"], phrase, f["phrase"]):
                right = k
                used.add(k)
                break
        out.append(right)
    return out


def false_in_talk(job, found):
    """Phrases found more often than the text that was read holds them."""
    text = " " + job["text"] + " "
    count = collections.Counter(f["phrase"] for f in found)
    return sum(max(0, n - text.count(f" {p} ")) for p, n in count.items())


def wilson(right, of, z=1.959964):
    """Wilson's score interval (NIST/SEMATECH e-Handbook of Statistical Methods 7.2.4.1)."""
    if of == 0:
        return 0.0, 1.0
    p, n = right / of, of
    middle, half = p + z * z / (2 * n), z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
    return (middle - half) / (1 + z * z / n), (middle + half) / (1 + z * z / n)


def term_weighted(terms, seconds, beta=999.9):
    """Term-weighted value of the NIST 2006 Spoken Term Detection evaluation plan: 1 - mean over terms of
    P(miss) + beta * P(false alarm), with one trial a second. terms: (said, right, false) of each."""
    loss = [(1 - right / said) + beta * false / (seconds - said) for said, right, false in terms if said > 0]
    return 1 - sum(loss) / len(loss)
