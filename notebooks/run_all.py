"""Run the examples, and every notebook as a student opens it, then with the key, where all checks must hold.

python notebooks/run_all.py [NAME ...]
"""

import os
import re
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import nbformat
from checks import sections
from nbclient import NotebookClient

HERE = Path(__file__).resolve().parent


def fill_in(book: nbformat.NotebookNode, key: dict[str, str]) -> None:
    """Put the key's code before the check of each exercise."""
    used = set()
    for cell in book.cells:
        number = re.match(r"# Exercise ([\d.]+)", cell.source) if cell.cell_type == "code" else None
        if number:
            head, marker, tail = cell.source.partition("# --- check")
            if not marker:
                raise SystemExit(f"exercise {number[1]} has no line '# --- check'")
            cell.source = f"{head}\n{key[number[1]]}\n{marker}{tail}"
            used.add(number[1])
    if used != set(key):
        raise SystemExit(f"key and notebook differ: {sorted(used ^ set(key))}")


def execute(book: nbformat.NotebookNode) -> float:
    """Execute a notebook in this folder and return the seconds it took."""
    start = time.perf_counter()
    place = {"metadata": {"path": str(HERE)}}
    NotebookClient(book, timeout=600, kernel_name="python3", resources=place).execute()
    return time.perf_counter() - start


def run_one(path: Path) -> None:
    """Run a notebook twice: as handed out, then with the key."""
    os.environ.pop("HABITAT_KEY", None)
    plain = execute(nbformat.read(path, as_version=4))
    book = nbformat.read(path, as_version=4)
    fill_in(book, sections(HERE / "key" / path.name.replace(".ipynb", ".py")))
    os.environ["HABITAT_KEY"] = "1"
    keyed = execute(book)
    sys.stdout.write(f"{path.name}: {plain:.0f} s as handed out, {keyed:.0f} s with the key\n")
    sys.stdout.flush()


def run_example(path: Path) -> None:
    """Run an example script, which must print something and end well."""
    done = subprocess.run([sys.executable, path], check=True, capture_output=True, text=True)
    if not done.stdout.strip() or done.stderr:
        raise SystemExit(f"{path.name} printed nothing, or complained: {done.stderr}")
    sys.stdout.write(f"{path.name}: {len(done.stdout.splitlines())} lines\n")


def main() -> None:
    """Run what is named, or all; several two at a time, the longest notebook (the last) first."""
    names = [path.stem for path in sorted(HERE.glob("*.ipynb"), reverse=True)]
    wanted = sys.argv[1:] or names + [path.name for path in sorted(HERE.glob("example_*.py"))]
    if len(wanted) == 1:
        script = wanted[0].endswith(".py")
        run_example(HERE / wanted[0]) if script else run_one(HERE / f"{wanted[0]}.ipynb")
        return
    with ThreadPoolExecutor(2) as pool:
        done = pool.map(lambda name: subprocess.run([sys.executable, __file__, name], check=False), wanted)
    if any(process.returncode for process in done):
        raise SystemExit(1)


if __name__ == "__main__":
    main()
