"""`cuffbell understand`: lines in, lines out, whatever the lines hold."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
import time
from typing import Any

import pytest

from bot.commands.understand import answer, run

NOW = "2026-03-10T07:42:00+00:00"
KEYS = ["id", "readings", "symptoms", "doubts", "intent", "alarm"]


def line(text: str, number: object = "a1", now: str = NOW) -> bytes:
    return json.dumps({"id": number, "text": text, "now": now}).encode() + b"\n"


def command(*words: str, given: bytes = b"") -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "-m", "bot.cli", "understand", *words],
        input=given,
        capture_output=True,
        check=False,
    )


def test_each_line_is_answered_in_order_with_all_fields() -> None:
    texts = ["127/74 61, bit dizzy", "", "chest pain", "\n\n", "日本語 🙂", "<b>142/85</b>"]

    done = command(given=b"".join(line(text, f"n{i}") for i, text in enumerate(texts)))

    answers = [json.loads(one) for one in done.stdout.splitlines()]
    assert done.returncode == 0
    assert done.stderr == b""
    assert [one["id"] for one in answers] == [f"n{i}" for i in range(len(texts))]
    assert all(list(one) == KEYS for one in answers)
    assert answers[0] == {
        "id": "n0",
        "readings": [{"systolic": 127, "diastolic": 74, "pulse": 61, "at": None}],
        "symptoms": ["dizziness"],
        "doubts": [],
        "intent": "reading",
        "alarm": "none",
    }
    assert answers[2]["alarm"] == "emergency"


@pytest.mark.parametrize(
    "bad",
    [
        b"\n",
        b"not json\n",
        b"[1, 2]\n",
        b"\xff\xfe\n",
        b'{"id": "x"}\n',
        b'{"id": "x", "text": 5, "now": "2026-03-10T07:42:00+00:00"}\n',
        b'{"id": "x", "text": "128/76", "now": "yesterday"}\n',
        b'{"id": "x", "text": "128/76", "now": "2026-03-10T07:42:00"}\n',
        b'{"id": "x", "text": "128/76"}\n',
        b"[" * 100_000 + b"\n",
        b"1" * 5_000 + b"\n",
    ],
)
def test_a_line_that_is_no_message_is_answered_with_an_error_and_the_next_is_read(
    bad: bytes,
) -> None:
    out = io.BytesIO()

    status = run(io.BytesIO(bad + line("128/76")), out)

    first, second = (json.loads(one) for one in out.getvalue().splitlines())
    assert status == 0
    assert first["error"]
    assert first["readings"] == []
    assert (first["intent"], first["alarm"]) == ("other", "none")
    assert second["readings"][0]["systolic"] == 128


@pytest.mark.parametrize("number", ["", "ä🙂", "\ud800", "x" * 1000, 7, None])
def test_the_id_comes_back_as_it_was(number: object) -> None:
    assert answer(line("128/76", number))["id"] == number


@pytest.mark.parametrize("now", ["0001-01-01T00:00:00+00:00", "9999-12-31T23:59:59-12:00"])
def test_the_ends_of_the_calendar_are_answered(now: str) -> None:
    given: dict[str, Any] = answer(line("yesterday evening 128/76", now=now))

    assert given["id"] == "a1"


def test_an_answer_comes_before_the_next_line_is_sent() -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "bot.cli", "understand"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    assert process.stdin is not None
    assert process.stdout is not None
    try:
        for number in ("one", "two"):
            process.stdin.write(line("128/76", number))
            process.stdin.flush()
            assert json.loads(process.stdout.readline())["id"] == number
    finally:
        process.stdin.close()
        process.stdout.close()
        process.wait(timeout=10)


def test_the_command_imports_nothing_heavy() -> None:
    """A start in under half a second is kept by what is imported, not by this machine's mood."""
    code = (
        "import io, sys; from bot.cli import main; sys.stdin = io.TextIOWrapper(io.BytesIO());"
        "main(['understand']); heavy = {'telegram', 'sqlalchemy', 'pydantic', 'babel', 'typst',"
        "'aiohttp', 'asyncio'} & set(sys.modules); print(sorted(heavy))"
    )

    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)

    assert done.stdout.strip() == b"[]"


def test_the_program_starts_quickly() -> None:
    def seconds() -> float:
        begun = time.perf_counter()
        command(given=line("128/76"))
        return time.perf_counter() - begun

    assert min(seconds() for _ in range(3)) < 1.5  # half a second on an idle machine


def test_explain_draws_what_was_found_under_the_words_that_gave_it() -> None:
    done = command("--now", NOW, "--explain", "192/114 and my chest hurts, no headache")

    lines = done.stdout.decode().splitlines()
    assert done.returncode == 0
    assert lines == [
        "> 192/114 and my chest hurts, no headache",
        "  ^^^^^^^        ~~~~~~~~~~~",
        "  |              red flag chest_pain",
        "  192/114 mmHg, now",
        "",
        "intent    reading",
        "denied    headache",
        "alarm     emergency",
    ]


def test_explain_writes_what_the_terminal_cannot_draw_as_numbers() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "bot.cli", "understand", "--now", NOW, "--explain", "é 🙂 128/76"],
        capture_output=True,
        check=False,
        env=os.environ | {"PYTHONIOENCODING": "ascii"},
    )

    assert done.returncode == 0
    assert done.stdout.startswith(b"> \\xe9 \\U0001f642 128/76\n")


def test_explain_refuses_a_moment_that_is_none() -> None:
    done = command("--now", "soon", "--explain", "128/76")

    assert done.returncode == 2
    assert b"ISO 8601" in done.stderr


@pytest.mark.parametrize("words", [(), ("--explain", "128/76")])
def test_a_language_without_a_lexicon_is_refused_with_those_that_there_are(
    words: tuple[str, ...],
) -> None:
    done = command("--language", "xx", *words, given=line("128/76"))

    assert (done.returncode, done.stdout) == (2, b"")
    assert b"must be one of en, es" in done.stderr


def test_messages_are_read_in_the_language_that_was_named() -> None:
    given = line("142 sobre 91, me falta el aire")

    named = json.loads(command("--language", "es", given=given).stdout)
    usual = json.loads(command(given=given).stdout)

    assert list(named) == list(usual) == KEYS
    assert (named["readings"][0]["systolic"], named["readings"][0]["diastolic"]) == (142, 91)
    assert (named["symptoms"], named["alarm"]) == (["breathlessness"], "emergency")
    assert usual["symptoms"] == []


@pytest.mark.parametrize(
    ("language", "text"), [("en", "my chest hurts"), ("es", "me duele el pecho")]
)
def test_explain_reads_in_the_language_that_was_named(language: str, text: str) -> None:
    done = command("--language", language, "--now", NOW, "--explain", text)

    assert done.returncode == 0
    assert b"red flag chest_pain" in done.stdout
    assert done.stdout.endswith(b"alarm     emergency\n")
