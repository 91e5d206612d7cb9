#!/usr/bin/env python3
"""Alignment costs by the reference library pm4py 2.7.23 (an outside oracle, in its own environment, never shipped).

    alignments.py generate N > tests/data/alignments.jsonl   N seeded models and traces with pm4py's cost and fitness, and the cases of
                                                             the literature in front
    alignments.py wide N SECONDS > tests/data/wide.jsonl     N cases that are up to 24 steps wide, without those that take pm4py longer
    alignments.py each FILE                                  compute them again, and print the processor's seconds for each
    alignments.py verify FILE                                compute them again; print how many are equal, and the seconds it took

A case: {"name", "steps": [{"say": [..], "after": [..], "optional": bool}], "choices": [{"of": [..], "at_least": k}], "trace": [..],
"cost", "fitness"}. Loops are unrolled: step "b@1" is b's second turn. A step becomes a transition, an order pair a place; an optional
step gets a silent twin, and the members of a choice silent twins that share a place with as many tokens as may be passed over.
"""
import itertools
import json
import random
import signal
import sys
import time

from pm4py.algo.conformance.alignments.petri_net import algorithm as alignments
from pm4py.objects.log.obj import Event, Trace
from pm4py.objects.petri_net.obj import Marking, PetriNet
from pm4py.objects.petri_net.utils.petri_utils import add_arc_from_to


def net_of(case):
    net, start, end = PetriNet("case"), Marking(), Marking()

    def place(name):
        p = PetriNet.Place(name)
        net.places.add(p)
        return p

    def transition(name, label):
        t = PetriNet.Transition(name, label)
        net.transitions.add(t)
        return t

    steps = case["steps"]
    inputs, outputs = [[] for _ in steps], [[] for _ in steps]
    for b, step in enumerate(steps):
        if not step["after"]:
            p = place(f"start{b}")
            start[p] = 1
            inputs[b].append(p)
        for a in step["after"]:
            p = place(f"{a}before{b}")
            outputs[a].append(p)
            inputs[b].append(p)
        p = place(f"end{b}")
        end[p] = 1
        outputs[b].append(p)
    credit = {}
    for k, choice in enumerate(case["choices"]):
        spare = len(choice["of"]) - choice["at_least"]
        if spare:
            p = place(f"spare{k}")
            start[p] = spare
            add_arc_from_to(p, transition(f"drain{k}", None), net)
            credit.update({s: p for s in choice["of"]})
    for b, step in enumerate(steps):
        twins = [transition(f"{b}:{say}", say) for say in step["say"]]
        if step["optional"] or b in credit:
            silent = transition(f"skip{b}", None)
            if b in credit:
                add_arc_from_to(credit[b], silent, net)
            twins.append(silent)
        for t in twins:
            for p in inputs[b]:
                add_arc_from_to(p, t, net)
            for p in outputs[b]:
                add_arc_from_to(t, p, net)
    return net, start, end


def solve(case):
    net, start, end = net_of(case)
    trace = Trace([Event({"concept:name": say}) for say in case["trace"]])
    result = alignments.apply(trace, net, start, end)
    return result["cost"] // 10000, round(result["fitness"], 9)


def step(say, after=(), optional=False):
    return {"say": [say] if isinstance(say, str) else list(say), "after": list(after), "optional": optional}


def literature():
    """a -> (b || c) -> d, with the traces whose values are published or were computed with the same library."""
    model = [step("a"), step("b", [0]), step("c", [0]), step("d", [1, 2])]
    for trace in ("abcd", "acbd", "abd", "bacd", "abccd", "ad"):
        yield {"name": f"parallel {trace}", "steps": model, "choices": [], "trace": list(trace)}


