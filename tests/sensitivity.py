"""What the score's figures do when a constant is halved or doubled: the table of host/METHODS.md.

    python3 tests/sensitivity.py [NAME ...]

Each value is built and run on six seeds of the hard world (`tests/hard_world.rs`), in a copy of the last commit; a minute or
two a value. Means over the seeds.
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
        "ONSET_PER_DAY", "MOVED_PER_DAY", "HALF_SCORED_POINTS", "HALF_SCORED_WIDTH", "SOUND_SCORED",
        "MOST_ODDS_A_PASSAGE", "MOST_PASSAGES_OF_ODDS", "TAIL_FREEDOM", "EVIDENCE_WEIGHT", "HUBER_LIMIT",
        "WEIGHT_NOT_HERS_SD", "PATTERN_NOT_HERS_SD", "BLOCK_POINTS", "UNSETTLED_DAYS", "MENDING_DAYS",
        "HEALING_DAYS", "URGENT_ON", "FEW_PASSAGES",
    ],
    "host/src/score/model/noise.rs": ["DRIFT", "FIRST_SWING", "SWING_WORTH", "FIRST_WEIGHT", "MEMORY"],
    "host/src/score/model/cow.rs": ["UNSURE_EFFECT", "SCALE_PRIOR"],
    "host/src/score/course/price.rs": ["NEEDLESS_FOR_EACH", "NEEDLESS_WORTH", "MEMORY_DAYS"],
}


def scaled(text, name, factor):
    found = re.search(rf"((?:pub )?const {name}: (\w+) = )([\d._]+);", text)
    value = float(found[3].replace("_", "")) * factor
    new = f"{value:.6g}" if found[2].startswith("f") else str(max(1, round(value)))
    if found[2].startswith("f") and not re.search(r"[.e]", new):
        new += ".0"
    return text[: found.start()] + found[1] + new + ";" + text[found.end() :]


def figures(tree):
    env = {**os.environ, "SEEDS": "1,2,3,4,6,7", "CARGO_TARGET_DIR": str(ROOT / "target" / "sensitivity")}
    command = "cargo test -q --release -p tests --test hard_world print_the_table -- --ignored --nocapture".split()
    done = subprocess.run(command, cwd=tree, env=env, capture_output=True, text=True)
    if done.returncode:
        return None
    rows = [line.split("|")[1:-1] for line in done.stdout.splitlines() if re.match(r"\| \d", line)]
    mean = lambda column: sum(float(row[column].split()[0]) for row in rows) / len(rows)
    return mean(2), mean(4), mean(8), mean(9)


def shown(told):
    return "does not build" if told is None else f"{told[0]:.3f}, {told[1]:.0f} %, {told[2]:.2f}, {told[3]:.2f}"


def main():
    wanted = sys.argv[1:]
    with tempfile.TemporaryDirectory() as folder:
        tree = pathlib.Path(folder) / "tree"
        subprocess.run(["git", "worktree", "add", "-q", "--detach", tree], cwd=ROOT, check=True)
        try:
            print(f"AUC, never flagged, flags below score 2 and below 1; as it is: {shown(figures(tree))}\n", flush=True)
            print("| constant | halved | doubled |\n|---|---|---|", flush=True)
            for file, names in CONSTANTS.items():
                path = tree / file
                text = path.read_text()
                for name in [name for name in names if not wanted or name in wanted]:
                    cells = []
                    for factor in [0.5, 2.0]:
                        path.write_text(scaled(text, name, factor))
                        cells.append(shown(figures(tree)))
                    path.write_text(text)
                    print(f"| `{name}` | {cells[0]} | {cells[1]} |", flush=True)
        finally:
            subprocess.run(["git", "worktree", "remove", "--force", tree], cwd=ROOT, check=True)


if __name__ == "__main__":
    main()
