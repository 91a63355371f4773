"""The map of invitations."""

import re
from dataclasses import replace

import pandas as pd
import pytest

from habitat.report.maps.invitations import draw_invitations
from habitat.report.maps.style import Sheet, style


def test_invitations_without_room_are_counted(plan, sheets):
    """Of many candidates the first are told with their reasons, the number of the rest is told."""
    many = pd.concat([plan.invitations] * 20, ignore_index=True).assign(rank=range(1, 41))
    kept = {}
    with pytest.MonkeyPatch.context() as patch, style():
        patch.setattr(Sheet, "save", lambda sheet, folder, name: kept.setdefault(name, sheet) and [])
        draw_invitations(replace(plan, invitations=many), None)
    texts = [t.get_text() for t in kept["invitations"].figure.texts]
    told = [t for t in texts if re.match(r"\d+  yard ", t)]
    assert 0 < len(told) < 40
    assert f"{40 - len(told)} more: see the page." in texts
    assert not any("more: see the page" in t.get_text() for t in sheets["invitations"].figure.texts)
