"""What the score's figures do when a constant is halved or doubled: the table of host/METHODS.md.

    python3 tests/sensitivity.py [NAME ...]

Each value is run on six seeds of the hard world (`tests/hard_world.rs`; `SEEDS=1,2` for others), in a copy of the last commit
whose constants are read from the environment; a minute a value. Means over the seeds.
"""

import os
import pathlib
import re
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parent.parent
CONSTANTS = {
    "host/src/score/settings.rs": [
        "PREVALENCE", "MOVED_PER_DAY", "HALF_SCORED_POINTS", "HALF_SCORED_WIDTH", "SOUND_SCORED",
        "MOST_PASSAGES_OF_ODDS", "EVIDENCE_WEIGHT", "HUBER_LIMIT", "WEIGHT_NOT_HERS_SD", "PATTERN_NOT_HERS_SD",
        "BLOCK_POINTS", "MENDING_DAYS", "HEALING_DAYS", "FEW_PASSAGES",
    ],
    "shared/src/lane_score/states.rs": ["MOST_ODDS_A_PASSAGE", "UNSURE_EFFECT"],
    "shared/src/lane_score/judge.rs": ["URGENT_ON", "UNSETTLED_WIDER"],
    "host/src/score/model/hypotheses.rs": ["SATURATED_POINTS", "SHIFT_LOG_PER_POINT", "LIFT_LOG_PER_POINT"],
    "host/src/score/model/noise.rs": [
        "FIRST_WEIGHT", "MEMORY", "WINSOR", "FIRST_COMMON", "HANG_WORTH", "DRIFT", "FIRST_SWING", "SWING_WORTH",
    ],
    "host/src/score/model/cow.rs": ["SCALE_PRIOR"],
    "host/src/score/model/prior.rs": ["MEAN_UNSURE", "SD_WORTH", "GROUP_WORTH"],
    "host/src/score/model/rates.rs": ["MOST_SHAPE", "FIRST_SHAPE", "COUNT_WEIGHT"],
    "host/src/score/evidence/anchor.rs": ["SETTLED_DAYS", "PULL_SD"],
    "host/src/score/evidence/lane.rs": ["JUMP_SD", "NEW_LANE_STEPS"],
    "host/src/score/course/herd.rs": ["HOUR_WORTH", "EVENTS_WORTH"],
    "host/src/score/course/price.rs": [
        "MEMORY_DAYS", "FIRST_GUESS_COW_DAYS", "FIRST_GUESS", "NEEDLESS_FOR_EACH", "NEEDLESS_WORTH", "COW_DAYS",
    ],
    "host/src/score/course/track/mod.rs": ["SOUND_ENOUGH", "LIKELY_SOUND"],
}


def adjustable(tree):
    """Lets the program read each of the constants from its environment, in a copy of the sources: one build does for all.
    Gives the values as they are."""
    values = {}
    folders = [tree / "host/src", tree / "shared/src"]
    sources = {path: path.read_text() for folder in folders for path in folder.rglob("*.rs")}
    # The environment is of a larger world than the device's.
    sources[tree / "shared/src/lib.rs"] = sources[tree / "shared/src/lib.rs"].replace(
        "#![no_std]", "#![no_std]\n#![allow(missing_docs)]\nextern crate std;"
    )
    for file, names in CONSTANTS.items():
        for name in names:
            own = tree / file
            defined = re.search(rf"((?:pub(?:\(\w+\))? )?)const {name}: (\w+) = ([\d._]+);", sources[own])
            kind, value = defined[2], defined[3]
            values[name] = (kind, float(value.replace("_", "")))
            read = (
                f"#[allow(non_snake_case)] {defined[1]}fn {name}() -> {kind} {{ static HELD: std::sync::OnceLock<{kind}> = "
                f"std::sync::OnceLock::new(); *HELD.get_or_init(|| std::env::var(\"{name}\").ok()"
                f".and_then(|text| text.parse().ok()).unwrap_or({value})) }}"
            )
            for path, text in sources.items():
                others = re.search(rf"const {name}:", text) and path != own
                if others or not re.search(rf"\b{name}\b", text):
                    continue
                kept = re.compile(rf"(^\s*(?:pub )?use [^;]*;|//[^\n]*|const {name}: [^;]*;)", re.MULTILINE)
                parts = kept.split(text)
                parts[::2] = [re.sub(rf"\b{name}\b", f"{name}()", part) for part in parts[::2]]
                sources[path] = "".join(parts).replace(defined[0], read)
    for path, text in sources.items():
        path.write_text(text)
    return values


def scaled(kind, value, factor):
    return f"{value * factor:.6g}" if kind.startswith("f") else str(max(1, round(value * factor)))


def figures(tree, **changed):
    env = {"SEEDS": "1,2,3,4,6,7", **os.environ, "CARGO_TARGET_DIR": str(ROOT / "target" / "sensitivity"), **changed}
    command = "cargo test -q --release -p tests --test hard_world print_the_table -- --ignored --nocapture".split()
    done = subprocess.run(command, cwd=tree, env=env, capture_output=True, text=True)
    if done.returncode:
        sys.exit(done.stderr)
    rows = [line.split("|")[1:-1] for line in done.stdout.splitlines() if re.match(r"\| \d", line)]
    mean = lambda column: sum(float(row[column].split()[0]) for row in rows) / len(rows)
    return mean(2), mean(4), mean(8), mean(9)


def shown(told):
    return f"{told[0]:.3f}, {told[1]:.0f} %, {told[2]:.2f}, {told[3]:.2f}"


def main():
    wanted = sys.argv[1:]
    with tempfile.TemporaryDirectory() as folder:
        tree = pathlib.Path(folder) / "tree"
        subprocess.run(["git", "worktree", "add", "-q", "--detach", tree], cwd=ROOT, check=True)
        try:
            values = adjustable(tree)
            print(f"AUC, never flagged, flags below score 2 and below 1; as it is: {shown(figures(tree))}\n", flush=True)
            print("| constant | halved | doubled |\n|---|---|---|", flush=True)
            for name, (kind, value) in values.items():
                if not wanted or name in wanted:
                    cells = [shown(figures(tree, **{name: scaled(kind, value, factor)})) for factor in (0.5, 2.0)]
                    print(f"| `{name}` | {cells[0]} | {cells[1]} |", flush=True)
        finally:
            subprocess.run(["git", "worktree", "remove", "--force", tree], cwd=ROOT, check=True)


if __name__ == "__main__":
    main()
