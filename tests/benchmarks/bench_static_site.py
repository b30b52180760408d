"""The static site of books of several sizes: pages, files, size, seconds, and the most memory that writing it takes.

Each size is written by a process of its own, with one run a build.

Run by hand:  python tests/benchmarks/bench_static_site.py [100 1000] [--diffs 20]
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Final

sys.path.append(str(Path(__file__).parent))

import bench_browser

MB: Final = 1_000_000


def write(path: Path) -> None:
    """Write the site of a database beside it, and print what it took."""
    from bevelbook.plugin.registry import load
    from bevelbook.web.static_site.write_site import write_site

    began, used = time.perf_counter(), time.process_time()
    written = write_site(path, path.parent / "site", load(), as_of="today")
    print(
        json.dumps(
            {
                "pages": written.pages,
                "files": written.files,
                "size_mb": written.size_bytes / MB,
                "largest_kb": max(one.stat().st_size for one in (path.parent / "site").rglob("*.*")) / 1000,
                "search_kb": sum(one.stat().st_size for one in (path.parent / "site" / "search").iterdir()) / 1000,
                "seconds": time.perf_counter() - began,
                "processor_s": time.process_time() - used,
                "memory_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000,
            }
        )
    )


def main() -> None:
    """Write the sites and print a line for each."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("sizes", nargs="*", type=int, default=[100, 1000])
    parser.add_argument("--diffs", type=int, default=20)
    parser.add_argument("--write", type=Path, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.write:
        write(given.write)
        return
    bench_browser.DIFFS = given.diffs  # type: ignore[misc]
    bench_browser.SIZES["diffs"] = given.diffs
    print("builds  pages  files     MB  largest KB  search KB      s  processor s  memory MB")
    for size in given.sizes:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "book.db"
            bench_browser.filled(path, size)
            words = [sys.executable, __file__, "--write", str(path)]
            took = json.loads(subprocess.run(words, check=True, capture_output=True, text=True).stdout)
            said = (("pages", 6, 0), ("files", 6, 0), ("size_mb", 6, 1), ("largest_kb", 11, 0), ("search_kb", 10, 0))
            said += (("seconds", 6, 0), ("processor_s", 12, 0), ("memory_mb", 10, 0))
            print(f"{size:6,}", *(f"{took[name]:{width},.{digits}f}" for name, width, digits in said))


if __name__ == "__main__":
    main()
