"""What a run would refuse is found before its first second of work, all of it at once, by check as well."""

import pytest

from habitat.errors import HabitatError
from habitat.pipeline import preflight
from habitat.pipeline.preflight import make_ready
from habitat.pipeline.reading import read_layers
from habitat.pipeline.run import run
from habitat.remarks import Remark
from habitat.report.words.en import english
from habitat.study.reading import read_study
from tests.commands.calls import call
from tests.layers import builders as make


@pytest.fixture(scope="module")
def street(tmp_path_factory):
    folder = tmp_path_factory.mktemp("street")
    make.yards().to_file(folder / "y.gpkg")
    (folder / "p.csv").write_text("yard_id,role\nTB-01,yes\nTB-02,maybe\n", encoding="utf-8")
    study = read_study(make.study(folder, {"yards": "y.gpkg", "participants": "p.csv"}))
    study = study.changed(study={"date": "2026-03-01"}, knowledge={"elsewhere": True})
    return study, read_layers(study)


def refused(street, **sections):
    study, layers = street
    with pytest.raises(HabitatError) as found:
        make_ready(study.changed(**sections), layers)
    return str(found.value)


def test_a_sound_study_is_ready(street):
    ready = make_ready(*street)
    assert ready.chosen == ("TB-01", "TB-02")
    assert len(ready.allowed) > 50
    assert ready.wishes


@pytest.mark.parametrize(
    ("sections", "words"),
    [
        ({"planting": {"wishes": ["monarh"]}}, "planting.wishes names 'monarh'"),
        ({"planting": {"wishes": ["monarh"]}}, "did you mean monarch?"),
        ({"planting": {"plants": ["Milkwed"]}}, "planting.plants names 'Milkwed'"),
        ({"planting": {"allow_not_native": ["Rosa"]}}, "planting.allow_not_native names 'Rosa'"),
        ({"planting": {"caps": {"redcedr": 0.2}}}, "planting.caps names 'redcedr'"),
        ({"planting": {"favoured": ["purpletob"]}}, "planting.favoured names 'purpletob'"),
        ({"connectivity": {"median_m": {"mnarch": 300.0}}}, "connectivity.median_m names 'mnarch'"),
    ],
)
def test_a_name_that_is_in_no_table_is_refused(street, sections, words):
    assert words in refused(street, **sections)


def test_own_words_of_letters_are_looked_at_before_any_work(street, tmp_path):
    path = tmp_path / "ask.txt"
    path.write_text("Dear {nmae},\n", encoding="utf-8")
    assert "ask.txt, line 1: there is no field {nmae}" in refused(street, report={"letter_ask": str(path)})


def test_a_group_that_nobody_is_in_is_told(street):
    study, layers = street
    ready = make_ready(study.changed(groups={"Nroth": {"budget": 90}}), layers)
    told = [english()(note) for note in ready.season_notes if isinstance(note, Remark)]
    assert any("[groups.Nroth] is of no use" in one for one in told)
    assert not any(
        "groups" in english()(n) for n in make_ready(study, layers).season_notes if isinstance(n, Remark)
    )


def test_all_reasons_are_told_at_once(street):
    told = refused(street, planting={"wishes": ["monarh", "zebra swalowtail"], "plants": ["Milkwed"]})
    assert all(name in told for name in ("monarh", "zebra swalowtail", "Milkwed"))


def test_without_a_sheet_many_yards_are_planned_only_when_asked_for(street, monkeypatch):
    study, layers = street
    vectors = {name: layer for name, layer in layers.vectors.items() if name != "participants"}
    bare = type(layers)(**{**vars_of(layers), "vectors": vectors})
    monkeypatch.setattr(preflight, "MOST_UNASKED", 1)
    with pytest.raises(
        HabitatError, match=r"no sign-up sheet, so all of them count: 2 yards to plan, .* about .* minutes"
    ):
        make_ready(study, bare)
    assert make_ready(study.changed(planting={"everyone": True}), bare).chosen == ("TB-01", "TB-02")


def vars_of(layers):
    return {name: getattr(layers, name) for name in layers.__dataclass_fields__}


def test_check_refuses_what_run_would(tmp_path):
    make.yards().to_file(tmp_path / "y.gpkg")
    path = make.study(tmp_path, {"yards": "y.gpkg"})
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith("date")]
    path.write_text("\n".join(lines), encoding="utf-8")
    path = str(path)
    assert "study.date is missing" in " ".join(call("check", path, code=2).split())


def test_a_date_is_missed_before_any_layer_is_read(tmp_path):
    """The file of yards is none: were it read first, that would be what is told."""
    (tmp_path / "gone.gpkg").write_text("no yards", encoding="utf-8")
    path = make.study(tmp_path, {"yards": "gone.gpkg"})
    text = "\n".join(one for one in path.read_text(encoding="utf-8").splitlines() if "date =" not in one)
    path.write_text(text + "\n[planting]\nbed_rules = { cover = 9 }\n", encoding="utf-8")
    with pytest.raises(HabitatError) as found:
        run(read_study(path))
    assert "study.date is missing" in str(found.value)
    assert "cover" in str(found.value)
