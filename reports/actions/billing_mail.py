"""A bill or credit note goes out by e-mail: its stored paper, byte for byte, and written down only when it went out."""

from smtplib import SMTPException

from django.core.mail import EmailMessage, get_connection

from kits.actions.acting import Act, Done, action, record
from kits.models import Shop
from kits.promises import Refused
from reports.actions.billing_after import check_office, of_paper
from reports.models import Bill, BillSent, CreditNote, SentBy, StoredPaper
from sites.day_mail import one_line


def send_by_email(
    act: Act,
    *,
    paper: Bill | CreditNote,
    to: str,
    subject: str,
    text: str,
    day_list: bytes | None = None,
) -> Done:
    """The stored paper is sent. When the mail server refuses, nothing is written down."""
    check_office(act)
    connection = get_connection()
    # Opened before anything is locked: a mail server that does not answer must not keep the shop waiting.
    try:
        connection.open()
    except (OSError, SMTPException) as trouble:
        raise Refused(not_sent(trouble), code="not_sent") from trouble

    @action
    def send(act: Act, *, paper: Bill | CreditNote, to: str, mail: EmailMessage) -> Done:
        BillSent.objects.create(
            **of_paper(paper), how=SentBy.EMAIL, to=to, sent_at=act.happened_at, sent_by=act.typed_by
        )
        done = record(act, "bill sent", f"{paper} sent by e-mail to {to}", about=[paper])
        try:
            mail.send()  # last: whatever failed before it, nothing went out
        except (OSError, SMTPException, ValueError) as trouble:
            raise Refused(not_sent(trouble), code="not_sent") from trouble
        return done

    stored = StoredPaper.objects.filter(**of_paper(paper)).first()
    if stored is None:
        raise Refused(f"The paper of {paper} is not drawn yet. Draw it first.", code="not_drawn")
    mail = mail_of(paper, bytes(stored.content), to=to, subject=subject, text=text, day_list=day_list)
    mail.connection = connection
    try:
        return send(act, paper=paper, to=to, mail=mail)
    finally:
        connection.close()


def mail_of(
    paper: Bill | CreditNote, content: bytes, *, to: str, subject: str, text: str, day_list: bytes | None
) -> EmailMessage:
    """The mail with the paper, and the list of its days where wanted."""
    message = EmailMessage(subject=one_line(subject), body=text, to=[to])
    message.attach(f"{paper.number}.pdf", content, "application/pdf")
    if day_list:
        message.attach(f"{paper.number}-days.pdf", day_list, "application/pdf")
    shop = Shop.current()
    if shop.email:
        message.reply_to = [one_line(shop.email)]
    return message


def not_sent(trouble: Exception) -> str:
    return (
        f"The mail did not go out: {one_line(str(trouble)) or type(trouble).__name__}. Nothing was written down. "
        "Try again later, or send it by post and mark that."
    )
