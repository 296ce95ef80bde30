"""Every command that opens a visit, on files with flipped bits, zeroed pages and truncations, by seed.

The long campaign is scripts/bench/faults.py; this is a short one in this process.
"""

from __future__ import annotations

import random
import shutil
from contextlib import suppress
from pathlib import Path

import pytest

from logger.cli.main import main
from logger.errors import StillvoltError
from logger.visit.storage.read_only import checked_log
from logger.visit.storage.salvage import salvage
from logger.visit.storage.schema import USER_VERSION
from logger.visit.storage.verification import verify
from tests.visit.test_versions import load

LATER = Path(__file__).parents[2] / "fixtures" / "demo" / "garden_flat_later.visit"

PAGE_BYTES = 4096
MUTATIONS_PER_SEED = 6
HEADER_BYTES = 100


def mutated(data: bytes, draw: random.Random) -> bytes:
    changed = bytearray(data)
    kind = draw.choice(("bits", "page", "cut", "swapped", "stretch"))
    if kind == "bits":
        for _ in range(draw.choice((1, 8, 64))):
            changed[draw.randrange(len(changed))] ^= 1 << draw.randrange(8)
    elif kind == "page":
        at = draw.randrange(len(changed) // PAGE_BYTES) * PAGE_BYTES
        changed[at : at + PAGE_BYTES] = bytes(PAGE_BYTES)
    elif kind == "cut":
        del changed[draw.randrange(HEADER_BYTES, len(changed)) :]
    elif kind == "swapped":
        one, other = (draw.randrange(1, len(changed) // PAGE_BYTES) * PAGE_BYTES for _ in range(2))
        changed[one : one + PAGE_BYTES], changed[other : other + PAGE_BYTES] = (
            changed[other : other + PAGE_BYTES],
            changed[one : one + PAGE_BYTES],
        )
    else:
        at = draw.randrange(len(changed))
        length = min(draw.randrange(1, 400), len(changed) - at)
        changed[at : at + length] = draw.randbytes(length)
    return bytes(changed)


@pytest.mark.parametrize("seed", range(2))
def test_every_command_ends_in_a_result_or_in_one_sentence(
    tmp_path: Path, seed: int, capsys: pytest.CaptureFixture[str]
) -> None:
    draw = random.Random(seed)
    trace = tmp_path / "trace.csv"
    trace.write_text("time_s,volts\n0,0.2\n1,0.2\n", encoding="utf-8")
    data = LATER.read_bytes()
    for number in range(MUTATIONS_PER_SEED):
        folder = tmp_path / str(number)
        folder.mkdir()
        content = mutated(data, draw)
        visit = folder / "sent.visit"
        out = tmp_path / f"out {number}"
        out.mkdir()
        for words in (
            ["report", str(visit), "--out", str(out / "r.html")],
            ["export", str(visit), "--out", str(out / "data"), "--format", "csv"],
            ["form", str(visit), "--out", str(out / "f.html")],
            ["night", str(visit), "--json"],
            ["compare", str(LATER), str(visit)],
            ["archive", str(folder)],
            ["verify", str(visit)],
            ["salvage", str(visit), "--out", str(out / "new.visit")],
            ["import", str(trace), "--visit", str(visit), "--began", "2030-01-01T00:00:00Z"],
            ["record", "--port", "socket://127.0.0.1:9", "--visit", str(visit)],
        ):
            visit.write_bytes(content)
            status = main(words)
            printed = capsys.readouterr()
            assert status in (0, 1), (words, printed)
            if words[0] in ("report", "export", "form", "compare", "import", "record"):
                # Nothing is half done: a result, or one sentence and none.
                refusals = [line for line in printed.err.splitlines() if line.startswith("stillvolt: ")]
                assert status == 0 or len(refusals) == 1, (words, printed)
            if words[0] in ("report", "export", "form", "compare", "archive", "verify"):
                assert visit.read_bytes() == content or status == 0, words
            for journal in folder.glob("sent.visit-*"):
                journal.unlink()
        shutil.rmtree(folder)


def test_a_visit_with_details_and_photos_is_verified_and_salvaged_or_refused(tmp_path: Path) -> None:
    draw = random.Random(3)
    data = load(USER_VERSION, tmp_path / "sound.visit").read_bytes()
    for number in range(2):
        visit, new = tmp_path / f"{number}.visit", tmp_path / f"{number} new.visit"
        visit.write_bytes(mutated(data, draw))
        with suppress(StillvoltError):
            verify(visit)
        with suppress(StillvoltError):
            salvage(visit, new)
            with checked_log(new):
                pass
