"""Files of the folder for a designer: equal for equal plans, safe for any name."""

import pypdfium2

from habitat.report.handover.files import handover_jobs
from habitat.report.jobs import Shared
from tests.report.small_plan import small_plan


def test_equal_plans_give_equal_bytes(tmp_path):
    shared = Shared(small_plan(tmp_path / "study"))
    one, two = (handover_jobs(shared, tmp_path / name)[1](shared) for name in ("one", "two"))
    assert [f.name for f in one][:3] == ["yard-0012.dxf", "yard-0012.pdf", "yard-0012.svg"]
    assert [f.name for f in one] == [f.name for f in two]
    for a, b in zip(one, two, strict=True):
        assert a.read_bytes() == b.read_bytes()


def test_data_is_never_markup(tmp_path):
    odd = ("#panic()", "=1+1", "a\nb", "../../x", "\u202eabc", "L" * 300, "$x$*y*_z_")
    plan = small_plan(tmp_path, yard_ids=odd, report={"formats": ["handover"]})
    shared = Shared(plan)
    files = handover_jobs(shared, tmp_path / "out")[0](shared)
    assert all(file.parent == tmp_path / "out" for file in files)
    assert "#panic()" in pypdfium2.PdfDocument(files[1])[0].get_textpage().get_text_bounded()