def generated(seed):
    rng = random.Random(seed)
    alphabet = "abcdefghij"[: rng.randint(3, 10)]
    steps, choices = [], []

    def add(after, optional=False):
        say = rng.sample(alphabet, 2) if rng.random() < 0.15 else [rng.choice(alphabet)]
        steps.append(step(say, sorted(set(after)), optional))
        return len(steps) - 1

    last = []
    for _ in range(rng.randint(2, 4)):
        kind = rng.choice(["chain", "parallel", "choice", "loop", "free loop", "random"])
        begun = len(steps)
        if kind == "chain":
            for _ in range(rng.randint(1, 3)):
                last = [add(last, rng.random() < 0.2)]
        elif kind in ("parallel", "choice"):
            members = [add(last) for _ in range(rng.randint(2, 4))]
            if kind == "choice":
                choices.append({"of": members, "at_least": rng.randint(1, len(members))})
            last = members
        elif kind in ("loop", "free loop"):
            body = [[rng.choice(alphabet)] for _ in range(rng.randint(1, 2))]
            ends = []
            for _ in range(rng.randint(2, 3)):
                turn = list(last) if kind == "free loop" or not ends else [ends[-1]]
                for say in body:
                    steps.append(step(say, turn))
                    turn = [len(steps) - 1]
                ends.append(turn[0])
            last = ends if kind == "free loop" else ends[-1:]
        else:
            for k in range(rng.randint(2, 4)):
                add([b for b in range(begun, begun + k) if rng.random() < 0.4] or last, rng.random() < 0.15)
            last = list(range(begun, len(steps)))
    # A lawful run, then some noise: left out, put in, moved.
    done, trace = set(), []
    while len(done) < len(steps):
        ready = [s for s in range(len(steps)) if s not in done and set(steps[s]["after"]) <= done]
        s = rng.choice(ready)
        done.add(s)
        if not (steps[s]["optional"] and rng.random() < 0.5):
            trace.append(rng.choice(steps[s]["say"]))
    for _ in range(rng.choice([0, 1, 1, 2, 3, 4])):
        kind = rng.choice("dim")
        if kind == "i":
            trace.insert(rng.randint(0, len(trace)), rng.choice(alphabet))
        elif trace:
            moved = trace.pop(rng.randrange(len(trace)))
            if kind == "m":
                trace.insert(rng.randint(0, len(trace)), moved)
    return {"name": f"seed {seed}", "steps": steps, "choices": choices, "trace": trace}


def groups():
    """Two groups of 16 steps with cross ties and a choice, half the callouts made; 10 of 20, half of them made; 24 in any order,
    said backwards; eight chains side by side, with shared callouts and with callouts of their own."""
    rng = random.Random(16)
    steps = [step(f"a{k}") for k in range(16)]
    steps += [step(f"b{k}", sorted(rng.sample(range(16), 3))) for k in range(16)]
    said = [s["say"][0] for s in steps]
    kept = [say for say in said[:16] if rng.random() < 0.5] + [say for say in said[16:] if rng.random() < 0.5]
    for _ in range(4):
        kept.insert(rng.randrange(len(kept)), kept.pop(rng.randrange(len(kept))))
    choice = {"of": list(range(4, 12)), "at_least": 5}
    yield {"name": "two groups of 16", "steps": steps, "choices": [choice], "trace": kept}
    steps = [step("start")] + [step(f"c{k}", [0]) for k in range(20)] + [step("end", list(range(1, 21)))]
    trace = ["end", "start"] + [f"c{k}" for k in rng.sample(range(20), 9)]
    yield {"name": "10 of 20", "steps": steps, "choices": [{"of": list(range(1, 21)), "at_least": 10}], "trace": trace}
    steps = [step(f"d{k}") for k in range(24)] + [step(f"e{k}", [k, (k + 5) % 24]) for k in range(24)]
    trace = [f"e{k}" for k in range(23, -1, -2)] + [f"d{k}" for k in range(23, -1, -1)]
    yield {"name": "two groups of 24, backwards", "steps": steps, "choices": [], "trace": trace}
    steps = [step(f"w{k % 12}", [k - 8] if k >= 8 else []) for k in range(48)]
    yield {"name": "width 8", "steps": steps, "choices": [], "trace": [f"w{k * 7 % 12}" for k in range(48)]}
    steps = [step(f"c{k}", [k - 8] if k >= 8 else []) for k in range(40)]
    yield {"name": "width 8, shuffled", "steps": steps, "choices": [], "trace": [f"c{(k * 23 + 11) % 40}" for k in range(40)]}


