#!/usr/bin/env python3
"""Checks seepwise's posteriors with a general Bayesian-network library.

    SEEPWISE_EXPORT_DIR=DIR cargo test --test it export::writes_sets_for_the_library_check
    pip install pyagrum==3.3.1
    python3 tests/reference/check_bif.py DIR

DIR holds one network per layout (LAYOUT.bif) and sets.json: evidence sets, each with the posteriors
that seepwise gives. The library reads the nodes that the sets need with its own reader and works the posteriors out
by lazy propagation. Its reader keeps only single precision, so the numbers are then set again from
the text. Each set has TIME seconds of one processor, so that a busy machine doesn't change the
outcome. Some sets are beyond the library (out of time or memory): at least ENOUGH must be compared.

Exit code: 0 all agree; 1 a figure differs by more than TOLERANCE, or too few sets were compared;
2 bad usage or unreadable input.
"""

import json
import multiprocessing
import pathlib
import re
import resource
import sys
import time
import traceback

TOLERANCE = 1e-6
TIME = 60
MEMORY = 8 << 30
ENOUGH = 50


def set_precisely(net, text):
    """Sets every table from the text in double precision; both must agree to single precision."""
    node, parents = "", []
    for line in text.splitlines():
        line = line.strip()
        if line.startswith("probability ("):
            node, _, parents = line[len("probability ( ") : -len(" ) {")].partition(" | ")
            parents = [name.strip() for name in parents.split(",") if name.strip()]
        elif line.startswith(("table ", "(")):
            given, numbers = ("", line[len("table ") :])
            if line.startswith("("):
                given, _, numbers = line[1:].partition(") ")
            states = [state.strip() for state in given.split(",") if state.strip()]
            row = [float(number) for number in numbers.rstrip(";").split(",")]
            where = dict(zip(parents, states, strict=True))
            table = net.cpt(node)
            if difference(row, list(table[where])) > TOLERANCE:
                raise ValueError(f"{node} {where}: the library read {table[where]}, the file says {row}")
            table[where] = row


def trimmed(text, names):
    """The text without the nodes that stand neither among the names nor above them: they sum to
    one, and the library's reader takes long over them."""
    blocks = {}
    for kind, pattern in (
        ("variable", r"^variable (\S+) \{\n.*?^\}\n"),
        ("probability", r"^probability \( (\S+?)(?: \| (.*?))? \) \{\n.*?^\}\n"),
    ):
        for block in re.finditer(pattern, text, re.DOTALL | re.MULTILINE):
            blocks[kind, block[1]] = block
    keep, waiting = set(), list(names)
    while waiting:
        node = waiting.pop()
        if node not in keep:
            keep.add(node)
            parents = blocks["probability", node][2] or ""
            waiting.extend(name.strip() for name in parents.split(",") if name.strip())
    head = text[: text.index("variable ")]
    return head + "".join(block[0] for (_, node), block in blocks.items() if node in keep)


def needed(net, names):
    """The named nodes and everything above them: the rest sums to one."""
    found, waiting = set(), [net.idFromName(name) for name in names]
    while waiting:
        node = waiting.pop()
        if node not in found:
            found.add(node)
            waiting.extend(net.parents(node))
    return found


def part_of(net, nodes):
    """The sub-network of these nodes, which hold their own parents."""
    import pyagrum

    part = pyagrum.BayesNet()
    for node in net.topologicalOrder():
        if node in nodes:
            part.add(net.variable(node), node)
    for node in net.topologicalOrder():
        if node not in nodes:
            continue
        table = net.cpt(node)
        # The library keeps a table's axes in the order in which the arcs were added.
        for name in table.names[1:]:
            part.addArc(net.idFromName(name), node)
        part.cpt(node).fillWith(table)
    return part


def posteriors(net, findings, wanted):
    """P(node | findings) for each wanted node, by the library."""
    import pyagrum

    part = part_of(net, needed(net, list(findings) + list(wanted)))
    engine = pyagrum.LazyPropagation(part)
    engine.setEvidence(findings)
    engine.setTargets(set(wanted))
    engine.makeInference()
    return {name: engine.posterior(name).tolist() for name in wanted}


