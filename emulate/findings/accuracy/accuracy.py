"""Accuracy of a panel from its readings alone: every table that they allow."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from emulate.findings.accuracy.chart import chart_tables
from emulate.findings.accuracy.eotf import eotf_tables
from emulate.findings.accuracy.gamut import gamut_tables
from emulate.findings.accuracy.grey import grey_tables
from emulate.findings.accuracy.table import AccuracyTable
from emulate.findings.accuracy.uniformity import uniformity_tables
from emulate.findings.accuracy.windows import window_tables
from emulate.findings.finding import Finding, Findings
from emulate.readings.readings import Readings

TABLES: tuple[Callable[[Readings], Sequence[AccuracyTable]], ...] = (
    eotf_tables,
    grey_tables,
    gamut_tables,
    chart_tables,
    window_tables,
    uniformity_tables,
)


@dataclass(frozen=True, eq=False)
class Accuracy:
    """Tables of measured against asked, and what they come to as findings."""

    tables: tuple[AccuracyTable, ...]
    findings: Findings


def find_accuracy(readings: Readings) -> Accuracy:
    """EOTF and grey tracking, gamut, charts, windows and uniformity, as far as they were read.

    Nothing is modelled or fitted: readings square on and in the dark, against what was asked.
    """
    tables = tuple(table for made in TABLES for table in made(readings))
    found: dict[str, Finding] = {}
    for table in tables:
        found |= table.findings()
    basis = f"From {len(readings)} readings, those square on and in a dark room."
    return Accuracy(tables, Findings(found, readings.caveats, panel=readings.panel, basis=basis))
