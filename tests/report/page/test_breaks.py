"""Where chains break, in sentences."""

from habitat.report.page.breaks import break_sentences
from habitat.report.words.en import english
from habitat.report.words.numbers import Units


def test_breaks_are_told_in_sentences():
    """Cases for the head: two anchors, one way between them, through one yard."""
    pair = {
        "from": "anchor: A",
        "to": "anchor: B",
        "passage": 0.004,
        "passage_low_reach": 0.0,
        "passage_high_reach": 0.03,
        "steps": 3,
        "chains_sharing_no_yard": 1,
        "narrow_places": ["12-7"],
    }
    found = {
        "words": "",
        "groups": {"today": 0, "members": 2, "everyone": 1},
        "largest_group_share": 0.81,
        "pairs": [pair, {"from": "anchor: A", "to": "anchor: C", "passage": 0.0}],
        "gap": {"from": "12-7", "to": "anchor: B", "distance_m": 118.0},
        "bridges": [
            {"yard_id": y, "passing_m2": m}
            for y, m in (("12-7", 9.0), ("anchor: B", 8.0), ("4", 2.0), ("5", 1.0), ("6", 0.5))
        ],
        "capacity": {"members": 5.0, "members_over_today": 1.4321, "words": "It assumes much."},
        "observed": {
            "seen": ["12-7", "anchor: B"],
            "breeding_confirmed": ["12-7"],
            "visited": 35,
            "seen_on_walks": 7,
            "predicted_of_seen": 5,
            "look": ["9", "12-8"],
            "auc": 0.72,
            "auc_low": 0.5,
            "auc_high": 0.9,
            "calibration": [],
        },
        "losses": {
            "share": [0.1, 0.2],
            "random_mean": [0.95, 0.9],
            "random_low": [0.93, 0.87],
            "random_high": [0.97, 0.93],
            "worst_first": [0.8, 0.62],
        },
    }
    assert break_sentences(found, english(Units("metric"))) == [
        "Today it has no breeding place. With the members' plans its breeding places form 2 groups with no "
        "way between them; the largest holds 81 % of the habitat. With everybody planted its breeding places "
        "form one group.",
        "From A to B it takes 3 steps; a chance of less than 1 % (0 to 3 %). There is one way only: "
        "everything goes through yard 12-7.",
        "Nothing joins A and C yet.",
        "It is weakest over 120 m between yard 12-7 and B.",
        "Most passes through yard 12-7, yard 4 and yard 5.",
        "If one yard in five drops out by chance, 90 % (87 to 93 %) of what is connected stays; if the yards "
        "that carry most go first, 62 %.",
        "Could it last? With the members' plans its capacity to last is about 1.4 times today's. It assumes "
        "much.",
        "Seen in 7 of 35 places walked in its flight time; predicted to breed in 5 of these 7. Breeding is "
        "confirmed in yard 12-7. Of a place with and a place without it, today's prediction puts the right "
        "one first in 70 % (50 to 90 %) of cases, over 35 places walked; 50 % is chance, so this may be "
        "chance alone. Worth a look, since its food plants stand there and nobody has walked there: yard 9 "
        "and yard 12-8.",
    ]
    assert "It is weakest over 120 m by ground between yard 12-7 and B." in break_sentences(
        found, english(Units("metric")), True
    )
    assert break_sentences({}, english(Units("metric"))) == []
    few = {"observed": found["observed"] | {"auc": None, "visited": 8, "seen_on_walks": 0, "look": []}}
    assert break_sentences(few, english(Units("metric"))) == [
        "Seen in 0 of 8 places walked in its flight time. Breeding is confirmed in yard 12-7."
    ]
    unwalked = {"observed": few["observed"] | {"visited": 0, "breeding_confirmed": []}}
    assert break_sentences(unwalked, english(Units("metric"))) == [
        "Seen in 2 places; nobody walked in its flight time."
    ]
    one = {"groups": {"today": 1, "members": 1, "everyone": 1}, "largest_group_share": 1.0}
    assert break_sentences(one, english(Units("metric"))) == [
        "All its breeding places can reach each other, directly or through others."
    ]
