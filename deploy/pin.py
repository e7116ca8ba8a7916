"""Pins every dependency: `python deploy/pin.py` (needs uv), after a change of pyproject.toml.

Writes exact versions into `[tool.uv] constraint-dependencies` of pyproject.toml, so that
`uv run` gives the same everywhere without a lock file (one would hold the address of a
package registry), and the same for pip into deploy/constraints.txt.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
PROJECT = ROOT / "pyproject.toml"
CONSTRAINTS = ROOT / "deploy" / "constraints.txt"
PINS = re.compile(r"constraint-dependencies = \[.*?\n?\]", re.S)


def main() -> None:
    everything = exported("--all-groups")
    text = PROJECT.read_text()
    pinned = "constraint-dependencies = [\n" + "".join(f'    "{p}",\n' for p in everything) + "]"
    PROJECT.write_text(PINS.sub(lambda _: pinned, text))
    runtime = exported("--no-dev")
    note = "# Made by deploy/pin.py: pip install -c deploy/constraints.txt .\n"
    CONSTRAINTS.write_text(note + "".join(f"{pin}\n" for pin in runtime))
    print(f"{len(everything)} pins, {len(runtime)} of them at run time")


def exported(*options: str) -> list[str]:
    """`name==version` of all packages that uv resolves with these options, newest allowed."""
    with tempfile.TemporaryDirectory() as folder:
        text = PINS.sub("constraint-dependencies = []", PROJECT.read_text())
        Path(folder, "pyproject.toml").write_text(text)
        for name in ("README.md", "LICENSE"):
            shutil.copy(ROOT / name, folder)
        uv = shutil.which("uv") or "uv"
        command = [uv, "export", "--quiet", "--no-hashes", "--no-header", "--no-annotate"]
        done = subprocess.run(
            [*command, "--no-emit-project", *options],
            cwd=folder,
            check=True,
            capture_output=True,
            text=True,
        )
    return sorted({line.split(";")[0].strip() for line in done.stdout.splitlines() if "==" in line})


if __name__ == "__main__":
    main()
