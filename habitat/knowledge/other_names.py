"""Well-known plants and butterflies that the tables do not hold: so that a name of theirs suggests no other.

Common names and the kinds they mostly stand for in eastern North America, from memory. Nothing is known here
of any of them but the name; a name that the tables hold comes first.
"""

from __future__ import annotations

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
