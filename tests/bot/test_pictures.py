"""The weekly picture and the report as they are drawn, with the real compiler and fonts."""

from __future__ import annotations

import io
import json
import logging
import re
import tomllib
from concurrent.futures import ThreadPoolExecutor
from datetime import date, datetime
from importlib.resources import files
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
import typst
from PIL import Image, ImageChops
from pypdf import PdfReader
from pypdf.generic import StreamObject

from bot.pictures import compiler, example
from bot.pictures import report as report_page
from bot.pictures import weekly as weekly_page
from bot.pictures.report import report_data, report_pdf
from bot.pictures.weekly import weekly_data, weekly_png
from bot.wording.catalogue import languages, wording
from domain import invented
from domain.averaging import Least, Why
from domain.averaging_rules import RULES
from domain.bands import BAND_TABLES
from domain.danger import MORE_RED_FLAGS, RED_FLAGS, SEVERE_SYMPTOMS, Level
from domain.evidence.change import Shift
from domain.evidence.days import Part
from domain.evidence.trend import Direction
from domain.people import Note, NoteKind
from domain.readings import Mmhg, Reading
from domain.report import ReportView, report_view
from domain.shown import Against
from domain.week import WeekView, caption, week_view

GOLDEN = Path(__file__).parent / "golden" / "week.png"
GOLDEN_SIZE = (270, 338)
WORDS = wording("en")
LISBON = ZoneInfo("Europe/Lisbon")
MONDAY = date(2026, 3, 9)
# With a fraction of a second, as real clocks give: the compiler takes whole ones only.
MADE = datetime(2026, 3, 15, 18, 30, 5, 123456, tzinfo=LISBON)

#: What a caption under a picture may hold on the platform, in characters.
CAPTION_LIMIT = 1024

#: What a text looks like when the catalogue lacks one of its forms.
KEY = re.compile(r"\b(week|report|symptom|band|evidence)\.[a-z_]+\b")


def reading(day: int, hour: int, systolic: int, diastolic: int, minute: int = 0) -> Reading:
    at = datetime(2026, 3, day, hour, minute, tzinfo=LISBON)
    return Reading(systolic=Mmhg(systolic), diastolic=Mmhg(diastolic), at=at)


def week_of(*readings: Reading, symptoms: tuple[str, ...] = (), invented: bool = False) -> WeekView:
    notes = [
        Note(kind=NoteKind.SYMPTOM, at=datetime(2026, 3, 10, 9, n, tzinfo=LISBON), code=code)
        for n, code in enumerate(symptoms)
    ]
    return week_view(
        readings,
        zone=LISBON,
        first_day=MONDAY,
        target=(135, 85),
        notes=notes,
        invented=invented,
    )


def each_day(*clocks: tuple[int, int], systolic: int = 138, diastolic: int = 86) -> list[Reading]:
    return [
        reading(day, hour, systolic, diastolic, minute)
        for day in range(9, 16)
        for hour, minute in clocks
    ]


WEEKS = {
    "the invented week": (example.invented_week(), invented.NAME),
    "nothing": (week_of(), "Hollis"),
    "one reading": (week_of(reading(9, 7, 142, 91)), "José Ångström-Żółć"),
    "as high as can be": (week_of(*each_day((7, 0), (19, 0), systolic=300, diastolic=200)), "A"),
    "as low as is likely": (week_of(*each_day((7, 0), systolic=60, diastolic=30)), "W" * 40),
    "three times a day": (week_of(*each_day((7, 0), (13, 0), (19, 0))), "منصور عبد الرحمن الهاشمي"),
    "much to say": (
        week_of(
            *each_day((7, 0), (8, 0), (14, 0), systolic=165),
            *each_day((20, 0), systolic=181),
            symptoms=(
                "worst_headache",
                "tearing_back_pain",
                "sudden_vision_loss",
                "one_sided_weakness",
                "speech_trouble",
                "cough",
            ),
            invented=True,
        ),
        "Hollis Brandreth",
    ),
    "several each half": (
        week_of(
            *each_day((7, 0), (8, 0), (13, 0), (14, 0), (19, 0), (20, 0), systolic=182),
            symptoms=tuple(sorted(RED_FLAGS | SEVERE_SYMPTOMS)),
        ),
        "श्रीलक्ष्मी वेंकटेश्वरन् Bartholomew-Alexander",
    ),
}


