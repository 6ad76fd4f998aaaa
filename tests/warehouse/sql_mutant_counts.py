"""Counts of the mutants of every view, mart and audit: ``make predicates``."""

from __future__ import annotations

import sys

from tests.warehouse.sql_examples import empty_warehouse, example, example_names, queries
from tests.warehouse.test_sql_examples import survivors


def main() -> None:
    con = empty_warehouse()
    write = sys.stdout.write
    totals = [0, 0, 0, 0]
    write(f"{'query':36} {'made':>6} {'caught':>6} {'alike':>6} {'listed':>6}\n")
    for name in sorted(example_names()):
        made, alike = survivors(con, queries()[name])
        counts = [made, made - len(alike), len(alike), len(example(name).equivalents)]
        totals = [total + count for total, count in zip(totals, counts, strict=True)]
        write(f"{name:36} " + " ".join(f"{count:>6}" for count in counts) + "\n")
    write(f"{'all':36} " + " ".join(f"{count:>6}" for count in totals) + "\n")


if __name__ == "__main__":
    main()
