"""Tries many mutants of the host in one build: each is met only by the tests that come upon it, the quickest first.

    tests/mutants host [N [SEED [FOLDER ...]]]

Prints a table by folder and the mutants that no test noticed; all of it lies in target/mutants/at_once.
"""
import collections
import concurrent.futures
import contextlib
import json
import math
import os
import pathlib
import random
import signal
import subprocess
import sys
import time

import mutate

ROOT = pathlib.Path(__file__).resolve().parents[2]
OUT = ROOT / "target/mutants/at_once"
TREE, BUILD = OUT / "tree", OUT / "build"
# Test programs of the whole that need neither Python, R, a browser nor the device's image.
WHOLE = "ade at_the_lane case_figures joint lane_answers main_job plates played shown".split()
# A test hangs that takes so many times as long as without a mutant, and so many seconds more.
TIMES, SECONDS = 10, 20
# Tests that go into one process, by the time they take together, s.
TOGETHER = [0.5, 2, 8, 1e9]
ENVIRONMENT = os.environ | {
    "CARGO_TARGET_DIR": str(BUILD),
    "CARGO_INCREMENTAL": "0",
    "CARGO_PROFILE_DEV_DEBUG": "false",
    "RUSTFLAGS": "--cap-lints warn",
    "RAYON_NUM_THREADS": "1",
}


def folder(mutant):
    return mutant["file"].removeprefix("host/src/").split("/")[0]


def drawn(count, seed, folders):
    """Mutants by number, in the order of the files."""
    listed = subprocess.run(["cargo", "mutants", "--list", "--json", "-p", "host"], cwd=TREE, capture_output=True, check=True)
    every = [m for m in json.loads(listed.stdout) if m["file"] != "host/src/main.rs"]
    if folders:
        every = [m for m in every if folder(m) in folders]
    chosen = random.Random(seed).sample(range(len(every)), min(count, len(every)))
    return {number: every[number] for number in sorted(chosen)}


def copy():
    """What is committed, in a folder of its own."""
    subprocess.run(["rm", "-rf", TREE], check=True)
    subprocess.run(["git", "clone", "-q", ROOT, TREE], check=True)


def built(mutants):
    """Test programs with all mutants that can be built, and which cannot."""
    sources, placeless = {}, set()
    for number, mutant in mutants.items():
        path = mutant["file"]
        if path not in sources:
            sources[path] = mutate.Source((TREE / path).read_text())
        if not sources[path].add(number, mutant):
            placeless.add(number)
    library = TREE / "host/src/lib.rs"
    library.write_text(library.read_text() + mutate.SWITCH)
    left_out = set(placeless)
    for goal in ["check", "build"]:
        while True:
            spans = {}
            for path, source in sources.items():
                text, spans[path] = source.write(left_out)
                (TREE / path).write_bytes(text)
            programs, errors = compiled(goal)
            if not errors:
                break
            faulty = {mutate.nearest(spans.get(path, {}), start, end) for path, start, end in errors} - {None}
            if not faulty:
                sys.exit(f"does not build without mutants either: {errors}")
            print(f"{len(faulty)} do not build", flush=True)
            left_out |= faulty
    return programs, placeless, left_out - placeless


def cargo(*words):
    command = ["cargo", *words, "--locked", "--message-format=json"]
    return subprocess.run(command, cwd=TREE, env=ENVIRONMENT, capture_output=True, text=True)


def compiled(goal):
    if goal == "check":
        ran = cargo("check", "-p", "host", "--tests")
    else:
        cargo("build", "--bins", "-p", "host", "-p", "demo")
        own = [f"--test={path.stem}" for path in (TREE / "host/tests").glob("*.rs")]
        ran = cargo("test", "--no-run", "-p", "host", "-p", "tests", "--lib", *own, *(f"--test={name}" for name in WHOLE))
    programs, errors = [], set()
    for line in ran.stdout.splitlines():
        said = json.loads(line)
        if said.get("executable") and said.get("profile", {}).get("test"):
            programs.append((said["executable"], pathlib.Path(said["manifest_path"]).parent))
        if said["reason"] == "compiler-message" and said["message"]["level"] == "error":
            here = [s for s in said["message"]["spans"] if s["is_primary"]]
            errors |= {(s["file_name"], s["byte_start"], s["byte_end"]) for s in here}
    if ran.returncode and not errors:
        sys.exit(ran.stdout[-3000:] + ran.stderr)
    return programs, errors


