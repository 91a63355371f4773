"""Which names may be meant by one that is in no table, the likeliest first."""

from __future__ import annotations

import functools
import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from difflib import SequenceMatcher

TREES = {
    "alder": "Alnus", "apple": "Malus domestica", "arborvitae": "Thuja occidentalis", "ash": "Fraxinus",
    "green ash": "Fraxinus pennsylvanica", "white ash": "Fraxinus americana",
    "aspen": "Populus tremuloides", "bald cypress": "Taxodium distichum", "basswood": "Tilia americana",
    "beech": "Fagus", "american beech": "Fagus grandifolia", "birch": "Betula", "river birch": "Betula nigra",
    "black walnut": "Juglans nigra", "blue spruce": "Picea pungens", "box elder": "Acer negundo",
    "boxelder": "Acer negundo", "bradford pear": "Pyrus calleryana", "callery pear": "Pyrus calleryana",
    "buckeye": "Aesculus", "butternut": "Juglans cinerea", "catalpa": "Catalpa",
    "cedar": "Juniperus, Thuja or Cedrus",
    "cherry": "Prunus", "flowering cherry": "Prunus serrulata", "weeping cherry": "Prunus",
    "chestnut": "Castanea", "cottonwood": "Populus deltoides", "crab apple": "Malus",
    "crabapple": "Malus", "cucumber tree": "Magnolia acuminata", "dawn redwood": "Metasequoia",
    "douglas fir": "Pseudotsuga menziesii", "elm": "Ulmus", "chinese elm": "Ulmus parvifolia",
    "eucalyptus": "Eucalyptus", "fig": "Ficus carica", "fir": "Abies", "ginkgo": "Ginkgo biloba",
    "hawthorn": "Crataegus", "hazel": "Corylus", "hazelnut": "Corylus", "hemlock": "Tsuga",
    "hickory": "Carya", "honey locust": "Gleditsia triacanthos", "honeylocust": "Gleditsia triacanthos",
    "hophornbeam": "Ostrya virginiana", "hornbeam": "Carpinus", "horse chestnut": "Aesculus hippocastanum",
    "ironwood": "Carpinus or Ostrya", "japanese maple": "Acer palmatum", "juniper": "Juniperus",
    "katsura": "Cercidiphyllum japonicum", "kentucky coffeetree": "Gymnocladus dioicus", "larch": "Larix",
    "leyland cypress": "Cupressus x leylandii", "lime tree": "Tilia", "linden": "Tilia",
    "littleleaf linden": "Tilia cordata", "locust": "Robinia or Gleditsia", "london plane": "Platanus",
    "magnolia": "Magnolia", "saucer magnolia": "Magnolia", "maple": "Acer",
    "norway maple": "Acer platanoides",
    "red maple": "Acer rubrum", "silver maple": "Acer saccharinum", "sugar maple": "Acer saccharum",
    "mountain ash": "Sorbus", "mulberry": "Morus", "norway spruce": "Picea abies", "osage orange": "Maclura",
    "pin oak": "Quercus palustris", "bur oak": "Quercus macrocarpa", "willow oak": "Quercus phellos",
    "peach": "Prunus persica", "pear": "Pyrus", "pecan": "Carya illinoinensis",
    "persimmon": "Diospyros virginiana", "pine": "Pinus", "white pine": "Pinus strobus",
    "eastern white pine": "Pinus strobus", "scots pine": "Pinus sylvestris", "poplar": "Populus",
    "purple leaf plum": "Prunus cerasifera", "red pine": "Pinus resinosa", "redwood": "Sequoia",
    "shagbark hickory": "Carya ovata", "sourwood": "Oxydendrum arboreum", "spruce": "Picea",
    "sweetgum": "Liquidambar styraciflua", "sweet gum": "Liquidambar styraciflua",
    "sycamore": "Platanus occidentalis", "tree of heaven": "Ailanthus altissima", "tupelo": "Nyssa",
    "walnut": "Juglans", "willow": "Salix", "weeping willow": "Salix", "yellowwood": "Cladrastis",
    "yew": "Taxus", "zelkova": "Zelkova serrata",
}  # fmt: skip
"""Common names of trees."""

