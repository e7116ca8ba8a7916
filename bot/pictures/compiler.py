"""Turns a template and its data into a picture or a document, with typst.

A `Fonts` object may be shared by threads, a `Compiler` may not ("Already borrowed"), so each
thread makes its own, from a file path: one made from bytes fails at its second use. Fonts
come from packages only, so that a picture looks the same on every machine. Nothing is
fetched: no template package is named anywhere.
"""

from __future__ import annotations

import json
import logging
import threading
from collections.abc import Mapping
from datetime import UTC, datetime
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Final, Literal

import typst

TEMPLATES: Final = Path(__file__).parent / "templates"

#: Import names of the packages that hold the fonts named in `templates/parts.typ`.
FONT_PACKAGES: Final = (
    "fontpkg_noto_sans",
    "fontpkg_noto_sans_arabic",
    "fontpkg_noto_sans_devanagari",
)

#: One pixel a point.
PIXELS_PER_INCH: Final = 72

#: What typst says of a character without a glyph.
_NO_GLYPH: Final = "could not be displayed"

log = logging.getLogger(__name__)

_of_thread = threading.local()


@cache
def fonts() -> typst.Fonts:
    """The fonts of `FONT_PACKAGES` and no others."""
    folders = [Path(str(import_module(name).ROOT)) for name in FONT_PACKAGES]
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=folders)


def png(template: str, data: Mapping[str, object]) -> bytes:
    """The first and only page of a template, one pixel a point."""
    pages = png_pages(template, data)
    if len(pages) != 1:
        raise ValueError(f"{template} must fill exactly one page to become a picture.")
    return pages[0]


def png_pages(template: str, data: Mapping[str, object]) -> list[bytes]:
    """Every page of a template as a picture, one pixel a point.

    A character without a glyph is drawn as a box and goes unnoticed; `strict_pdf` tells.
    """
    found = _compiler(template).compile(format="png", ppi=PIXELS_PER_INCH, sys_inputs=_inputs(data))
    assert found is not None
    return [found] if isinstance(found, bytes) else found


def pdf(template: str, data: Mapping[str, object], *, made: datetime) -> bytes:
    """As `strict_pdf`, but never without a document.

    A name with a picture sign must not cost somebody the report: where a character has no
    glyph the document is tagged all the same, shows a box there, and does not claim the
    standard.

    Raises:
        typst.TypstError: the template breaks the standard.
    """
    try:
        return strict_pdf(template, data, made=made)
    except typst.TypstError as error:
        if _NO_GLYPH not in error.message:
            raise
        log.info("a character has no glyph, document without the standard's mark")
        return _pdf(template, data, made, [])


def strict_pdf(template: str, data: Mapping[str, object], *, made: datetime) -> bytes:
    """A tagged document that keeps to PDF/UA-1, dated `made` (aware).

    Raises:
        typst.TypstError: the template breaks the standard, or a character has no glyph.
    """
    return _pdf(template, data, made, ["ua-1"])


def _pdf(
    template: str, data: Mapping[str, object], made: datetime, standards: list[Literal["ua-1"]]
) -> bytes:
    found = _compiler(template).compile(
        format="pdf",
        pdf_standards=[*standards],
        sys_inputs=_inputs(data),
        # typst takes whole seconds and fixed offsets only
        timestamp=made.astimezone(UTC).replace(microsecond=0),
    )
    assert isinstance(found, bytes)
    return found


def _inputs(data: Mapping[str, object]) -> dict[str, str]:
    return {"data": json.dumps(data, ensure_ascii=False)}


def _compiler(template: str) -> typst.Compiler:
    known: dict[str, typst.Compiler] = _of_thread.__dict__.setdefault("compilers", {})
    if template not in known:
        known[template] = typst.Compiler(
            TEMPLATES / template, root=TEMPLATES, font_paths=fonts(), ignore_system_fonts=True
        )
    return known[template]