def invented_report(rule: str = "esh", *, with_readings: bool = True) -> ReportView:
    notes = [
        *invented.invented_notes(),
        Note(kind=NoteKind.MEDICINE, at=datetime(2026, 3, 2, 8, tzinfo=LISBON), text="New dose"),
        Note(kind=NoteKind.ALARM, at=datetime(2026, 3, 13, 8, tzinfo=LISBON), code="urgent"),
    ]
    return report_view(
        invented.invented_readings() if with_readings else (),
        zone=LISBON,
        first_day=invented.FIRST_DAY,
        last_day=date(2026, 3, 15),
        rule=RULES[rule],
        target=invented.TARGET,
        made=MADE,
        asked=28,
        notes=notes if with_readings else (),
        invented=True,
    )


def decoded(png: bytes) -> Image.Image:
    return Image.open(io.BytesIO(png)).convert("RGB")


def difference(one: Image.Image, other: Image.Image) -> float:
    """Share of the pixels that differ by more than an eighth of the range in some colour."""
    gap = ImageChops.difference(one, other).convert("L").point(lambda v: 255 if v > 32 else 0)
    return sum(gap.histogram()[255:]) / (gap.width * gap.height)


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("week", WEEKS.values(), ids=list(WEEKS))
def test_a_week_is_a_portrait_picture_whose_every_character_has_a_glyph(
    week: tuple[WeekView, str], language: str
) -> None:
    view, name = week
    words = wording(language)

    picture = decoded(weekly_png(view, words, name))

    assert picture.size == (1080, 1350)
    assert not KEY.search(json.dumps(weekly_data(view, words, name)))
    # A picture draws a missing glyph as a box and says nothing; the standard for documents
    # makes it an error, so the same page is laid out as one.
    compiler.strict_pdf(weekly_page.TEMPLATE, weekly_data(view, words, name), made=MADE)


@pytest.mark.parametrize("language", languages())
def test_the_frames_of_two_days_never_touch_however_much_is_said_below(language: str) -> None:
    view, name = WEEKS["much to say"]
    picture = decoded(weekly_png(view, wording(language), name)).convert("L")
    # Down the left edge of the frames in the third column.
    edge = [picture.getpixel((619, y)) for y in range(picture.height)]
    dark = "".join("#" if isinstance(tone, int) and tone < 64 else " " for tone in edge)

    runs = [len(run) for run in dark.split()]
    below_the_sentence = runs[runs.index(max(runs[1:])) + 1 :]
    frames = [run for run in below_the_sentence if run > 30]

    assert len(frames) == 7
    assert max(frames) - min(frames) <= 2


def test_the_invented_week_looks_as_it_did(rewrite_golden: bool) -> None:
    picture = decoded(weekly_png(example.invented_week(), WORDS, invented.NAME))
    small = picture.resize(GOLDEN_SIZE, Image.Resampling.LANCZOS)
    if rewrite_golden:
        small.save(GOLDEN, optimize=True)

    assert difference(small, Image.open(GOLDEN).convert("RGB")) < 0.001


def test_another_average_does_not_look_the_same() -> None:
    other = week_of(*each_day((7, 0), (19, 0)))
    picture = decoded(weekly_png(other, WORDS, invented.NAME)).resize(GOLDEN_SIZE)

    assert difference(picture, Image.open(GOLDEN).convert("RGB")) > 0.01


def test_morning_and_evening_marks_differ_in_tone_shape_and_place() -> None:
    data = weekly_data(example.invented_week(), WORDS, invented.NAME)
    rows = data["rows"]
    assert isinstance(rows, list)

    heights = {(mark["half"], mark["down"]) for row in rows for mark in row["marks"]}

    assert len(heights) == 2  # two halves, each at its own height
    grey = decoded(weekly_png(example.invented_week(), WORDS, invented.NAME)).convert("L")
    # The first marks of the heading: a pale disc within a rim, a dark diamond.
    morning, evening = grey.getpixel((231, 725)), grey.getpixel((467, 725))
    assert isinstance(morning, int)
    assert isinstance(evening, int)
    assert morning - evening > 100


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("week", WEEKS.values(), ids=list(WEEKS))
def test_the_text_under_the_picture_fits_and_has_the_average_and_the_target(
    week: tuple[WeekView, str], language: str
) -> None:
    view, name = week
    words = wording(language)

    text = "\n".join(words.plain(said) for said in caption(view, name))

    assert len(text) <= CAPTION_LIMIT
    assert not KEY.search(text)
    assert name in text
    assert "135/85" in text
    if view.average is not None:
        assert str(view.average.value) in text


