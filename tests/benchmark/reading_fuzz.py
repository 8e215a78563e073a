"""
Random bytes and random edits of cells, many times: a log, or one sentence, never a traceback.

Usage: python tests/benchmark/reading_fuzz.py [--examples 200000] [--seed 0]

In pieces: `--examples 20000 --seed 1`, `--seed 2` and so on; each prints its own line.

Half of the examples are random bytes or spliced files; half are a good log with cells replaced,
doubled, cut or filled with words of real logs. Printed: how many were read and how many refused.
"""

from __future__ import annotations

import argparse
import csv
import io
import random
import sys
import tempfile
import time
from pathlib import Path

from weakstep.errors import LogError
from weakstep.process.load import load_process
from weakstep.process.model import Process
from weakstep.runlog.read import read_log

CORPUS = Path(__file__).parents[1] / "corpus"
FOLDERS = (CORPUS / "files", CORPUS / "hostile" / "files")
WORDS = (
    '30|0.5 min|<1|n/a|"|same|10:1|1:10|3,5|1,000|~|good|4/6 ok|leak|weird|2026-03-04|04/03/26|'
    "3 Apr|46000|| |-|1e999|-5|∞|chip|12345678901234567890|0x10|NaN|inf|0.41736|a;b|a,b\n|=1+1|"
    "23:50-00:20|2'30''|1 200|1.234,5|10-Jan|10:01 AM|<|>5 min|5+|½ h|30 (x)|70 °F|0/6|10 %|"
    "2 leak, 1 ok|n=2|TOTAL 4|\u22123|bar g|1h30|8 am - 10 am|46084 15:30|2 mars 2026 à 14h05|"
    "-27 inHg|total|\x00|\ufeff|\u2028|2 min 30 s|1e-320|٣|½|'=x|9:61|0/0|31.2.2026"
)
HEADERS = [
    *("chip_id", "run_id", "started_at", "operator", "ratio", "base_g", "agent_g", "delay_s"),
    *("date", "cure(F)", "vacuum_kpa", "touched", "outcome", "chips_made", "chips_failed"),
    *("time", "what", "rh_pct", "accepted_questions", "mould_softening_c", "cure_c"),
]


def random_bytes(rng: random.Random, seeds: list[bytes]) -> bytes:
    """Return bytes of no meaning, or a file of the corpus that was cut and spliced."""
    if rng.random() < 0.4:
        return rng.randbytes(rng.randrange(200))
    raw = bytearray(rng.choice(seeds))
    for _ in range(rng.randrange(1, 6)):
        at = rng.randrange(len(raw) + 1)
        raw[at : at + rng.randrange(8)] = rng.choice([rng.randbytes(3), b'"', b"\n", b",", b"\r"])
    return bytes(raw)


def edited_log(rng: random.Random) -> bytes:
    """Return a log with random headers and cells of all the kinds that labs write."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=rng.choice(",;\t|"))
    width = rng.randrange(1, 9)
    words = WORDS.split("|")
    writer.writerow([rng.choice(HEADERS) for _ in range(width)])
    for _ in range(rng.randrange(6)):
        writer.writerow([rng.choice(words) for _ in range(max(0, width + rng.randrange(-1, 2)))])
    return out.getvalue().encode(rng.choice(["utf-8", "utf-16", "cp1252"]), "replace")


def outcome_of(path: Path, process: Process) -> str:
    """Read one file; return whether it was read, or refused by one sentence that names it."""
    try:
        log = read_log(path, process)
    except LogError as error:
        sentence = str(error)
    else:
        assert log.rows_read == len(log.chips) + len(log.set_aside)
        return "read"
    assert sentence.startswith("log.csv"), sentence
    assert "\n" not in sentence, sentence
    return "refused"


def main() -> None:
    """Read one example after the other; the first traceback ends it, with its bytes shown."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--examples", type=int, default=200_000)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--seconds", type=float, default=float("inf"), help="stop after so long")
    options = parser.parse_args()
    rng = random.Random(options.seed)
    process = load_process()
    seeds = [path.read_bytes() for path in sorted(p for one in FOLDERS for p in one.iterdir())]
    done = {"read": 0, "refused": 0}
    start = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        for _ in range(options.examples):
            raw = random_bytes(rng, seeds) if rng.random() < 0.5 else edited_log(rng)
            path.write_bytes(raw)
            try:
                done[outcome_of(path, process)] += 1
            except BaseException:
                print("seed", options.seed, "bytes", raw, file=sys.stderr)
                raise
            if time.monotonic() - start > options.seconds:
                break
    print(f"{sum(done.values())} examples, seed {options.seed}: {done}, 0 tracebacks")


if __name__ == "__main__":
    main()
