"""Steps from one schema to the next, run by `storage.schema` (Alembic, without an ini file).

A new step is a file in `versions/` and its number here.
"""

from typing import Final

#: The schema that this release works with.
HEAD: Final = "0007"
