"""What a person should know before these patterns run."""

from __future__ import annotations

CAUTIONS = (
    "Flashing light can bring on seizures. The moving patterns change no faster than once in three "
    "seconds or creep slowly; even so nobody sensitive to light should watch them; stop at any "
    "discomfort.",
    "Full white in a dark room dazzles. Let your eyes rest; look at the meter and not at the "
    "screen.",
    "Static patterns can burn into self-emissive panels. Show none longer than its reading takes; "
    "never pause on one; show moving pictures in between.",
    "Sets run on mains power and stay closed: these patterns ask for nothing behind the covers. "
    "Mind cables and hot surfaces in a dark room.",
    "Local electrical and safety codes and the advice of licensed professionals come before "
    "anything written here.",
)


def cautions() -> str:
    """The cautions, a line each."""
    return "\n".join(CAUTIONS)
