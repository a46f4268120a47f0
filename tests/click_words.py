"""Makes click's words in other languages (.po) into the files that are read (.mo)."""

from __future__ import annotations

import io
from pathlib import Path

from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

from pipeline.commands.help import LOCALES


def compiled(words: Path) -> bytes:
    """Give what the .mo file beside a .po file has to hold."""
    with words.open("rb") as file:
        catalogue = read_po(file, abort_invalid=True)
    made = io.BytesIO()
    write_mo(made, catalogue)
    return made.getvalue()


def all_words() -> list[Path]:
    """Give the .po file of every language."""
    return sorted(LOCALES.rglob("*.po"))


if __name__ == "__main__":
    for words in all_words():
        words.with_suffix(".mo").write_bytes(compiled(words))