def test_the_picture_marks_a_severe_reading_and_says_so_in_words() -> None:
    data = weekly_data(week_of(reading(9, 7, 186, 112), reading(10, 7, 130, 80)), WORDS, "Hollis")
    rows = data["rows"]
    assert isinstance(rows, list)

    assert [row["cells"][0]["framed"] for row in rows[:2]] == [True, False]
    assert "Framed: a reading reached 180/110" in str(data["notes"])


def test_two_threads_draw_at_once() -> None:
    views = [view for view, _ in WEEKS.values()] * 2
    alone = [weekly_png(view, WORDS, "Hollis") for view in views]

    with ThreadPoolExecutor(2) as pool:
        together = list(pool.map(lambda view: weekly_png(view, WORDS, "Hollis"), views))

    assert together == alone


def test_the_example_is_written_where_it_is_told(tmp_path: Path) -> None:
    assert example.main([str(tmp_path / "week.png")]) == 0
    assert decoded((tmp_path / "week.png").read_bytes()).size == (1080, 1350)
    assert example.main([]) == 2


def pdf_tags(reader: PdfReader) -> list[str]:
    """The roles of the structure tree, in reading order."""
    found: list[str] = []

    def walk(node: object) -> None:
        node = node.get_object() if hasattr(node, "get_object") else node
        if isinstance(node, list):
            for child in node:
                walk(child)
        elif isinstance(node, dict):
            if "/S" in node:
                found.append(str(node["/S"]))
            walk(node.get("/K", []))

    walk(reader.root_object["/StructTreeRoot"])
    return found


def test_the_report_is_tagged_titled_and_in_its_language() -> None:
    reader = PdfReader(io.BytesIO(report_pdf(invented_report(), WORDS, invented.NAME)))
    tags = pdf_tags(reader)

    assert str(reader.root_object["/Lang"]) == "en"
    assert reader.metadata is not None
    assert reader.metadata.title == "Home blood pressure report: Hollis Brandreth"
    assert tags.count("/H1") == 1
    assert tags.count("/Table") == 4
    assert tags.count("/TH") == 5 + 3 + 3 + 6  # the head rows of the four tables
    assert "/Figure" in tags
    metadata = reader.root_object["/Metadata"].get_object()
    assert isinstance(metadata, StreamObject)
    assert b"pdfuaid:part" in metadata.get_data()


def test_the_report_says_who_when_under_which_rule_and_that_it_is_invented() -> None:
    reader = PdfReader(io.BytesIO(report_pdf(invented_report(), WORDS, invented.NAME)))
    pages = [" ".join(page.extract_text().split()) for page in reader.pages]

    assert 1 <= len(pages) <= 3
    for number, page in enumerate(pages, start=1):
        assert "INVENTED EXAMPLE" in page
        assert f"Page {number} of {len(pages)}" in page
        assert "Not a medical device" in page
    first = pages[0]
    assert "Hollis Brandreth" in first
    assert "2 March 2026 to 15 March 2026" in first
    assert "ESH 2021" in first
    assert "Enough readings for this rule" in first
    assert "below 135/85" in first
    assert "swollen ankles" in first
    assert "New dose" in first


