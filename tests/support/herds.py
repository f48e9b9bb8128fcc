"""Invented herds through the program, held against their truth: the table of host/METHODS.md, a row a seed.

    python3 tests/support/herds.py FOLDER_OF_THE_PROGRAMS [SEED ...]
"""

import json
import pathlib
import subprocess
import sys
import tempfile

SEEDS = [4411, 4412, 4421, 4422, 4423, 4424]


def row(programs, seed, records):
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        run = lambda *words: subprocess.run([str(w) for w in words], check=True, capture_output=True, text=True).stdout
        size = ["--cows", 200, "--days", 150, "--level", "passages"]
        run(programs / "demo", "herd", "--out", folder, *size, "--seed", seed)
        fourplate = [programs / "fourplate", "--store", folder / "store.sqlite"]
        run(*fourplate, "import", "herd", folder / "herd.csv")
        run(*fourplate, "import", "passages", "--lane", "exit", folder / "passages.csv")
        for kind in ["scores", "trims"] if records else []:
            run(*fourplate, "import", kind, folder / f"{kind}.csv")
        told = json.loads(run(*fourplate, "--format", "json", "evaluate", "--truth", folder / "truth_days.csv"))
    value = lambda name: told["figures"][name]["value"]
    mine = next(point for point in told["price_curve"] if point["limit"] is None)
    plain = {rule["rule"]: rule["never_flagged"] for rule in told["plain_rules"]}
    return (
        f"| {seed}, {'scores and trims' if records else 'none'} | {value('auc'):.3f} | {mine['days_sudden']:g} | "
        f"{mine['days_slow']:g} | {value('false_alarms_per_100_cow_weeks'):.2f} | {100 * value('leg_right'):.1f} % | "
        f"{value('calibration_slope'):.2f} | {mine['never_flagged']} of {mine['onsets']} | "
        f"{plain['leg_weight_ratio']} | {plain['symmetry_chart']} |"
    )


def main():
    programs = pathlib.Path(sys.argv[1])
    print("| seed, records | AUC | days, sudden | days, slow | false flags | leg right | slope | never flagged | the same by a limit on LWR | by a moving average of SI |")
    print("|---|---|---|---|---|---|---|---|---|---|")
    for seed in [int(word) for word in sys.argv[2:]] or SEEDS:
        for records in [False, True]:
            print(row(programs, seed, records), flush=True)


if __name__ == "__main__":
    main()
