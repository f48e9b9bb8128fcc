"""Readings read and summed by DuckDB, nothing else; the second argument: threads. Prints rows and sums as JSON."""

import json
import sys

import duckdb

path, threads = sys.argv[1], int(sys.argv[2])
database = duckdb.connect()
database.execute(f"SET threads = {threads}")
row = database.execute(
    "SELECT count(*), sum(lf), sum(rf), sum(lr), sum(rr) FROM read_csv(?, header = true, columns = {"
    "'time': 'DOUBLE', 'lf': 'FLOAT', 'rf': 'FLOAT', 'lr': 'FLOAT', 'rr': 'FLOAT'})",
    [path],
).fetchone()
print(json.dumps({"rows": row[0], "sums": [round(value, 1) for value in row[1:]]}))
