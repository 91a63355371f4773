"""What reading and a run may take of the machine."""

from __future__ import annotations

from habitat.settings.base import Positive, Section, setting


class LimitSettings(Section):
    """``[limits]``: bounds beyond which a file or a study is refused with a sentence."""

    memory_mb: Positive = setting(
        4000.0,
        "Memory that reading may take, and a run's rasters; a larger study is refused before it begins.",
        unit="MB", example=12000,
    )  # fmt: skip
    processor_s: Positive = setting(
        20.0,
        "Processor time that each file may take to be read; for each MB in it a second is added.",
        unit="s", example=120,
    )  # fmt: skip
