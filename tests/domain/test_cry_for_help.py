"""A cry for help that names no sign: the number at once, and those who may be told."""

from __future__ import annotations

import pytest

from tests.domain.conftest import Stage


@pytest.mark.parametrize("text", ["help", "HELP!", "I'm dying", "call an ambulance", "socorro"])
def test_a_cry_for_help_is_answered_as_an_emergency(stage: Stage, text: str) -> None:
    stage.says(text)

    assert "emergency.call" in stage.heard()


@pytest.mark.parametrize("text", ["/help", "help with the app", "how does this work, help"])
def test_help_with_the_program_alarms_nobody(stage: Stage, text: str) -> None:
    stage.says(text)

    assert not [key for key in stage.heard() if key.startswith("emergency")]
    assert stage.heard()
