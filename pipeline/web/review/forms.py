"""Reads and checks the fields of a form of the review, and redirects after it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from pipeline.core.errors import ReviewError
from pipeline.core.messages import message
from pipeline.settings.checks import check_stature_m

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

MOST_FIELDS = 40
LONGEST_TEXT = 500
_LARGEST = 2**53


async def read_form(request: Request) -> dict[str, str]:
    """Read the text fields of a form.

    Raises
    ------
    ReviewError
        The form has too many fields, or a file.
    """
    from starlette.exceptions import HTTPException

    try:
        form = await request.form(max_files=0, max_fields=MOST_FIELDS)
    except HTTPException as error:
        raise ReviewError.of("form_unreadable") from error
    return {name: value for name, value in form.items() if isinstance(value, str)}


def number_in(form: Mapping[str, str], name: str, *, least: int = 0) -> int:
    """Parse a whole number of a form, or raise `ReviewError`."""
    typed = form.get(name, "")
    if typed.isascii() and typed.isdigit() and least <= int(typed[:17]) < _LARGEST:
        return int(typed[:17])
    raise ReviewError.of("field_without_number", field=name)


def choice_in(form: Mapping[str, str], name: str, known: Any) -> str | None:  # noqa: ANN401
    """Give a choice of a form; None if it is empty; raises `ReviewError` for an unknown one."""
    typed = form.get(name, "")
    if not typed:
        return None
    if typed not in known:
        raise ReviewError.of("field_with_unknown_word", field=name)
    return typed


def text_in(form: Mapping[str, str], name: str, *, longest: int = LONGEST_TEXT) -> str | None:
    """Give free text on one line; None if it is empty; raises `ReviewError` if it is not valid."""
    typed = " ".join(form.get(name, "").split())
    if not typed:
        return None
    if len(typed) > longest or not typed.isprintable():
        raise ReviewError.of("field_too_full", field=name, longest=longest)
    return typed


def stature_in(form: Mapping[str, str]) -> float | None:
    """Parse a stature in metres; None if it is empty; raises `SettingsError` if it is not valid."""
    # Some languages write a decimal comma.
    typed = form.get("stature", "").strip().replace(",", ".")
    return check_stature_m(typed, named=message("review.named_stature")) if typed else None


def return_address(form: Mapping[str, str], usual: str = "/") -> str:
    r"""Give the address to return to; only an address of this server is accepted.

    Examples
    --------
    >>> return_address({"next": "/?who=3"}), return_address({"next": "//evil.example"})
    ('/?who=3', '/')
    >>> return_address({"next": "/\\evil.example"}), return_address({})
    ('/', '/')
    """
    address = form.get("next", "")
    own = address.startswith("/") and not address.startswith("//")
    return address if own and "\\" not in address and address.isprintable() else usual


def redirect_to(address: str) -> Response:
    """Redirect after a form (303), so that a reload does not send it again."""
    from urllib.parse import quote

    from starlette.responses import Response

    location = quote(address, safe="/?&=#%,+:;@!$'()*~-._")
    return Response(status_code=303, headers={"location": location})
