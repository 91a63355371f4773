"""Remarks as a group reads them, metric."""

from habitat.report.words.en import english

said = english()