def work(net, findings, wanted, pipe):
    """Runs in a process of its own, which can be stopped."""
    import pyagrum

    resource.setrlimit(resource.RLIMIT_CPU, (TIME, TIME))
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    pyagrum.setNumberOfThreads(1)
    try:
        pipe.send(("done", posteriors(net, findings, wanted)))
    except MemoryError:
        pipe.send(("out of memory", None))
    except BaseException as problem:  # the parent process reports it
        # The library reports its own lack of memory as a plain exception.
        short = "bad_alloc" in str(problem)
        pipe.send(("out of memory", None) if short else ("failed", traceback.format_exc()))
    finally:
        pipe.close()


def in_time(net, findings, wanted):
    """What `work` gives within the time limit."""
    context = multiprocessing.get_context("fork")
    ours, theirs = context.Pipe(duplex=False)
    process = context.Process(target=work, args=(net, findings, wanted, theirs))
    process.start()
    theirs.close()
    try:
        result = ours.recv() if ours.poll(10 * TIME) else ("out of time", None)
    except EOFError:  # stopped by a limit
        result = ("out of time or memory", None)
    if process.is_alive():
        process.kill()
    process.join()
    return result


def difference(expected, given):
    """The largest difference between two lists; infinite if they don't match or hold no numbers."""
    if len(expected) != len(given):
        return float("inf")
    worst = max(abs(a - b) for a, b in zip(expected, given))
    return worst if worst == worst else float("inf")


def main(folder):
    import pyagrum

    sets = json.loads((folder / "sets.json").read_text(encoding="utf-8"))["sets"]
    nets, missed, wrong, figures, worst = {}, 0, 0, 0, 0.0
    names = {}
    for one in sets:
        names.setdefault(one["layout"], set()).update(one["findings"], one["posteriors"])
    for number, one in enumerate(sets, 1):
        layout, findings, expected = one["layout"], one["findings"], one["posteriors"]
        if layout not in nets:
            start = time.monotonic()
            text = (folder / f"{layout}.bif").read_text(encoding="utf-8")
            text = trimmed(text, names[layout])
            path = folder / f"{layout}.trimmed.bif"
            path.write_text(text, encoding="utf-8")
            nets[layout] = pyagrum.loadBN(str(path))
            set_precisely(nets[layout], text)
            took = time.monotonic() - start
            print(f"{layout}: {nets[layout].size()} nodes, {nets[layout].sizeArcs()} arcs, read in {took:.1f} s")
        start = time.monotonic()
        outcome, given = in_time(nets[layout], findings, sorted(expected))
        took = time.monotonic() - start
        label = f"set {number:2}, {layout}, {len(findings)} findings"
        if outcome == "failed":
            print(f"{label}: the library failed:\n{given}")
            wrong += 1
        elif outcome != "done":
            print(f"{label}: {outcome} after {took:.1f} s")
            missed += 1
        else:
            apart = {name: difference(row, given[name]) for name, row in expected.items()}
            name = max(apart, key=apart.get)
            worst = max(worst, apart[name])
            figures += sum(len(row) for row in expected.values())
            print(f"{label}: {len(expected)} nodes, largest difference {apart[name]:.1e}, {took:.1f} s")
            if apart[name] > TOLERANCE:
                print(f"  differs at {name}: seepwise {expected[name]}, the library {given[name]}")
                wrong += 1
    print(
        f"{len(sets)} sets, {figures} figures compared, largest difference {worst:.1e}; "
        f"{wrong} wrong, {missed} beyond the library (at least {ENOUGH} must be compared)"
    )
    return 0 if figures and wrong == 0 and len(sets) - missed >= ENOUGH else 1


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    try:
        code = main(pathlib.Path(sys.argv[1]))
    except (OSError, KeyError, ValueError) as problem:
        print(f"{sys.argv[1]}: {problem!r}", file=sys.stderr)
        code = 2
    sys.exit(code)
