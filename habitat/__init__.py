"""Plans butterfly host plants, nectar and corridors over a neighbourhood of real yards.

>>> import habitat
>>> sorted(habitat.__all__)
['HabitatError', 'Plan', 'Study', 'read_study', 'run', 'write_plan']
"""

from habitat.errors import HabitatError
from habitat.pipeline.run import run
from habitat.report.plan import Plan
from habitat.report.write import write_plan
from habitat.study.model import Study
from habitat.study.reading import read_study

__all__ = ["HabitatError", "Plan", "Study", "read_study", "run", "write_plan"]
