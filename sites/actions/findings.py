"""What we tell the customer about a stay, in plain words."""

from kits.actions.acting import Act, Done, action, hold, record
from sites.models import Deployment


@action
def write_findings(act: Act, *, stay: Deployment, saw: str, suggest: str) -> Done:
    """Set what we saw and what we suggest; both stand on the customer's copy of the report."""
    stay = hold(stay, based_on=act.based_on, act=act)
    stay.saw, stay.suggest = saw.strip(), suggest.strip()
    stay.save(update_fields=["saw", "suggest"])
    return record(act, "findings written", f"Findings of {stay} written", about=[stay])