def wide(seed):
    """Layers of up to 24 unordered steps with cross ties, choices, optional steps, and callouts that steps share; runs of which
    much is missing, moved or said twice."""
    rng = random.Random(f"wide {seed}")
    width, layers = rng.choice([8, 12, 16, 20, 24]), rng.randint(1, 3)
    sharing = rng.choice(["none", "none", "turns", "pairs"])
    steps, choices = [], []
    for layer in range(layers):
        last = list(range(len(steps) - width, len(steps))) if layer else []
        for k in range(width):
            after = rng.sample(last, rng.randint(1, 3)) if last else []
            say = f"{layer}-{k}"
            if sharing == "turns":
                say = f"{layer}-{k // 4}"
            elif sharing == "pairs" and rng.random() < 0.5:
                say = f"{layer}-{rng.randrange(width)}"
            steps.append(step(say, sorted(after), rng.random() < 0.1))
        if rng.random() < 0.6:
            members = rng.sample(range(layer * width, (layer + 1) * width), rng.randint(2, width))
            choices.append({"of": sorted(members), "at_least": rng.randint(1, len(members))})
            for member in members:
                steps[member]["optional"] = False
    done, trace = [], []
    while len(done) < len(steps):
        ready = [s for s in range(len(steps)) if s not in done and set(steps[s]["after"]) <= set(done)]
        done.append(rng.choice(ready))
        trace.append(rng.choice(steps[done[-1]]["say"]))
    kind = rng.choice(["half", "half", "moved", "doubled", "shuffled"])
    if kind == "half":
        trace = [say for say in trace if rng.random() < 0.5]
    elif kind == "shuffled":
        rng.shuffle(trace)
    for _ in range(len(trace) // 3 if kind in ("moved", "doubled") else rng.randint(0, 3)):
        at = rng.randrange(len(trace))
        said = trace[at] if kind == "doubled" else trace.pop(at)
        trace.insert(rng.randint(0, len(trace)), said)
    return {"name": f"wide {seed}", "steps": steps, "choices": choices, "trace": trace}


def main():
    if sys.argv[1] == "generate":
        cases = list(literature()) + [generated(seed) for seed in range(int(sys.argv[2]))]
        for case in cases:
            case["cost"], case["fitness"] = solve(case)
            print(json.dumps(case, separators=(",", ":")))
        return
    if sys.argv[1] == "wide":
        for case in itertools.chain(groups(), map(wide, range(int(sys.argv[2])))):
            began = time.perf_counter()
            signal.alarm(int(sys.argv[3]))
            try:
                case["cost"], case["fitness"] = solve(case)
            except TimeoutError:
                print(case["name"], "took too long", file=sys.stderr)
                continue
            finally:
                signal.alarm(0)
            print(json.dumps(case, separators=(",", ":")), flush=True)
            print(case["name"], round(time.perf_counter() - began, 3), file=sys.stderr)
        return
    with open(sys.argv[2], encoding="utf8") as f:
        cases = [json.loads(line) for line in f]
    if sys.argv[1] == "each":
        for case in cases:
            began = time.process_time()
            equal = solve(case) == (case["cost"], case["fitness"])
            print("each", case["name"], time.process_time() - began, "equal" if equal else "other", sep="|")
        return
    began, equal = time.perf_counter(), 0
    for case in cases:
        equal += solve(case) == (case["cost"], case["fitness"])
    print(json.dumps({"cases": len(cases), "equal": equal, "seconds": time.perf_counter() - began}))


def late(*_):
    raise TimeoutError


signal.signal(signal.SIGALRM, late)
main()
