from pipeline.api import analyse as analyse
from pipeline.errors import CrossemetryError as CrossemetryError
from pipeline.result_types import Analysis as Analysis
from pipeline.result_types import Measurement as Measurement
from pipeline.result_types import RepResult as RepResult
from pipeline.result_types import Verdict as Verdict

__version__: str
