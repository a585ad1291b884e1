"""What several journeys share."""

from __future__ import annotations

import sys

import pytest

from emulate.cli import main


@pytest.fixture
def called(monkeypatch, capsys):
    """A command as a process, without the seconds that each takes to start: status, out, told."""

    def call(*arguments):
        monkeypatch.setattr(sys, "argv", ["emulate", *map(str, arguments)])
        with pytest.raises(SystemExit) as left:
            main()
        return left.value.code, *capsys.readouterr()

    return call
