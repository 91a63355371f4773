"""Three yards saved in any CRS, and what reading makes of them."""

from habitat.commands.check.account import check_study
from tests.layers import builders as make


def saved(tmp_path, frame, label="keep", name="y.parquet"):
    """Write a frame whose CRS label may lie about its coordinates."""
    out = frame if label == "keep" else frame.set_crs(label, allow_override=True)
    out.to_parquet(tmp_path / name)
    return name


def result_of(tmp_path, frame, label="keep", head="", **keys):
    return check_study(
        make.study(tmp_path, {"yards": {"path": saved(tmp_path, frame, label), **keys}}, head=head)
    )
