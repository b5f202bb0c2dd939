"""Append entries one by one from a program of its own, and say each one's number.

Usage: python -m tests.store.appender URL NAME [COUNT]; without COUNT, until killed.
"""

import sys
from itertools import count

from ledger.store.engine import open_engine, rows_of
from tests.store.sample import append_next


def main(url: str, name: str, *length: str) -> None:
    engine = open_engine(url)
    for _ in range(int(length[0])) if length else count():
        with engine.begin() as connection:
            seq = append_next(rows_of(connection), by=name)
        # Only what is durable is said.
        sys.stdout.write(f"{seq}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(*sys.argv[1:])
