"""The rules of papers that the database keeps: its guards across tables, and the sentence of each rule."""

from kits.promises import FrozenWith, register, say
from kits.promises.given_back import GivenBack

NUDGE = (
    "A nudge is less than 10 mm either way. If the print is further off, another stock is chosen than lies in the printer, "
    "or the printer scales the page: print at 100 %."
)

MEANWHILE = "Somebody else issued a paper at the same moment. Send again."

SENTENCES = {
    "label_printer_has_a_name": "A printer needs a name that tells it from the others.",
    "label_printer_stock_known": "That is no label stock we know the measures of. Choose one of the list.",
    "label_printer_dots_known": "Choose the dots an inch of the printer from the list.",
    "label_printer_nudge_below_a_centimetre": NUDGE,
    "import_kind_known": "Choose what the rows of the file are.",
    "import_done_by_somebody": "Say who brought the rows in.",
    "mapping_kind_known": "Choose what the rows of the file are.",
    "one_mapping_a_set_of_headings": "Somebody else set the columns of such a file at the same moment. Send again.",
    "one_counter_a_series_and_year": MEANWHILE,
    "paper_series_known": "A number belongs to bills or to credit notes.",
    "issued_bill_never_changes": "An issued bill is never changed. Give a credit note.",
    "issued_credit_never_changes": "An issued credit note is never changed. Bill again what it took back too much.",
    "lines_of_an_issued_bill": "An issued bill keeps its lines. Give a credit note.",
    "lines_of_an_issued_credit_note": "An issued credit note keeps its lines.",
    "one_bill_a_number": MEANWHILE,
    "one_credit_note_a_number": MEANWHILE,
    "reports_bill.number": MEANWHILE,
    "reports_creditnote.number": MEANWHILE,
    "one_bill_line_a_place": MEANWHILE,
    "one_credit_line_a_place": MEANWHILE,
    "bill_line_kind_known": "That is no kind of line we know.",
    "bill_line_ends_after_start": "A line ends after it begins.",
    "bill_line_covers_its_days": "No more days can be included than the line has.",
    "credit_line_kind_known": "That is no kind of line we know.",
    "credit_says_why": "Say why it is taken back.",
    "one_bill_a_day": "A day of this stay stands on another bill already. Take it back there first.",
    "one_charge_a_stay": "This is charged once a stay, and stands on another bill already. Take it back there first.",
    "one_bill_a_payer_and_month": "This payer has a bill for that month already. Take it back as a whole first.",
    "day_claim_stays": "What stands on a bill stays there until a credit note takes it back.",
    "once_claim_stays": "What stands on a bill stays there until a credit note takes it back.",
    "month_claim_stays": "What stands on a bill stays there until a credit note takes it back.",
    "released_day_stays": "This was given back already.",
    "released_charge_stays": "This was given back already.",
    "released_month_stays": "This was given back already.",
    "day_given_back_by_its_credit": "Only a credit line about that very line gives its days back.",
    "charge_given_back_by_its_credit": "Only a credit line about that very line gives it back.",
    "month_given_back_by_its_credit": "Only a credit note for the whole of that bill opens the month again.",
    "stored_paper_never_changes": "A paper stays as it was drawn.",
    "stored_paper_of_one_paper": "A stored paper is of one bill or of one credit note.",
    "one_stored_paper_a_bill": "This bill was drawn and stored already.",
    "one_stored_paper_a_credit_note": "This credit note was drawn and stored already.",
    "bill_sent_never_changes": "What was sent stays written down.",
    "bill_sent_of_one_paper": "Say which bill or credit note was sent.",
    "bill_sent_way_known": "Choose how it was sent.",
    "payment_never_changes": "A payment stays written down. Write down what went back as one below zero.",
    "payment_is_not_nothing": "Give the amount that was paid.",
    "line_question_never_changes": "A question stays as it was asked. Answer it, and ask again.",
    "line_question_says_who": "Say who asked.",
    "line_question_answered_after_asked": "The answer is due on the day of the question or later.",
    "line_answer_never_changes": "This question was answered already.",
    "line_answer_known": "A line stands, is taken back, or is waived.",
    "reports_lineanswer.question_id": "This question was answered already.",
    "day_mark_never_changes": "A mark stays written down. Mark the day anew; the last mark holds.",
    "day_mark_says_why": "Say why the day is marked.",
    "day_mark_says_hours_and_cause": "Say how many hours of readings the day has, and why not more.",
    "cut_leads_never_change": "What was seen stays written down. Write down the right number; the last one holds.",
    "cut_leads_of_one_kit": "A kit has at most five leads.",
    "cut_leads_say_why": "Say who cut them or how it was seen.",
    "access_offer_never_changes": "An offer stays written down.",
    "access_offer_way_known": "Choose how it was offered.",
    "one_access_offer_a_day": "An offer of that day is written down already.",
    "no_access_never_changes": "This charge was decided. A waived line or a credit note takes it back.",
    "no_access_after_two_offers": "Two written offers on different days come before this charge.",
    "no_access_says_why": "Say why the charge is right.",
    "reports_noaccess.deployment_id": "This charge was decided already.",
}


def declare() -> None:
    """Hand the guards and the sentences to the promises. Called once, when the app is ready."""
    for name, sentence in SENTENCES.items():
        say(name, sentence)
    for name, child, column, parent in (
        ("lines_of_an_issued_bill", "reports_billline", "bill_id", "reports_bill"),
        ("lines_of_an_issued_credit_note", "reports_creditline", "credit_note_id", "reports_creditnote"),
    ):
        register(
            FrozenWith(name, child_table=child, column=column, parent_table=parent, sealed_by="issued_at")
        )
    # A credit line or note that a claim names is sealed with its paper before anybody else can see it.
    of_line = "paper.bill_line_id = claim.line_id"
    for name, claims, papers, fits in (
        ("day_given_back_by_its_credit", "reports_dayclaim", "reports_creditline", of_line),
        ("charge_given_back_by_its_credit", "reports_onceclaim", "reports_creditline", of_line),
        (
            "month_given_back_by_its_credit",
            "reports_monthclaim",
            "reports_creditnote",
            "paper.bill_id = claim.bill_id AND paper.whole",
        ),
    ):
        register(GivenBack(name, claims=claims, papers=papers, fits=fits))