GARDEN = {
    "abelia": "Abelia", "agapanthus": "Agapanthus", "alfalfa": "Medicago sativa", "allium": "Allium",
    "alyssum": "Lobularia maritima", "azalea": "Rhododendron", "bamboo": "Phyllostachys and others",
    "barberry": "Berberis", "japanese barberry": "Berberis thunbergii", "basil": "Ocimum basilicum",
    "bean": "Phaseolus", "bee balm": "Monarda", "begonia": "Begonia", "bellflower": "Campanula",
    "bleeding heart": "Dicentra", "bluegrass": "Poa pratensis", "boxwood": "Buxus", "broccoli": "Brassica",
    "burning bush": "Euonymus alatus", "cabbage": "Brassica oleracea", "camellia": "Camellia",
    "canna": "Canna", "carrot": "Daucus carota", "catmint": "Nepeta", "catnip": "Nepeta cataria",
    "chives": "Allium schoenoprasum", "chrysanthemum": "Chrysanthemum", "mum": "Chrysanthemum",
    "clematis": "Clematis", "clover": "Trifolium", "white clover": "Trifolium repens",
    "red clover": "Trifolium pratense", "coleus": "Coleus", "columbine": "Aquilegia",
    "coral bells": "Heuchera", "coreopsis": "Coreopsis", "cosmos": "Cosmos", "cotoneaster": "Cotoneaster",
    "crape myrtle": "Lagerstroemia indica", "crepe myrtle": "Lagerstroemia indica", "crocus": "Crocus",
    "cucumber": "Cucumis sativus", "daffodil": "Narcissus", "dahlia": "Dahlia", "daisy": "Leucanthemum",
    "shasta daisy": "Leucanthemum", "dandelion": "Taraxacum", "daylily": "Hemerocallis",
    "day lily": "Hemerocallis", "delphinium": "Delphinium", "dill": "Anethum graveolens",
    "dusty miller": "Jacobaea maritima", "english ivy": "Hedera helix", "ivy": "Hedera helix",
    "eggplant": "Solanum melongena", "fennel": "Foeniculum vulgare", "fern": "Polypodiopsida",
    "fescue": "Festuca", "forget-me-not": "Myosotis", "forsythia": "Forsythia", "foxglove": "Digitalis",
    "fuchsia": "Fuchsia", "garlic": "Allium sativum", "gardenia": "Gardenia",
    "gladiolus": "Gladiolus", "grape": "Vitis", "heather": "Calluna", "hellebore": "Helleborus",
    "hibiscus": "Hibiscus", "holly": "Ilex", "hollyhock": "Alcea rosea", "honeysuckle": "Lonicera",
    "hosta": "Hosta", "hyacinth": "Hyacinthus", "hydrangea": "Hydrangea", "impatiens": "Impatiens",
    "inkberry": "Ilex glabra", "iris": "Iris", "jasmine": "Jasminum", "kale": "Brassica oleracea",
    "lamb's ear": "Stachys byzantina", "lantana": "Lantana", "lavender": "Lavandula",
    "lettuce": "Lactuca sativa", "lilac": "Syringa vulgaris", "lily": "Lilium",
    "lily of the valley": "Convallaria majalis", "liriope": "Liriope", "lupine": "Lupinus",
    "marigold": "Tagetes", "mint": "Mentha", "morning glory": "Ipomoea", "nandina": "Nandina domestica",
    "nasturtium": "Tropaeolum majus", "ninebark": "Physocarpus opulifolius", "onion": "Allium cepa",
    "oregano": "Origanum vulgare", "pachysandra": "Pachysandra terminalis", "pansy": "Viola x wittrockiana",
    "parsley": "Petroselinum crispum", "pea": "Pisum sativum", "peony": "Paeonia", "pepper": "Capsicum",
    "petunia": "Petunia", "plantain": "Plantago", "pieris": "Pieris japonica",
    "poinsettia": "Euphorbia pulcherrima",
    "poppy": "Papaver", "potato": "Solanum tuberosum", "pothos": "Epipremnum", "privet": "Ligustrum",
    "queen anne's lace": "Daucus carota", "raspberry": "Rubus idaeus", "blackberry": "Rubus",
    "rhubarb": "Rheum", "rose": "Rosa", "knock out rose": "Rosa",
    "rose of sharon": "Hibiscus syriacus", "rosemary": "Salvia rosmarinus", "rue": "Ruta graveolens",
    "russian sage": "Salvia yangii", "ryegrass": "Lolium", "sage": "Salvia officinalis",
    "sedum": "Sedum", "skip laurel": "Prunus laurocerasus", "snapdragon": "Antirrhinum",
    "snowdrop": "Galanthus", "spirea": "Spiraea", "squash": "Cucurbita", "strawberry": "Fragaria",
    "sunflower": "Helianthus annuus", "sweet pea": "Lathyrus odoratus", "thyme": "Thymus",
    "tomato": "Solanum lycopersicum", "trumpet vine": "Campsis radicans", "tulip": "Tulipa",
    "turf": "Poa, Festuca and Lolium", "vinca": "Vinca", "periwinkle": "Vinca",
    "virginia creeper": "Parthenocissus quinquefolia", "weigela": "Weigela",
    "yarrow": "Achillea millefolium", "yucca": "Yucca", "zinnia": "Zinnia", "zucchini": "Cucurbita pepo",
}  # fmt: skip
"""Common names of other garden plants."""

