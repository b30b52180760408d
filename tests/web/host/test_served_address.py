"""The address that serve prints is that of the first page, the shelf. Constructed."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path
from urllib.request import urlopen


def test_the_printed_address_is_the_shelf(db: Path) -> None:
    command = [sys.executable, "-c", "from bevelbook.cli import main; main()", "--db", str(db), "serve", "--port", "0"]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, text=True, env={**os.environ, "PYTHONUNBUFFERED": "1"}
    ) as served:
        try:
            assert served.stdout is not None
            found = re.search(r"http://\S+", served.stdout.readline())
            assert found is not None
            with urlopen(found[0]) as page:
                assert "<h2>Shelf" in page.read().decode()
        finally:
            served.terminate()
