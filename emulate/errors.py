"""What a user can mend, and what a reader should doubt.

    EmulateError           anything the user can mend: one sentence, what, where, what is accepted
      MaterialError        a frame or clip that cannot be read as asked
      PanelError           a panel file or a panel that cannot exist
      ReadingError         a meter file, sheet or trace that cannot be understood
      FindingsError        a file of findings that cannot be understood
      RequestError         a call or command that asks for something impossible
      OutputError          a place that cannot be written

A defect of ours is none of these: it crashes with a traceback. A doubt is no error but a
`Caveat`: it travels with the data into every finding, picture and page.
"""

from __future__ import annotations

from dataclasses import dataclass

LONGEST = 2000  # characters of a sentence, some twenty lines of a terminal; our own limit


class EmulateError(Exception):
    """One sentence the user can act on; of a very long one, quoted from a file, both ends."""

    def __str__(self) -> str:
        text = super().__str__()
        if len(text) <= LONGEST:
            return text
        return f"{text[: LONGEST // 2]} … {text[-LONGEST // 2 :]}"


class MaterialError(EmulateError):
    """A frame or clip that cannot be read as asked."""


class PanelError(EmulateError):
    """A panel file, or a panel, that cannot exist."""


class ReadingError(EmulateError):
    """A meter file, sheet or trace that cannot be understood."""


class FindingsError(EmulateError):
    """A file of findings that cannot be understood."""


class RequestError(EmulateError):
    """A call or command that asks for something impossible."""


class OutputError(EmulateError):
    """A place that cannot be written."""


@dataclass(frozen=True, slots=True)
class Caveat:
    """A doubt that travels with the data: `about` names the thing, `text` says what was assumed."""

    about: str
    text: str

    def __str__(self) -> str:
        return f"{self.about}: {self.text}"


def place(path: object, line: int | None = None, column: int | str | None = None) -> str:
    """`file, line 3, column 2`: where in a file an error is, as every message of ours writes it."""
    parts = [str(path)]
    if line is not None:
        parts.append(f"line {line}")
    if column is not None:
        parts.append(f"column {column}")
    return ", ".join(parts)
