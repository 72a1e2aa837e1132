"""Which lead is which: told by plugging in one at a time, or by warming one lead in the hand (pure, no Django).

`judge` reads live series, `judge_typed` before and after values from paper, `Naming` holds who is named so far, and
`newly_seen` follows leads being plugged into a kit that is built. Nothing here reads a clock or a database.
"""

from kits.which_lead.judge import judge
from kits.which_lead.judgement import Judgement, Kind, Shown
from kits.which_lead.names import Naming, NamingError
from kits.which_lead.plugging import Plugging, newly_seen
from kits.which_lead.series import Sample, Screened, Series, screen
from kits.which_lead.typed import TypedValues, judge_typed

__all__ = [
    "Judgement",
    "Kind",
    "Naming",
    "NamingError",
    "Plugging",
    "Sample",
    "Screened",
    "Series",
    "Shown",
    "TypedValues",
    "judge",
    "judge_typed",
    "newly_seen",
    "screen",
]
