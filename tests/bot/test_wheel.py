"""The wheel alone, in an environment that holds nothing else: it carries all that it needs."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import zipfile
from pathlib import Path
from time import monotonic, sleep
from urllib.request import urlopen

import pytest

ROOT = Path(__file__).parents[2]
pytestmark = pytest.mark.slow


def _uv() -> str:
    found = os.environ.get("UV") or shutil.which("uv")
    if found is None:
        pytest.skip("no uv on this machine: start the tests with `uv run pytest`")
    return found


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [_uv(), "build", "--quiet", "--wheel", "--out-dir", folder, ROOT], check=True, cwd=folder
    )
    return next(folder.glob("*.whl"))


@pytest.fixture(scope="module")
def cuffbell(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The command of an empty environment into which only the wheel was installed."""
    folder = tmp_path_factory.mktemp("environment")
    subprocess.run([_uv(), "venv", "--quiet", "--python", sys.executable, folder], check=True)
    constraints = ROOT / "deploy" / "constraints.txt"
    subprocess.run(
        [_uv(), "pip", "install", "--quiet", "--python", folder, "-c", constraints, wheel],
        check=True,
    )
    return folder / "bin" / "cuffbell"


def test_it_holds_the_three_packages_and_nothing_else(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()

    tops = {name.split("/")[0] for name in names}

    assert {top for top in tops if not top.endswith(".dist-info")} == {"bot", "domain", "storage"}


@pytest.mark.parametrize(
    ("folder", "ending"),
    [
        ("storage/migrations", ".py"),
        ("bot/pictures/templates", ".typ"),
        ("bot/wording/en", ".po"),
        ("domain/understanding/lexicon", ".toml"),
        ("bot/localchat/page", ".js"),
    ],
)
def test_it_carries_every_data_file_of_the_checkout(wheel: Path, folder: str, ending: str) -> None:
    held = set(zipfile.ZipFile(wheel).namelist())

    wanted = {str(p.relative_to(ROOT)) for p in (ROOT / folder).rglob(f"*{ending}")}

    assert wanted
    assert wanted <= held


def test_a_message_is_understood(cuffbell: Path) -> None:
    line = {"id": "1", "text": "142/91, headache", "now": "2026-03-10T07:42:00+00:00"}

    done = subprocess.run(
        [cuffbell, "understand"], input=json.dumps(line), capture_output=True, text=True, check=True
    )

    answer = json.loads(done.stdout)
    assert answer["readings"][0]["systolic"] == 142
    assert answer["symptoms"] == ["headache"]


def test_readings_are_averaged(cuffbell: Path) -> None:
    rows = "at,systolic,diastolic,pulse\n2026-05-04T07:30:00+01:00,138,86,\n"

    done = subprocess.run(
        [cuffbell, "average", "--rule", "all", "--json"],
        input=rows,
        capture_output=True,
        text=True,
        check=True,
    )

    assert json.loads(done.stdout)["systolic"] == 138.0


def test_the_trial_starts_shows_its_page_and_ends_at_ctrl_c(cuffbell: Path, tmp_path: Path) -> None:
    log = tmp_path / "output"
    with log.open("w") as output:
        started = subprocess.Popen(
            [cuffbell, "try", "--no-browser", "--port", "0", "--folder", tmp_path / "try"],
            stdout=output,
            stderr=subprocess.STDOUT,
        )
    address = _printed_address(log, started)

    with urlopen(f"{address}/chat/state") as answer:
        state = json.load(answer)
    started.send_signal(signal.SIGINT)

    assert [chat["role"] for chat in state["chats"]] == ["patient", "carer", "practitioner"]
    assert started.wait(timeout=10) == 0


def _printed_address(log: Path, started: subprocess.Popen[bytes]) -> str:
    end = monotonic() + 30
    while monotonic() < end:
        words = log.read_text().split()
        found = [word for word in words if word.startswith("http://127.0.0.1:")]
        if found:
            return found[0].rstrip("/")
        assert started.poll() is None, log.read_text()
        sleep(0.05)
    raise AssertionError(log.read_text())