BUTTERFLIES = {
    "cabbage white": "Pieris rapae", "small white": "Pieris rapae", "checkered white": "Pontia protodice",
    "clouded sulphur": "Colias philodice", "orange sulphur": "Colias eurytheme",
    "painted lady": "Vanessa cardui", "milbert's tortoiseshell": "Aglais milberti",
    "queen": "Danaus gilippus",
    "regal fritillary": "Argynnis idalia", "aphrodite fritillary": "Argynnis aphrodite",
    "eastern pine elfin": "Callophrys niphon", "american copper": "Lycaena phlaeas",
    "harvester": "Feniseca tarquinius", "bronze copper": "Lycaena hyllus",
    "peck's skipper": "Polites peckius",
    "least skipper": "Ancyloxypha numitor", "fiery skipper": "Hylephila phyleus",
    "sachem": "Atalopedes campestris", "common checkered-skipper": "Burnsius communis",
    "palamedes swallowtail": "Papilio palamedes", "long-tailed skipper": "Urbanus proteus",
    "karner blue": "Plebejus samuelis", "luna moth": "Actias luna", "cecropia moth": "Hyalophora cecropia",
    "hummingbird moth": "Hemaris", "tiger swallowtail caterpillar": "Papilio glaucus",
}  # fmt: skip
"""Common names of butterflies and well-known moths."""

BUTTERFLY_WORDS = (
    "swallowtail", "hairstreak", "skipper", "duskywing", "cloudywing", "fritillary", "checkerspot",
    "butterfly", "butterflies", "caterpillar", "caterpillars", "moth", "elfin", "swallowtails",
)  # fmt: skip
"""Last words of names that no plant has."""

NO_KIND = (
    "annual", "bed", "border", "bulb", "bush", "climber", "conifer", "evergreen", "flower", "flowering plant",
    "garden", "grass", "groundcover", "ground cover", "hedge", "herb", "lawn", "mix", "mixed", "native",
    "ornamental", "perennial", "plant", "seedling", "shrub", "tree", "unknown", "various", "vegetable",
    "vine", "weed", "wildflower",
)  # fmt: skip
"""Words that say no kind of plant."""


# Which names may be meant by one that is in no table, the likeliest first; none rather than a wrong one.

ALIKE, WHOLE, GENUS, SAME = 0.75, 0.85, 0.85, 0.92
"""From this likeness on (share of letters in the same order) two words, two whole common names, a word and a
genus, two whole scientific names may be the same thing misspelt: judgement, tried on the names of both tables
and of common garden plants."""

SHORT = 5
"""Words of fewer letters must be the same: pea and pear, ash and aster differ in as little as a slip."""

NEARLY = 0.08
SHOWN = 3


@dataclass(frozen=True, slots=True)
class Near:
    """Names that come near: ``names`` are accepted names, ``words`` how to say them.

    ``of`` is the kind if the name given stops short of one (any oak), ``more`` how many others there are.
    """

    names: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    of: str = ""
    more: int = 0


def singular(word: str) -> str:
    """Return an English word without its plural ending.

    Examples
    --------
    >>> [singular(w) for w in ("violets", "grasses", "cherries", "iris", "aster")]
    ['violet', 'grass', 'cherry', 'iris', 'aster']
    """
    if len(word) > 4 and word.endswith("ies"):
        return word[:-3] + "y"
    if re.search(r"(ss|sh|ch|x)es$", word):
        return word[:-2]
    plural = len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "is", "us"))
    return word[:-1] if plural else word


def words_of(name: str) -> list[str]:
    """Return the words of a name, lower case and singular, hyphens as blanks."""
    return list(_words_of(name))


@functools.lru_cache(maxsize=20_000)
def _words_of(name: str) -> list[str]:
    return [singular(w) for w in re.findall(r"[^\W\d_]+(?:'[^\W\d_]+)?", name.lower().replace("-", " "))]


