"""Settings: what each variable takes, and the one line that refuses a malformed one."""

from __future__ import annotations

import logging
from pathlib import Path

import pytest
from pydantic import ValidationError

from bot import logs, settings
from bot.errors import SettingsError, TokenMissingError
from bot.settings import SHAPES, Settings


@pytest.fixture(autouse=True)
def _nothing_set(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    for name in SHAPES:
        monkeypatch.delenv(f"CUFFBELL_{name.upper()}", raising=False)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))


def test_nothing_needs_to_be_set(tmp_path: Path) -> None:
    found = settings.load()

    assert found.telegram_api == "https://api.telegram.org"
    assert found.send_rate == 30
    assert found.log == "info"
    assert found.database_url == f"sqlite:///{tmp_path / 'cuffbell' / 'cuffbell.sqlite3'}"


def test_an_empty_variable_counts_as_not_set(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CUFFBELL_SEND_RATE", "")

    assert settings.load().send_rate == 30


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("TELEGRAM_TOKEN", "with a space"),
        ("TELEGRAM_TOKEN", "with/slash"),
        ("TELEGRAM_API", "127.0.0.1:8081"),
        ("TELEGRAM_API", "ftp://127.0.0.1"),
        ("TELEGRAM_API", "http://127.0.0.1:8081/bot"),
        ("DATABASE", "mysql://somewhere/cuffbell"),
        ("DATABASE", "sqlite://"),
        ("DATABASE", "sqlite:///:memory:"),
        ("DATABASE", "cuffbell.db"),
        ("SEND_RATE", "fast"),
        ("SEND_RATE", "0"),
        ("SEND_RATE", "-1"),
        ("SEND_RATE", "nan"),
        ("SEND_RATE", "inf"),
        ("SEND_RATE", "1001"),
        ("DATA", __file__),
        ("LOG", "loud"),
        ("HEALTH", "0"),
        ("HEALTH", "65536"),
        ("HEALTH", ":8085"),
        ("HEALTH", "here and there:8085"),
        ("LIFE_SIGN", "watch.example"),
        ("LIFE_SIGN", "ftp://watch.example/secret"),
        ("LIFE_SIGN", "https://watch.example/two words"),
    ],
)
def test_a_malformed_value_gets_one_line_with_the_variable_and_its_shape(
    monkeypatch: pytest.MonkeyPatch, name: str, value: str
) -> None:
    monkeypatch.setenv(f"CUFFBELL_{name}", value)

    with pytest.raises(SettingsError) as refused:
        settings.load()

    text = str(refused.value)
    assert text == f"CUFFBELL_{name} should be {SHAPES[name.lower()]}."


@pytest.mark.parametrize(
    ("name", "value", "field", "expected"),
    [
        ("TELEGRAM_API", "http://127.0.0.1:8081/", "telegram_api", "http://127.0.0.1:8081"),
        ("DATABASE", "sqlite:////var/x.db", "database_url", "sqlite:////var/x.db"),
        ("DATABASE", "postgresql://h/n", "database_url", "postgresql+psycopg://h/n"),
        ("DATABASE", "postgresql+psycopg://h/n", "database_url", "postgresql+psycopg://h/n"),
        ("SEND_RATE", "0.5", "send_rate", 0.5),
        ("SEND_RATE", "1000", "send_rate", 1000),
        ("LOG", "Debug", "log", "debug"),
        ("HEALTH", "8085", "health_address", ("127.0.0.1", 8085)),
        ("HEALTH", " 0.0.0.0:65535", "health_address", ("0.0.0.0", 65535)),
        ("HEALTH", "[::1]:1", "health_address", ("::1", 1)),
        ("LIFE_SIGN", "https://a.example/b?c=d", "life_sign_url", "https://a.example/b?c=d"),
        ("TELEGRAM_TOKEN", " 1:abc ", "token", "1:abc"),
    ],
)
def test_a_good_value_is_taken(
    monkeypatch: pytest.MonkeyPatch, name: str, value: str, field: str, expected: object
) -> None:
    monkeypatch.setenv(f"CUFFBELL_{name}", value)

    assert getattr(settings.load(), field) == expected


def test_every_setting_has_a_shape_that_can_be_told() -> None:
    assert set(Settings.model_fields) == set(SHAPES)


def test_a_missing_token_is_refused_only_when_it_is_needed() -> None:
    found = settings.load()

    with pytest.raises(TokenMissingError, match="CUFFBELL_TELEGRAM_TOKEN"):
        _ = found.token


def test_the_token_is_in_no_text_of_the_settings(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CUFFBELL_TELEGRAM_TOKEN", "7000:secret")
    monkeypatch.setenv("CUFFBELL_LIFE_SIGN", "https://watch.example/secret")

    found = settings.load()

    assert "secret" not in repr(found) + str(found) + found.model_dump_json()


def test_settings_cannot_be_changed() -> None:
    with pytest.raises(ValidationError):
        settings.load().send_rate = 5


def test_a_tilde_in_the_data_folder_is_the_home_folder(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("CUFFBELL_DATA", "~/bell")

    assert settings.load().data == tmp_path / "bell"


# --- logs


@pytest.fixture
def _loggers_as_before(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in (*logs.OUR_PACKAGES, ""):
        logger = logging.getLogger(name)
        monkeypatch.setattr(logger, "handlers", logger.handlers)
        monkeypatch.setattr(logger, "propagate", logger.propagate)
        monkeypatch.setattr(logger, "level", logger.level)


@pytest.mark.usefixtures("_loggers_as_before")
def test_a_record_shows_its_fixed_message_and_the_known_fields_only(
    capsys: pytest.CaptureFixture[str],
) -> None:
    logs.set_up("info")
    fields = {"action": "deliver", "count": 3, "text": "142/91 from Hollis"}

    logging.getLogger("bot.delivery").info("outgoing sent", extra=fields)

    error = capsys.readouterr().err
    assert error.endswith("info bot.delivery: outgoing sent action=deliver count=3\n")


@pytest.mark.usefixtures("_loggers_as_before")
def test_an_exception_is_shown_by_kind_and_place_but_not_by_its_words(
    capsys: pytest.CaptureFixture[str],
) -> None:
    logs.set_up("info")

    def fail() -> None:
        try:
            raise KeyError("192/114 and my chest hurts")
        except KeyError as error:
            raise ValueError("Hollis Brandreth") from error

    try:
        fail()
    except ValueError:
        logging.getLogger("storage.work").exception("not stored", extra={"action": "store"})

    error = capsys.readouterr().err
    assert "ValueError" in error
    assert "KeyError" in error
    assert "in fail" in error
    assert "chest" not in error
    assert "Hollis" not in error


@pytest.mark.usefixtures("_loggers_as_before")
@pytest.mark.parametrize("name", ["httpx", "telegram.Bot", "sqlalchemy.engine", "asyncio"])
def test_other_libraries_write_nothing(capsys: pytest.CaptureFixture[str], name: str) -> None:
    logs.set_up("info")

    logging.getLogger(name).error("GET https://server/bot7000:secret/getMe")

    assert capsys.readouterr().err == ""


@pytest.mark.usefixtures("_loggers_as_before")
def test_what_is_below_the_level_is_left_out(capsys: pytest.CaptureFixture[str]) -> None:
    logs.set_up("info")

    logging.getLogger("bot.app").debug("detail")

    assert capsys.readouterr().err == ""
