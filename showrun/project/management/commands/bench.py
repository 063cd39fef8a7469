"""`manage.py bench`: measure the work that must be quick, each beside its floor.

The measurements are in `tests/benchmarks`. They run on a database file of their own in a
temporary folder: the command starts itself again with `SHOWRUN_DATA` and `DATABASE_URL`
pointing there, and the folder is gone afterwards. Figures are processor time, medians of
pairs run in turn, so that a busy machine disturbs them little; waiting for disks is not in it.
The judge's page is the exception: it is timed by the clock, in a browser.
"""

from __future__ import annotations

import importlib
import json
import os
import platform
import subprocess
import sys
import tempfile
from argparse import ArgumentParser
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

if TYPE_CHECKING:
    from tests.benchmarks.measure import Row

ROOT = Path(__file__).resolve().parents[4]
INSIDE = "SHOWRUN_BENCH_INSIDE"
# One thread: a library that takes a second core would make processor time mean nothing.
ONE_THREAD = dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1")
NAMES = (
    *("ingest", "pages", "checks", "rotation", "panel", "sheet", "result"),
    *("reml", "large", "panel_checks", "rates", "rotation_cases", "food", "risk", "replan"),
    "round_page",
)


class Command(BaseCommand):
    """`bench [--only NAME ...] [--json FILE]`"""

    help = "Measure the work that must be quick, each beside its floor."
    # The child works on a database that does not exist yet.
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--only", action="append", choices=NAMES, help="May be repeated.")
        parser.add_argument("--json", type=Path, help="Write the figures to this file.")

    def handle(self, *args: Any, **options: Any) -> None:
        names = options["only"] or NAMES
        if os.environ.get(INSIDE) != "1":
            sys.exit(_start_again(names, options["json"]))
        call_command("migrate", verbosity=0)
        found = []
        for row in measured(names):
            found.append(row)
            self.stderr.write(f"measured: {row.work}")
        self.stdout.write(table(found))
        if options["json"]:
            options["json"].write_text(json.dumps(as_json(found), indent=2) + "\n")
        over = sum(not row.kept for row in found)
        if over:
            raise CommandError(f"{over} of {len(found)} over.", returncode=1)


def _start_again(names: Sequence[str], json_file: Path | None) -> int:
    """Run the measurements in a process whose data are elsewhere; return its exit code."""
    command = [sys.executable, str(ROOT / "manage.py"), "bench"]
    command += [word for name in names for word in ("--only", name)]
    command += ["--json", str(json_file.resolve())] if json_file else []
    with tempfile.TemporaryDirectory(prefix="bench-") as folder:
        (Path(folder) / "static").mkdir()
        env = {
            **os.environ,
            **ONE_THREAD,
            INSIDE: "1",
            "DJANGO_SETTINGS_MODULE": "showrun.project.settings.test",
            "SHOWRUN_DATA": folder,
            "DATABASE_URL": f"sqlite:///{folder}/bench.sqlite3",
            "LOG_LEVEL": "WARNING",
            "DEBUG": "0",
        }
        return subprocess.run(command, env=env, cwd=ROOT, check=False).returncode


def measured(names: Sequence[str]) -> Iterator[Row]:
    """Run the measurements one after another."""
    for name in names:
        try:
            module = importlib.import_module(f"tests.benchmarks.bench_{name}")
        except ModuleNotFoundError as fault:
            raise CommandError(f"The measurements are not installed: {fault}") from fault
        yield from module.rows()


def table(found: Sequence[Row]) -> str:
    """Lay the rows out as a table, the widths taken from what stands in it."""
    head = ("work", "ours ms", "floor ms", "ratio", "at most", "")
    lines = [head, *map(_cells, found)]
    widths = [max(len(line[column]) for line in lines) for column in range(len(head))]
    out = []
    for line, row in zip(lines, (None, *found), strict=True):
        cells = [line[0].ljust(widths[0])]
        cells += [cell.rjust(width) for cell, width in zip(line[1:], widths[1:], strict=True)]
        out.append("  ".join(cells).rstrip())
        if row and row.note:
            out.append(f"    {row.note}")
    out.append("Processor time, medians; ratios are medians of pairs run in turn.")
    return "\n".join(out)


def _cells(row: Row) -> tuple[str, ...]:
    bounds = ", ".join(f"{b.found:.4g} {b.name} of {b.at_most:g}" for b in row.bounds)
    return (
        row.work,
        f"{row.ours_ms:.1f}",
        "-" if row.floor_ms is None else f"{row.floor_ms:.1f}",
        "-" if row.ratio is None else f"{row.ratio:.2f}",
        bounds or "-",
        "ok" if row.kept else "over",
    )


def as_json(found: Sequence[Row]) -> dict[str, Any]:
    """Return the figures for a program, with what they were measured on."""
    return {
        "at": timezone.now().isoformat(timespec="seconds"),
        "python": platform.python_version(),
        "machine": platform.machine(),
        "cores": os.cpu_count(),
        "rows": [
            {
                "name": row.name,
                "work": row.work,
                "ours_ms": round(row.ours_ms, 3),
                "floor_ms": None if row.floor_ms is None else round(row.floor_ms, 3),
                "ratio": None if row.ratio is None else round(row.ratio, 3),
                "bounds": [
                    {"of": b.name, "found": round(b.found, 4), "at_most": b.at_most, "ok": b.kept}
                    for b in row.bounds
                ],
                "ok": row.kept,
                "note": row.note,
            }
            for row in found
        ],
    }
