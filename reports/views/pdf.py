"""A PDF as an answer."""

from django.http import HttpResponse


def pdf(data: bytes, name: str) -> HttpResponse:
    """Shown by the browser; saved under `name`."""
    answer = HttpResponse(data, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return answer
