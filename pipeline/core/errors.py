"""Every error that a person can cause: what is wrong, with which file or field, and what to do.

CrossemetryError
├── ClipError              the film file cannot be used
│   ├── UnreadableClip     not a video, damaged, or not to be opened
│   ├── EmptyClip          zero bytes or no frame decoded
│   └── NoPictureStream    sound only
├── CalibrationError       a lens cannot be measured from this film of a board
├── SettingsError          a value, a side file or a target file is wrong
│   ├── LensProfileError   a lens profile is wrong, or is of another picture than the clip's
│   ├── MarksError         marks on the field are wrong, or do not give a camera
│   ├── DrillError         a drill cannot be taught so, or its file cannot be used
│   └── CorrectionError    a rep cannot be corrected so, or what was learned cannot be used
├── LogError               the training log cannot be used
│   ├── LogBusy            another program is writing to it
│   ├── NewerLog           a newer version of the program made it
│   ├── StaleMark          somebody else has marked the same rep in the meantime
│   └── ConsentError       nobody has allowed this athlete to be filmed, or not any more
├── ReviewError            what was sent to the review page cannot be used
│   └── UploadError        a film that was sent is too large, or no film
├── ModelError             the pose model is missing, altered, or does not run here
└── OutputError            results cannot be written
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypedDict, TypeVar

from pipeline.core.messages import Message, Texts, message

ErrorClass = TypeVar("ErrorClass", bound="CrossemetryError")


class ErrorText(TypedDict):
    """Parts of an error's text, from `error_text`."""

    wrong: Message
    what_to_do: Message


def error_text(name: str, /, **values: object) -> ErrorText:
    """Find an error's text by its name in ``[errors]`` of the catalogue.

    Parameters
    ----------
    name
        The entry: it has ``wrong`` (what is wrong) and ``do`` (what to do about it).
    values
        What stands in the braces of either; numbers in SI units.

    Examples
    --------
    >>> error_text("not_toml", file="marks.toml", line=3, why="no value")["wrong"]
    'marks.toml, line 3: not valid TOML: no value.'
    """
    return ErrorText(
        wrong=message(f"errors.{name}.wrong", **values),
        what_to_do=message(f"errors.{name}.do", **values),
    )


class CrossemetryError(Exception):
    """Base of all errors that a person can cause.

    As a string an error is in English; `said` translates it.

    Parameters
    ----------
    wrong
        What is wrong, with the file or the field named.
    what_to_do
        One sentence that helps.
    """

    exit_code = 1

    def __init__(self, wrong: str, *, what_to_do: str) -> None:
        super().__init__(f"{wrong} {what_to_do}")
        self.message = wrong
        self.what_to_do = what_to_do

    def __reduce__(self) -> tuple[Callable[..., CrossemetryError], tuple[object, ...]]:
        """Let an error travel from one process to another with its translatable texts."""
        return _made_again, (type(self), self.message, self.what_to_do)

    @classmethod
    def of(cls: type[ErrorClass], name: str, /, **values: object) -> ErrorClass:
        """Make the error of this name in the catalogue, with what stands in its braces."""
        return cls(**error_text(name, **values))

    def translate(self, texts: Texts) -> str:
        """Say what is wrong and what to do in the language of a catalogue."""
        return f"{texts.translate(self.message)} {texts.translate(self.what_to_do)}"


def _made_again(kind: type[ErrorClass], wrong: str, what_to_do: str) -> ErrorClass:
    return kind(wrong, what_to_do=what_to_do)


class ClipError(CrossemetryError):
    """The film file cannot be used."""

    exit_code = 2


class UnreadableClip(ClipError):
    """Not a video, damaged, or not to be opened."""


class EmptyClip(ClipError):
    """Zero bytes, or no frame that decodes."""


class NoPictureStream(ClipError):
    """A file with sound only."""


class SettingsError(CrossemetryError):
    """A value, a side file or a target file is wrong."""

    exit_code = 2


class LensProfileError(SettingsError):
    """A lens profile is wrong, or is of another picture than the clip's."""


class MarksError(SettingsError):
    """Marks on the field are wrong, or do not give a camera."""


class DrillError(SettingsError):
    """A drill cannot be taught so, or its file cannot be used."""


class CorrectionError(SettingsError):
    """A rep cannot be corrected so, or what was learned from corrections cannot be used."""


class CalibrationError(CrossemetryError):
    """A lens cannot be measured from this film of a board."""

    exit_code = 2


class LogError(CrossemetryError):
    """The training log cannot be used, or not so."""

    exit_code = 2


class LogBusy(LogError):
    """Another program is writing to the training log."""


class NewerLog(LogError):
    """A newer version of the program made the training log."""


class StaleMark(LogError):
    """Somebody else has marked the same rep in the meantime."""


class ConsentError(LogError):
    """Nobody has allowed this athlete to be filmed, or the consent has run out."""


class ReviewError(CrossemetryError):
    """What was sent to the review page cannot be used."""

    exit_code = 2


class UploadError(ReviewError):
    """A film that was sent is too large, or no film."""


class ModelError(CrossemetryError):
    """The pose model is missing, altered, or does not run on this machine."""


class OutputError(CrossemetryError):
    """Results cannot be written."""
