"""What the spectrum of weight shifting adds to the score: the area under the curve with it and without it.

    python3 tests/support/shifting_worth.py FOLDER_OF_THE_PROGRAMS

Herds of the demo, 40 cows for 30 days, from raw readings. The band power of a day's traces (0.2 to 3 Hz, the larger of the two
pairs) against the cow's own first ten days, in SD of the herd, is added to the score's logit with a weight that is chosen
on three seeds and reported on six others.
"""

import csv
import math
import pathlib
import statistics
import subprocess
import sys
import tempfile

CHOOSING = [1, 2, 3]
REPORTED = [21, 22, 23, 24, 25, 26]
WEIGHTS = [0.0, 0.1, 0.25, 0.5, 1.0]
LEARNING_DAYS = 10


def rows(text):
    return list(csv.DictReader(text.splitlines()))


def herd(programs, seed):
    """Of each cow and day after the learning ones: logit of the score, z of the shifting, and whether she is lame."""
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        run = lambda *words: subprocess.run([str(w) for w in words], check=True, capture_output=True, text=True).stdout
        run(programs / "demo", "herd", "--out", folder, "--cows", 40, "--days", 30, "--seed", seed, "--level", "readings")
        fourplate = [programs / "fourplate", "--store", folder / "store.sqlite"]
        run(*fourplate, "import", "herd", folder / "herd.csv")
        run(*fourplate, "import", "tags", "--lane", "exit", folder / "tags.csv")
        run(*fourplate, "import", "readings", "--lane", "exit", folder / "readings.csv")
        days = rows(run(*fourplate, "--format", "csv", "export", "days"))
        shifting = rows(run(*fourplate, "--format", "csv", "export", "shifting"))
        truth = rows((folder / "truth_days.csv").read_text())
    power = {}
    for row in shifting:
        if row["animal_id"] and float(row["band_power_pct2"]) > 0:
            of_day = power.setdefault((row["animal_id"], row["time"][:10]), {})
            of_day.setdefault(row["pair"], []).append(math.log(float(row["band_power_pct2"])))
    dates = sorted({row["date"] for row in days})
    first = set(dates[:LEARNING_DAYS])
    usual, off = {}, []
    for (cow, date), pairs in power.items():
        for pair, values in pairs.items():
            if date in first:
                usual.setdefault((cow, pair), []).append(statistics.fmean(values))
    for values in usual.values():
        off += [value - statistics.fmean(values) for value in values]
    spread = statistics.pstdev(off)
    lame = {(row["animal_id"], row["date"]): int(row["true_score"]) >= 2 for row in truth}
    found = []
    for row in days:
        key = (row["animal_id"], row["date"])
        if row["date"] in first or not row["probability"] or key not in lame:
            continue
        p = min(max(float(row["probability"]), 1e-6), 1 - 1e-6)
        zs = [
            (statistics.fmean(values) - statistics.fmean(usual[key[0], pair])) / spread
            for pair, values in power.get(key, {}).items()
            if (key[0], pair) in usual
        ]
        found.append((math.log(p / (1 - p)), max(zs, default=0.0), lame[key]))
    return found


def area(ranked):
    ranked = sorted(ranked)
    wins = below = lame = at = 0
    while at < len(ranked):
        to = at
        while to < len(ranked) and ranked[to][0] == ranked[at][0]:
            to += 1
        hits = sum(row[1] for row in ranked[at:to])
        wins += hits * (below + (to - at - hits) / 2)
        below += to - at - hits
        lame += hits
        at = to
    return wins / (lame * below)


def with_weight(found, weight):
    return area([(logit + weight * z, lame) for logit, z, lame in found])


def main():
    programs = pathlib.Path(sys.argv[1])
    chosen_on = [herd(programs, seed) for seed in CHOOSING]
    mean = lambda weight: statistics.fmean(with_weight(found, weight) for found in chosen_on)
    best = max(WEIGHTS[1:], key=mean)
    print(f"weight chosen on seeds {CHOOSING}: {best:g} ({', '.join(f'{w:g}: {mean(w):.4f}' for w in WEIGHTS)})")
    print("| seed | score alone | with the spectrum | spectrum alone |\n|---|---|---|---|")
    for seed in REPORTED:
        found = herd(programs, seed)
        alone = area([(z, lame) for _, z, lame in found])
        print(f"| {seed} | {with_weight(found, 0):.4f} | {with_weight(found, best):.4f} | {alone:.3f} |", flush=True)


if __name__ == "__main__":
    main()
