"""The error family: every error a user can cause says what is wrong, where, and how to mend it.

Arguments are facts, so that errors pickle and callers never have to compare message text.
"""

from __future__ import annotations


class HabitatError(Exception):
    """Root of all errors that a user can mend.

    Parameters
    ----------
    what
        What is wrong, one sentence without a full stop.
    where
        The file, layer, row, column or key at fault; empty if it is in the sentence already.
    mend
        How to put it right, one sentence without a full stop.

    Examples
    --------
    >>> import habitat
    >>> try:
    ...     habitat.read_study("nowhere/study.toml")
    ... except habitat.HabitatError as error:
    ...     print(error.kind, "|", error.what, "|", error.mend)
    missing-file | there is no such study file | Check the path, or make one with 'habitat new FOLDER'
    """

    kind = "habitat"

    def __init__(self, what: str, where: str = "", mend: str = "") -> None:
        super().__init__(what, where, mend)
        self.what, self.where, self.mend = what, where, mend

    def __str__(self) -> str:
        head = f"{self.where}: {self.what}" if self.where else self.what
        return f"{_stopped(head)} {_stopped(self.mend)}" if self.mend else _stopped(head)


def _stopped(sentence: str) -> str:
    """Return a sentence with its full stop, if it has no end of its own."""
    return sentence if sentence.endswith(("?", "!")) else sentence.rstrip(".") + "."


class StudyError(HabitatError, ValueError):
    """The study file is wrong: an unknown key, a missing section, a value out of range."""

    kind = "study"


class MissingFileError(HabitatError, FileNotFoundError):
    """A file that the study names is not there."""

    kind = "missing-file"


class LayerError(HabitatError, ValueError):
    """A vector layer or table cannot be read or used."""

    kind = "layer"


class CrsError(LayerError):
    """A coordinate reference system is missing, impossible for the coordinates, or of no use."""

    kind = "crs"


class RasterError(LayerError):
    """A raster cannot be read or used."""

    kind = "raster"


class KnowledgeError(HabitatError, ValueError):
    """A plant, butterfly or host table breaks its rules.

    Parameters
    ----------
    faults
        Every fault found, each "file, row, column: rule".
    """

    kind = "knowledge"

    def __init__(self, faults: list[str]) -> None:
        self.faults = list(faults)
        listed = "\n  - ".join(self.faults[:20])
        more = f"\n  (and {len(self.faults) - 20} more)" if len(self.faults) > 20 else ""
        super().__init__(
            f"{len(self.faults)} fault(s) in the knowledge tables:\n  - {listed}{more}",
            "",
            "Mend the named rows; nothing was planned",
        )

    def __reduce__(self) -> tuple[type[KnowledgeError], tuple[list[str]]]:
        return type(self), (self.faults,)


class SeveralError(HabitatError, ValueError):
    """Several things are wrong at once, each of which must be mended.

    Parameters
    ----------
    errors
        Two errors or more.
    """

    kind = "several"

    def __init__(self, errors: list[HabitatError]) -> None:
        self.errors = list(errors)
        if len({error.kind for error in errors}) == 1:
            self.kind = errors[0].kind
        listed = "".join(f"\n  - {str(error).replace(chr(10), chr(10) + '    ')}" for error in errors)
        super().__init__(f"{len(errors)} things are wrong:{listed}")

    def __reduce__(self) -> tuple[type[SeveralError], tuple[list[HabitatError]]]:
        return type(self), (self.errors,)


def together(errors: list[HabitatError]) -> HabitatError:
    """Return one error that tells all of them: the error itself if there is only one.

    Examples
    --------
    >>> print(together([LayerError("no rows", "a.csv", "Look"), RasterError("no band", "b.tif", "Look")]))
    2 things are wrong:
      - a.csv: no rows. Look.
      - b.tif: no band. Look.
    """
    return errors[0] if len(errors) == 1 else SeveralError(errors)


class ParameterError(HabitatError, ValueError):
    """A value given to a function or a setting is out of its range.

    Parameters
    ----------
    name
        The parameter or parameters.
    value
        What was given.
    rule
        What is allowed.
    """

    kind = "parameter"

    def __init__(self, name: str, value: object, rule: str) -> None:
        self.name, self.value, self.rule = name, value, rule
        super().__init__(f"{name} is {value!r}", "", f"It must be: {rule}")

    def __reduce__(self) -> tuple[type[ParameterError], tuple[str, object, str]]:
        return type(self), (self.name, self.value, self.rule)


class NotFoundError(HabitatError, LookupError):
    """A yard, plant or butterfly that was asked for is not there."""

    kind = "not-found"


class OutputError(HabitatError, OSError):
    """Results cannot be written: the folder exists already or is not writable."""

    kind = "output"


class WorkerError(HabitatError, RuntimeError):
    """A process that helps with the work ended before its work was done."""

    kind = "worker"
