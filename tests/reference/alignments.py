#!/usr/bin/env python3
"""Alignment costs by the reference library pm4py 2.7.23 (an outside oracle, in its own environment, never shipped).

    alignments.py generate N > tests/data/alignments.jsonl   N seeded models and traces with pm4py's cost and fitness, and the cases of
                                                             the literature in front
    alignments.py verify FILE                                compute them again; print how many are equal, and the seconds it took

A case: {"name", "steps": [{"say": [..], "after": [..], "optional": bool}], "choices": [{"of": [..], "at_least": k}], "trace": [..],
"cost", "fitness"}. Loops are unrolled: step "b@1" is b's second turn. A step becomes a transition, an order pair a place; an optional
step gets a silent twin, and the members of a choice silent twins that share a place with as many tokens as may be passed over.
"""
import json
import random
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


def main():
    if sys.argv[1] == "generate":
        cases = list(literature()) + [generated(seed) for seed in range(int(sys.argv[2]))]
        for case in cases:
            case["cost"], case["fitness"] = solve(case)
            print(json.dumps(case, separators=(",", ":")))
        return
    with open(sys.argv[2], encoding="utf8") as f:
        cases = [json.loads(line) for line in f]
    began, equal = time.perf_counter(), 0
    for case in cases:
        equal += solve(case) == (case["cost"], case["fitness"])
    print(json.dumps({"cases": len(cases), "equal": equal, "seconds": time.perf_counter() - began}))


main()
