"""What a person sees of a page: its words, in order, without the markup."""

import re
from html import unescape
from typing import Any


def words(response: Any) -> str:
    """The text of the page's main part: tags dropped, entities undone, every blank one space."""
    page = response.content.decode()
    main = page[page.index("<main") : page.index("</main>")]
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", main)).split())