def test_every_reading_is_printed_in_the_report() -> None:
    readings = invented.invented_readings()
    reader = PdfReader(io.BytesIO(report_pdf(invented_report(), WORDS, invented.NAME)))
    text = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    table = text[text.index("All readings", text.index("Please note")) :]

    for one in readings:
        clock = one.at.astimezone(LISBON).strftime("%H:%M")
        assert f"{clock} {one.systolic}/{one.diastolic} {one.pulse}" in table


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("rule", list(RULES))
@pytest.mark.parametrize("with_readings", [True, False], ids=["readings", "none"])
def test_every_rule_makes_a_report_that_keeps_to_the_standard(
    rule: str, with_readings: bool, language: str
) -> None:
    view = invented_report(rule, with_readings=with_readings)
    data = report_data(view, wording(language), "Żółć منصور श्री")

    assert not KEY.search(json.dumps(data))
    assert compiler.strict_pdf(report_page.TEMPLATE, data, made=MADE).startswith(b"%PDF")
    assert compiler.png_pages(report_page.TEMPLATE, data)


def test_a_name_that_no_font_can_show_still_gets_a_report(
    caplog: pytest.LogCaptureFixture,
) -> None:
    data = report_data(invented_report(), WORDS, "Hollis 🙂")
    with pytest.raises(typst.TypstError):
        compiler.strict_pdf(report_page.TEMPLATE, data, made=MADE)

    with caplog.at_level(logging.INFO):
        reader = PdfReader(io.BytesIO(report_pdf(invented_report(), WORDS, "Hollis 🙂")))

    assert len(reader.pages) >= 1
    assert "/TH" in pdf_tags(reader)
    assert "Hollis" not in caplog.text


def test_a_report_of_a_quarter_of_a_year_has_all_its_pages() -> None:
    readings = [
        one
        for part in range(6)
        for one in invented.invented_readings(first_day=date(2026, 1, 1 + 5 * part))
    ]
    view = report_view(
        readings,
        zone=LISBON,
        first_day=date(2026, 1, 1),
        last_day=date(2026, 3, 31),
        rule=RULES["jsh"],
        target=(135, 85),
        made=MADE,
    )

    reader = PdfReader(io.BytesIO(report_pdf(view, WORDS, "Hollis")))

    assert len(reader.pages) > 3
    assert pdf_tags(reader).count("/TR") >= len(readings)


def test_the_report_in_spanish_is_spanish_from_its_title_to_its_decimals() -> None:
    data = report_pdf(invented_report(), wording("es"), invented.NAME)
    reader = PdfReader(io.BytesIO(data))
    text = " ".join(" ".join(page.extract_text() for page in reader.pages).split())

    assert str(reader.root_object["/Lang"]) == "es"
    assert reader.metadata is not None
    assert reader.metadata.title == "Informe de presión arterial en casa: Hollis Brandreth"
    assert "del 2 de marzo de 2026 al 15 de marzo de 2026" in text
    assert "136,4 / 83,9" in text
    assert "lun 2 mar" in text
    assert f"Página 1 de {len(reader.pages)}" in text


@pytest.mark.parametrize("language", languages())
def test_a_language_has_words_for_every_code_that_pictures_and_reports_show(language: str) -> None:
    wanted = {
        *(f"week.against.{code}" for code in Against),
        *(f"report.against.{code}" for code in Against),
        *(f"report.left_out.{code}" for code in Why),
        *(f"report.lack.{code}" for code in Least),
        *(f"report.trend.{code}" for code in Direction),
        *(f"report.change.{code}" for code in Shift),
        *(f"report.evidence.basis.{part}" for part in Part),
        *(f"report.alarm.{level.code}" for level in Level if level is not Level.NONE),
        *(f"symptom.{code}" for code in RED_FLAGS | MORE_RED_FLAGS | SEVERE_SYMPTOMS),
        *(f"band.{band.name}" for table in BAND_TABLES.values() for band in table.bands),
    }

    assert wanted <= wording(language).keys


def test_every_symptom_that_can_be_understood_has_a_name() -> None:
    lexicon = files("domain.understanding") / "lexicon" / "en_symptoms.toml"
    codes = [sign["code"] for sign in tomllib.loads(lexicon.read_text("utf-8"))["sign"]]

    assert codes
    assert [code for code in codes if f"symptom.{code}" not in WORDS.keys] == []


def test_the_fonts_are_those_of_the_packages_only() -> None:
    assert set(compiler.fonts().families()) == {
        "Noto Sans",
        "Noto Sans Arabic",
        "Noto Sans Devanagari",
    }
