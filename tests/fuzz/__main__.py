"""Run the search for some minutes: `python -m tests.fuzz [MINUTES]`, or `make fuzz`.

With atheris the search follows what code is reached, else bytes come by chance. What
fails is kept in build/fuzz/ and can be given again: `python -m tests.fuzz FILE`.
"""

import importlib
import random
import sys
import time
from pathlib import Path
from typing import Any

PLACE = Path(__file__).parents[2] / "build" / "fuzz"
LONGEST = 160
"""Bytes of one input; more choices are seldom made."""


def with_atheris(atheris: Any, seconds: int) -> None:  # noqa: ANN401 - it has no types
    """Let atheris choose the bytes; it ends the process."""
    with atheris.instrument_imports(include=["ledger.audit", "ledger.chain"]):
        from tests.fuzz.targets import one_input
    seeds = PLACE / "corpus"
    seeds.mkdir(parents=True, exist_ok=True)
    for target in range(4):
        (seeds / f"start-{target}").write_bytes(bytes([target]) + bytes(40))
    options = [
        f"-max_total_time={seconds}",
        f"-max_len={LONGEST}",
        "-timeout=60",
        "-rss_limit_mb=3000",
        "-print_final_stats=1",
        f"-artifact_prefix={PLACE}/",
        str(seeds),
    ]
    atheris.Setup([sys.argv[0], *options], one_input)
    atheris.Fuzz()


def by_chance(seconds: int) -> None:
    """Let chance choose the bytes, from a seed that is printed."""
    from tests.fuzz.targets import one_input

    seed = time.time_ns()
    print(f"without atheris; seed {seed}", flush=True)  # noqa: T201
    chance, end, tried = random.Random(seed), time.monotonic() + seconds, 0  # noqa: S311
    while time.monotonic() < end:
        raw = chance.randbytes(chance.randrange(1, LONGEST))
        try:
            one_input(raw)
        except BaseException:
            PLACE.mkdir(parents=True, exist_ok=True)
            (PLACE / "failed").write_bytes(raw)
            print(f"kept as {PLACE / 'failed'}", flush=True)  # noqa: T201
            raise
        tried += 1
    print(f"{tried} inputs, nothing found")  # noqa: T201


def main(asked: str) -> None:
    """Run for some minutes, or one input that was kept."""
    if Path(asked).is_file():
        from tests.fuzz.targets import one_input

        one_input(Path(asked).read_bytes())
        return
    seconds = round(float(asked) * 60)
    try:
        atheris = importlib.import_module("atheris")
    except ImportError:
        by_chance(seconds)
    else:
        with_atheris(atheris, seconds)


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "8")