def passes(program, tests, longest, **environment):
    """Whether these tests of a program pass in time."""
    path, folder = program
    command = [path, "--exact", *tests, "--test-threads=1"]
    # A group of its own, so that what a hanging test began ends with it.
    ran = subprocess.Popen(
        command, cwd=folder, env=ENVIRONMENT | environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, process_group=0
    )
    try:
        return ran.wait(longest) == 0
    except subprocess.TimeoutExpired:
        return False
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(ran.pid, signal.SIGKILL)
        ran.wait()


def listed(program, *which):
    ran = subprocess.run([program[0], "--list", "--format", "terse", *which], capture_output=True, text=True, check=True)
    return {line.removesuffix(": test") for line in ran.stdout.splitlines() if line.endswith(": test")}


def met_by(pool, programs):
    """The tests that come upon each mutant, with the seconds they take."""
    def one(of):
        program, test = of
        note = OUT / f"met-{abs(hash(of))}"
        begun = time.monotonic()
        if not passes(program, [test], 600, MUTANTS_MET=str(note)):
            print(f"left out, for it fails without a mutant: {test}", flush=True)
            return 0, program, test, set()
        numbers = [int(line) for line in note.read_text().split()] if note.exists() else []
        note.unlink(missing_ok=True)
        return time.monotonic() - begun, program, test, set(numbers)

    tests = []
    for program in programs:
        tests += [(program, name) for name in sorted(listed(program) - listed(program, "--ignored"))]
    met = collections.defaultdict(list)
    for seconds, program, test, numbers in pool.map(one, tests):
        for number in numbers:
            met[number].append((seconds, program, test))
    return met, len(tests)


def noticed(number, tests):
    """Whether a test fails, or hangs, with the mutant on."""
    left = sorted(tests)
    for most in TOGETHER:
        seconds, now = 0, []
        while left and (not now or seconds + left[0][0] <= most):
            seconds += left[0][0]
            now.append(left.pop(0))
        for program in sorted({program for _, program, _ in now}):
            names = [test for _, of, test in now if of == program]
            if not passes(program, names, TIMES * seconds + SECONDS, MUTANT=str(number)):
                return True
    return False


def wilson(hits, of):
    """Limits of a share, %."""
    square = 1.96**2
    middle, reach = hits + square / 2, 1.96 * math.sqrt(hits * (of - hits) / of + square / 4)
    return 100 * (middle - reach) / (of + square), 100 * (middle + reach) / (of + square)


def main():
    count, seed = int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 1
    OUT.mkdir(parents=True, exist_ok=True)
    copy()
    mutants = drawn(count, seed, sys.argv[3:])
    programs, placeless, unbuilt = built(mutants)
    tried = [number for number in mutants if number not in placeless | unbuilt]
    print(f"{len(tried)} built; {len(unbuilt)} do not build; {len(placeless)} have no place for a switch", flush=True)
    with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
        met, tests = met_by(pool, programs)
        print(f"{tests} tests; {sum(1 for number in tried if number not in met)} mutants that none comes upon", flush=True)
        seen = dict(zip(tried, pool.map(lambda number: noticed(number, met.get(number, [])), tried)))
    folders = collections.defaultdict(list)
    for number in tried:
        folders[folder(mutants[number])].append(seen[number])
    for name, all_of in sorted(folders.items()) + [("all", list(seen.values()))]:
        low, high = wilson(sum(all_of), len(all_of))
        print(f"{name:12} {sum(all_of)} of {len(all_of)} noticed ({100 * sum(all_of) / len(all_of):.0f} %; 95 % limits {low:.0f} to {high:.0f})")
    for number in tried:
        if not seen[number]:
            print(f"{mutants[number]['name']}{'' if met.get(number) else ' (no test comes here)'}")


if __name__ == "__main__":
    main()
