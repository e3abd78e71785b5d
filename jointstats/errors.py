"""The exceptions and warnings that a caller of jointstats may meet."""

from __future__ import annotations

from dataclasses import dataclass


class InputError(ValueError):
    """An argument breaks a rule; the message says what was given, the rule, and what to do.

    Parameters
    ----------
    message : str
        What was given, the rule, what to do.

    Examples
    --------
    >>> issubclass(InputError, ValueError)
    True
    """


class JointStatsWarning(UserWarning):
    """A result is sound but rests on something the reader must know.

    Parameters
    ----------
    message : str
        What the result rests on.

    Examples
    --------
    >>> issubclass(JointStatsWarning, UserWarning)
    True
    """


@dataclass(frozen=True)
class Fault:
    """One broken rule in one cell (or row, or table) of an input file.

    Parameters
    ----------
    file : str
        Name of the table, as the user wrote it (``"fractures.csv"``).
    row : int or None
        Line of the file, the header being line 1; ``None`` for the table as a whole.
    column : str or None
        Name of the column; ``None`` where the rule is about the row or the table.
    value : str
        What stands there.
    rule : str
        What should stand there, and what to do.

    Examples
    --------
    >>> print(Fault("fractures.csv", 7, "dip_deg", "91", "a dip lies between 0 and 90"))
    fractures.csv, row 7, column dip_deg: '91': a dip lies between 0 and 90
    """

    file: str
    row: int | None
    column: str | None
    value: str
    rule: str

    def __str__(self) -> str:
        place = self.file
        if self.row is not None:
            place += f", row {self.row}"
        if self.column is not None:
            place += f", column {self.column}"
        shown = f" {self.value!r}:" if self.value else ""
        return f"{place}:{shown} {self.rule}"


class SiteError(InputError):
    """The tables of a site break one or more rules; all faults are in ``faults``.

    Parameters
    ----------
    faults : sequence of Fault
        Every fault that was found, in the order of the files and their rows.
    unread : sequence of str
        Sentences about what was not read.

    Examples
    --------
    >>> error = SiteError([Fault("holes.csv", 3, "hole", "B1", "a hole stands here only once")])
    >>> print(error)
    holes.csv, row 3, column hole: 'B1': a hole stands here only once
    """

    def __init__(
        self, faults: tuple[Fault, ...] | list[Fault], unread: tuple[str, ...] | list[str] = ()
    ) -> None:
        self.faults = tuple(faults)
        self.unread = tuple(unread)
        super().__init__("\n".join(str(fault) for fault in self.faults))
