"""What people read when the database refuses something about reports and papers."""

from kits.promises.sentences import say

NUDGE = (
    "A nudge is less than 10 mm either way. If the print is further off, another stock is chosen than lies in the printer, "
    "or the printer scales the page: print at 100 %."
)

SENTENCES = {
    "label_printer_has_a_name": "A printer needs a name that tells it from the others.",
    "label_printer_stock_known": "That is no label stock we know the measures of. Choose one of the list.",
    "label_printer_dots_known": "Choose the dots an inch of the printer from the list.",
    "label_printer_nudge_below_a_centimetre": NUDGE,
    "import_kind_known": "Choose what the rows of the file are.",
    "import_done_by_somebody": "Say who brought the rows in.",
    "mapping_kind_known": "Choose what the rows of the file are.",
    "one_mapping_a_set_of_headings": "Somebody else set the columns of such a file at the same moment. Send again.",
}


def declare() -> None:
    """Say every sentence of this app; called once at start-up."""
    for name, sentence in SENTENCES.items():
        say(name, sentence)
