"""What of a study's settings may be told to everybody: nothing that names files, columns or people."""

from habitat.report.public.ground import public_study
from tests.report.small_plan import small_plan

TOLD = {
    "study.name", "study.crs", "study.states", "knowledge.region", "site.setbacks", "suitability.weights",
    "suitability.plants", "suitability.rasters", "planting.plants", "planting.exclude", "planting.caps",
    "planting.favoured", "planting.wishes", "planting.currency", "planting.prices", "planting.support_prices",
    "planting.avoid_hazards", "planting.allow_not_native", "planting.bed_rules", "connectivity.butterflies",
    "connectivity.weights", "connectivity.median_m", "connectivity.mean_m", "connectivity.five_percent_m",
    "connectivity.hop_max_m",
}  # fmt: skip
"""Settings that hold text and are told: what was asked of the plan, in names of plants and butterflies."""


def test_settings_tell_no_path_no_filter_and_nobody(tmp_path):
    secret = {
        "study": {"after": "zq-results", "contact": "zq@example.org"},
        "connectivity": {
            "where": {"zq_owner": ["zq Ada"]},
            "where_least": {"zq_m2": 1.0},
            "where_most": {"zq": 9.0},
        },
        "report": {"letter_ask": "zq.txt", "pick_up": ["2026-05-09 9:00-12:00"]},
        "groups": {"zq": {"contact": "zq"}},
    }
    study = small_plan(tmp_path).study.changed(**secret)
    assert str(study.model_dump()).count("zq") >= 8
    told = str(public_study(study).model_dump())
    assert "zq" not in told
    assert "2026-05-09" not in told


def test_every_setting_with_text_is_told_or_left_out_by_decision(tmp_path):
    """A new one is left out until it stands in TOLD or ``public_study`` clears it."""
    public = public_study(small_plan(tmp_path).study)
    kept = {name for name, value in texts(public) if value not in (None, "", [], {})}
    known = {name for name, _ in texts(public)}
    gone = known - TOLD - {name for name in known if name.startswith(("layers", "rasters", "knowledge."))}
    assert gone == {
        "study.contact", "study.after", "connectivity.crossing_costs", "connectivity.where",
        "connectivity.where_least", "connectivity.where_most", "report.pick_up", "report.letter_ask",
        "report.letter_hand_over",
        "report.letter_spring", "groups",
    }  # fmt: skip
    assert kept <= TOLD | {"layers"}


def texts(model, before=""):
    """Yield the settings that may hold text, each with its value."""
    for name, field in type(model).model_fields.items():
        value = getattr(model, name)
        if hasattr(value, "model_fields"):
            yield from texts(value, f"{before}{name}.")
        elif any(word in str(field.annotation) for word in ("str", "dict", "Any")) and "Literal" not in str(
            field.annotation
        ):
            yield f"{before}{name}", value
