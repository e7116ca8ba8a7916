"""Options and fixtures that tests of every layer share."""

from __future__ import annotations

import pytest


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--rewrite-golden",
        action="store_true",
        help="write the golden files anew from what the program makes now; read the diff",
    )


@pytest.fixture
def rewrite_golden(request: pytest.FixtureRequest) -> bool:
    """Whether golden files are to be written instead of compared."""
    return bool(request.config.getoption("--rewrite-golden"))
