"""Pictures and documents: stored once, named by an id, fetched by a path.

Sizes are bytes, widths and heights pixels. Limits: what a bot may send and fetch on the
platform (its public API description).
"""

from __future__ import annotations

import mimetypes
import secrets
import struct
from dataclasses import dataclass
from typing import Any, Final

from bot.localchat.refusals import Refusal, bad_request, too_large
from bot.localchat.store import Store

MOST_UPLOADED: Final = 50 * 1024 * 1024
MOST_FETCHED: Final = 20 * 1024 * 1024
MOST_PHOTO: Final = 10 * 1024 * 1024
_MOST_PIXELS_AROUND: Final = 10_000
_MOST_ASPECT: Final = 20
_FOLDERS: Final = {"photo": "photos", "voice": "voice", "sticker": "stickers"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Upload:
    """Bytes with the name and type that came with them."""

    name: str
    content: bytes
    mime: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredFile:
    """One file in the store. `width` and `height` only for pictures."""

    id: str
    unique_id: str
    path: str
    name: str
    mime: str
    size: int
    width: int | None
    height: int | None

    def api(self) -> dict[str, Any]:
        """What getFile answers."""
        return {
            "file_id": self.id,
            "file_unique_id": self.unique_id,
            "file_size": self.size,
            "file_path": self.path,
        }

    def as_photo(self) -> list[dict[str, Any]]:
        """The sizes of a photo: the one that was sent."""
        size = {"file_id": self.id, "file_unique_id": self.unique_id, "file_size": self.size}
        return [size | {"width": self.width, "height": self.height}]

    def as_document(self) -> dict[str, Any]:
        """The document of a message."""
        return {
            "file_id": self.id,
            "file_unique_id": self.unique_id,
            "file_size": self.size,
            "file_name": self.name,
            "mime_type": self.mime,
        }


class Files:
    """All files of one folder."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def keep(self, kind: str, upload: Upload) -> StoredFile:
        """Store an upload as "photo", "document", "voice" or "sticker".

        Raises:
            Refusal: empty, too big, or not a picture where one is needed.
        """
        if not upload.content:
            raise bad_request("file must be non-empty")
        if len(upload.content) > MOST_UPLOADED:
            raise too_large()
        size = _photo_size(upload.content) if kind == "photo" else None
        name = upload.name.replace("\\", "/").rsplit("/", 1)[-1] or "file"
        guessed = mimetypes.guess_type(name)[0] or upload.mime
        with self._store.transaction():
            count = self._store.row("SELECT COUNT(*) AS n FROM file")
            number = 0 if count is None else int(count["n"])
            ending = name.rsplit(".", 1)[-1].lower() if "." in name else ""
            ending = f".{ending}" if ending.isalnum() and ending.isascii() else ""
            path = f"{_FOLDERS.get(kind, 'documents')}/file_{number}{ending}"
            key = secrets.token_urlsafe(24)
            self._store.insert(
                "INSERT INTO file VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                (
                    key,
                    secrets.token_urlsafe(9),
                    path,
                    name,
                    guessed or "application/octet-stream",
                    size[0] if size else None,
                    size[1] if size else None,
                    upload.content,
                ),
            )
        found = self.by_id(key)
        assert found is not None
        return found

    def by_id(self, key: str) -> StoredFile | None:
        """The file with this id, None when there is none."""
        return self._one("id", key)

    def by_path(self, path: str) -> StoredFile | None:
        """The file with this path, None when there is none."""
        return self._one("path", path)

    def content(self, file: StoredFile) -> bytes:
        """The bytes of a file."""
        row = self._store.row("SELECT content FROM file WHERE id = ?", (file.id,))
        return b"" if row is None else bytes(row["content"])

    def _one(self, column: str, value: str) -> StoredFile | None:
        columns = "id, unique_id, path, name, mime, width, height, LENGTH(content) AS size"
        query = f"SELECT {columns} FROM file WHERE {column} = ?"  # noqa: S608 - names of ours
        row = self._store.row(query, (value,))
        return None if row is None else StoredFile(**dict(row))


def is_photo(content: bytes) -> bool:
    """True for what can be sent as a photo: a PNG or JPEG, not too big, not too narrow."""
    try:
        _photo_size(content)
    except Refusal:
        return False
    return True


def _photo_size(content: bytes) -> tuple[int, int]:
    if len(content) > MOST_PHOTO:
        raise bad_request(f"file of size {len(content)} bytes is too big for a photo")
    found = _dimensions(content)
    if found is None:
        raise bad_request("IMAGE_PROCESS_FAILED")
    width, height = found
    narrow, wide = sorted(found)
    if width + height > _MOST_PIXELS_AROUND or wide > narrow * _MOST_ASPECT:
        raise bad_request("PHOTO_INVALID_DIMENSIONS")
    return found


def _dimensions(content: bytes) -> tuple[int, int] | None:
    """Width and height of a PNG or JPEG, None for anything else or a broken one."""
    if content[:8] == b"\x89PNG\r\n\x1a\n" and len(content) >= 24:
        width, height = struct.unpack(">II", content[16:24])
        return (width, height) if width and height else None
    if content[:2] == b"\xff\xd8":
        return _jpeg_dimensions(content)
    return None


def _jpeg_dimensions(content: bytes) -> tuple[int, int] | None:
    position = 2
    while position + 9 <= len(content):
        if content[position] != 0xFF:
            return None
        marker = content[position + 1]
        if marker == 0xFF:  # padding
            position += 1
            continue
        # Start of frame, all kinds; C4, C8 and CC share the range and are other segments.
        if 0xC0 <= marker <= 0xCF and marker not in (0xC4, 0xC8, 0xCC):
            height, width = struct.unpack(">HH", content[position + 5 : position + 9])
            return (width, height) if width and height else None
        position += 2 + int.from_bytes(content[position + 2 : position + 4], "big")
    return None
