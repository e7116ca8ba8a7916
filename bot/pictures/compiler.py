"""Turns a template and its data into a picture or a document, with typst.

A `Fonts` object may be shared by threads, a `Compiler` may not ("Already borrowed"), so each
thread makes its own, from a file path: one made from bytes fails at its second use. Fonts
come from packages only, so that a picture looks the same on every machine. Nothing is
fetched: no template package is named anywhere.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Mapping
from datetime import datetime
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Final

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

_of_thread = threading.local()


@cache
def fonts() -> typst.Fonts:
    """The fonts of `FONT_PACKAGES` and no others."""
    folders = [Path(str(import_module(name).ROOT)) for name in FONT_PACKAGES]
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=folders)


def png(template: str, data: Mapping[str, object]) -> bytes:
    """The first and only page of a template, one pixel a point."""
    found = _compiler(template).compile(format="png", ppi=PIXELS_PER_INCH, sys_inputs=_inputs(data))
    if not isinstance(found, bytes):
        raise TypeError(f"{template} must fill exactly one page to become a picture.")
    return found


def pdf(template: str, data: Mapping[str, object], *, made: datetime) -> bytes:
    """A tagged document that keeps to PDF/UA-1, dated `made` (aware).

    Raises:
        typst.TypstError: the template breaks the standard, or a character has no glyph.
    """
    found = _compiler(template).compile(
        format="pdf", pdf_standards="ua-1", sys_inputs=_inputs(data), timestamp=made
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
