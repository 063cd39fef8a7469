"""What all processes of a run share, made once: the compiled tests, and a migrated database.

Each process imports every test. Where all begin at once, each would compile everything anew.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import pytest

from tests.migrated import put_migrated

if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        put_migrated(Path(folder) / "migrated.sqlite3")
    sys.exit(pytest.main(["--collect-only", "-qq"]))
