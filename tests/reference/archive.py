"""What DuckDB makes of the tables of `stepbell archive`: a line of JSON.

    archive.py FOLDER [SECTION [COMPRESS]]    runs, and by step: how often it was not called, and the middle of its times

The middle is the 50th percentile of NIST/SEMATECH e-Handbook 7.2.6.2, p (N + 1), which for the 50th is the median of every definition.
"""
import json
import sys
import time

import duckdb


def main():
    folder, section, compress = (sys.argv[1:] + [None] * 2)[:3]
    db = duckdb.connect()
    db.execute("SET threads TO 2")
    begun = time.perf_counter()
    runs, steps = (f"read_parquet('{folder}/{table}/*/*/*/*.parquet', hive_partitioning = true)" for table in ("runs", "steps"))
    if section is None:
        section = db.execute(f"SELECT section FROM {runs} GROUP BY section ORDER BY count(*) DESC LIMIT 1").fetchone()[0]
    wanted = [section, int(compress or 1)]
    people, count, finished, clean, hygiene = db.execute(
        f"SELECT count(DISTINCT person), count(*), count(*) FILTER (finished), count(*) FILTER (critical = 0), sum(hygiene) "
        f"FROM {runs} WHERE section = ? AND compress = ? AND whole", wanted).fetchone()
    rows = db.execute(
        f"SELECT step, count(*) FILTER (NOT called), median(took_ms) / 1000 FROM {steps} "
        f"WHERE section = ? AND compress = ? AND whole GROUP BY step, place ORDER BY place", wanted).fetchall()
    took = time.perf_counter() - begun
    types = dict(db.execute(f"SELECT column_name, column_type FROM (DESCRIBE SELECT * FROM {runs})").fetchall())
    print(json.dumps(dict(people=people, runs=count, finished=finished, clean=clean, hygiene=int(hygiene), steps=rows, seconds=took, types=types)))


if __name__ == "__main__":
    main()
