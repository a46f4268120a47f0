"""Templates of every page: whatever is put into them is escaped, and nothing may be missing."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from jinja2 import Environment


def page_templates(*folders: Path) -> Environment:
    """Make the templates of folders ready: escaped, and strict about names that are not given."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    return Environment(
        loader=FileSystemLoader(folders),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
