from pipeline.api import analyse as analyse
from pipeline.core.errors import CrossemetryError as CrossemetryError
from pipeline.core.results import Analysis as Analysis
from pipeline.core.results import Measurement as Measurement
from pipeline.core.results import RepResult as RepResult
from pipeline.core.results import Verdict as Verdict

__version__: str
