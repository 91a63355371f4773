"""Run every notebook from top to bottom and fail on the first error; exercises are run through the instructor's key.

python notebooks/run_all.py [NAME ...]
"""

import sys
import time
from pathlib import Path

import nbformat
from nbclient import NotebookClient

HERE = Path(__file__).resolve().parent


def run(path: Path) -> float:
    """Execute one notebook in its own folder and return the seconds it took."""
    start = time.perf_counter()
    book = nbformat.read(path, as_version=4)
    NotebookClient(
        book, timeout=300, kernel_name="python3", resources={"metadata": {"path": str(HERE)}}
    ).execute()
    return time.perf_counter() - start


def main() -> None:
    """Run the notebooks named, or all of them."""
    wanted = sys.argv[1:]
    for path in sorted(HERE.rglob("*.ipynb")):
        if ".ipynb_checkpoints" in path.parts or (wanted and path.stem not in wanted):
            continue
        sys.stdout.write(f"{path.relative_to(HERE)}: {run(path):.0f} s\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