def alike(one: str, other: str) -> float:
    """Return how much two words look alike, from 0.75 to 1, or 0 if one is not the other misspelt."""
    if one == other:
        return 1.0
    if min(len(one), len(other)) < SHORT:
        return 0.0
    return _likeness(one, other, ALIKE)


def _likeness(one: str, other: str, least: float) -> float:
    """Return how much two texts look alike (0 to 1), or 0 below ``least``; bounds spare most the work."""
    matcher = SequenceMatcher(None, one, other, autojunk=False)
    if matcher.real_quick_ratio() < least or matcher.quick_ratio() < least:
        return 0.0
    ratio = matcher.ratio()
    return ratio if ratio >= least else 0.0


def nearest(
    text: str,
    scientific: Mapping[str, str],
    common: Mapping[str, tuple[str, ...]],
    called: Mapping[str, str],
    no_kind: Collection[str] = (),
) -> Near:
    """Return the names that a misspelt or incomplete name may stand for.

    Parameters
    ----------
    text
        The name as written.
    scientific, common
        Lower-case names and the accepted names they stand for.
    called
        Common name of each accepted name, to show.
    no_kind
        Last words that say nothing: an oak tree is an oak.

    Examples
    --------
    >>> names = {"asclepias syriaca": "Asclepias syriaca"}
    >>> nearest("comon milkweed", names, {"common milkweed": ("Asclepias syriaca",)}, {}).names
    ('Asclepias syriaca',)
    """
    given = words_of(text)
    if len(given) > 1 and given[-1] in no_kind:
        given = given[:-1]
    if not given:
        return Near()
    heads = {words_of(name)[-1] for name in common if words_of(name)} - set(no_kind)
    if given[-1:] == given and given[0] in heads:
        return _of_a_kind(given[0], common, called)
    scores: dict[str, float] = {}
    for name, accepted in scientific.items():
        _better(scores, accepted, _scientific(given, name.split()))
    for name, meant in common.items():
        score = _common(given, words_of(name))
        for accepted in meant:
            _better(scores, accepted, score)
    if scores:
        best = max(scores.values())
        names = [n for n in scores if scores[n] >= best - NEARLY]
        return ranked(names, scores, called, "")
    head = given[-1]
    if head not in heads:  # a misspelt word of several says too little
        near = max(heads, key=lambda one: (alike(head, one), one), default="") if len(given) == 1 else ""
        head = near if near and alike(head, near) else ""
    return _of_a_kind(head, common, called) if head else Near()


def _better(scores: dict[str, float], name: str, score: float) -> None:
    if score > scores.get(name, 0.0):
        scores[name] = score


def _scientific(given: list[str], name: list[str]) -> float:
    if len(given) < 2 or len(name) < 2:
        return _likeness(given[0], singular(name[0]), GENUS) if len(given) == 1 else 0.0
    whole = _likeness("".join(given), re.sub(r"\W", "", "".join(name)), SAME)
    genus = alike(given[0], singular(name[0]))
    species = alike(given[1], singular(name[1])) if genus else 0.0
    return max((genus + species) / 2 if genus and species else 0.0, whole)


def _common(given: list[str], name: list[str]) -> float:
    """Return how well a common name fits: all words of what is given, the last one to the last one."""
    whole = _likeness("".join(given), "".join(name), WHOLE)
    if whole and len("".join(given)) > SHORT:
        return whole
    head = alike(given[-1], name[-1])
    if not head or (len(given) == 1 and len(name) > 1):
        return 0.0
    fits = [max((alike(word, other) for other in name[:-1]), default=0.0) for word in given[:-1]]
    return (head + sum(fits)) / len(given) - 0.01 * (len(name) - len(given)) if all(fits) else 0.0


def _of_a_kind(head: str, common: Mapping[str, tuple[str, ...]], called: Mapping[str, str]) -> Near:
    """Return what has a name that ends in one word: an oak, one of the milkweeds."""
    names = [n for name, meant in common.items() if words_of(name)[-1:] == [head] for n in meant]
    return ranked(list(dict.fromkeys(names)), {}, called, head)


def ranked(names: list[str], scores: dict[str, float], called: Mapping[str, str], of: str) -> Near:
    """Rank by likeness, then what is called the common one, then by common name."""

    def rank(name: str) -> tuple[float, bool, str]:
        own = called.get(name, name).lower()
        return -round(scores.get(name, 0.0), 2), not own.startswith("common "), own

    best = sorted(names, key=rank)
    first = tuple(best[:SHOWN])
    words = tuple(f"{name} ({called[name]})" if name in called else name for name in first)
    return Near(first, words, of, len(best) - len(first))
