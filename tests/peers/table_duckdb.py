"""The passage table into a DuckDB file, its types guessed; the third argument: threads.

Prints passages and their mean weight as JSON.
"""

import json
import sys

import duckdb

path, store, threads = sys.argv[1], sys.argv[2], int(sys.argv[3])
database = duckdb.connect(store)
database.execute(f"SET threads = {threads}")
database.execute("CREATE TABLE passages AS SELECT * FROM read_csv(?)", [path])
passages, weight = database.execute("SELECT count(*), avg(body_weight_kg) FROM passages").fetchone()
print(json.dumps({"passages": passages, "weight": weight}))
