"""Lines of a paper: free while it is open, fixed with it once it is closed, from every side and in a race."""

import threading
from collections.abc import Iterator
from typing import Any

import pytest
from django.db import connection, connections, migrations, models, transaction

from kits.promises import FrozenWith, guards, register, without_guards
from tests.kits.scratch import Ground, ground, refused_by, run, transactional_db  # noqa: F401

pytestmark = pytest.mark.usefixtures("transactional_db")

LINE_OF_A_PAPER = FrozenWith(
    "line_of_a_paper",
    child_table="scratch_line",
    column="paper",
    parent_table="scratch_paper",
    sealed_by="closed",
)
WORD_OF_A_LINE = FrozenWith(
    "word_of_a_line",
    child_table="scratch_word",
    column="line",
    parent_table="scratch_paper",
    sealed_by="closed",
    through=("scratch_line", "paper"),
)


def table(name: str, *columns: str) -> migrations.CreateModel:
    fields: list[tuple[str, models.Field[Any, Any]]] = [("id", models.BigAutoField(primary_key=True))]
    fields += [(column, models.BigIntegerField(null=True)) for column in columns]
    return migrations.CreateModel(name, fields)


@pytest.fixture
def papers(monkeypatch: pytest.MonkeyPatch) -> Iterator[Ground]:
    """Paper 1 is open, paper 2 closed; each has a line, and each line a word."""
    with ground(table("Paper", "closed"), table("Line", "paper"), table("Word", "line")) as patch:
        run("INSERT INTO scratch_paper (id, closed) VALUES (1, NULL), (2, 7)")
        run("INSERT INTO scratch_line (id, paper) VALUES (1, 1), (2, 2)")
        run("INSERT INTO scratch_word (id, line) VALUES (1, 1), (2, 2)")
        with without_guards(connection):
            monkeypatch.setattr(guards, "_guards", dict(guards._guards))
            register(LINE_OF_A_PAPER)
            register(WORD_OF_A_LINE)
        try:
            yield patch
        finally:
            monkeypatch.undo()
            with without_guards(connection):
                pass


@pytest.mark.parametrize(
    ("statement", "rule"),
    [
        ("INSERT INTO scratch_line (id, paper) VALUES (9, {paper})", "line_of_a_paper"),
        ("UPDATE scratch_line SET id = 9 WHERE paper = {paper}", "line_of_a_paper"),
        ("DELETE FROM scratch_line WHERE paper = {paper}", "line_of_a_paper"),
        ("INSERT INTO scratch_word (id, line) VALUES (9, {paper})", "word_of_a_line"),
        ("UPDATE scratch_word SET id = 9 WHERE line = {paper}", "word_of_a_line"),
        ("DELETE FROM scratch_word WHERE line = {paper}", "word_of_a_line"),
    ],
)
def test_lines_are_free_while_the_paper_is_open_and_fixed_once_it_is_closed(
    papers: Ground, statement: str, rule: str
) -> None:
    assert refused_by(lambda: run(statement.format(paper=2))) == rule
    assert refused_by(lambda: run(statement.format(paper=1))) == ""


def test_a_line_moves_neither_into_a_closed_paper_nor_out_of_it(papers: Ground) -> None:
    assert refused_by(lambda: run("UPDATE scratch_line SET paper = 2 WHERE id = 1")) == "line_of_a_paper"
    assert refused_by(lambda: run("UPDATE scratch_line SET paper = 1 WHERE id = 2")) == "line_of_a_paper"


@pytest.mark.skipif(connection.vendor != "sqlite", reason="SQLite's own statement")
def test_a_closed_papers_line_is_not_replaced(papers: Ground) -> None:
    forged = "INSERT OR REPLACE INTO scratch_line (id, paper) VALUES (2, 1)"
    assert refused_by(lambda: run(forged)) == "line_of_a_paper"


@pytest.mark.skipif(connection.vendor != "postgresql", reason="PostgreSQL's own statement")
def test_closed_papers_are_not_emptied(papers: Ground) -> None:
    assert refused_by(lambda: run("TRUNCATE scratch_line")) == "line_of_a_paper"


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite has one writer at a time")
def test_a_line_that_comes_while_the_paper_is_being_closed_waits_and_is_refused(papers: Ground) -> None:
    answers: list[str] = []

    def add() -> None:
        try:
            answers.append(refused_by(lambda: run("INSERT INTO scratch_line (id, paper) VALUES (9, 1)")))
        finally:
            connections.close_all()

    adder = threading.Thread(target=add)
    with transaction.atomic():
        run("UPDATE scratch_paper SET closed = 8 WHERE id = 1")
        adder.start()
        adder.join(timeout=0.3)
        assert adder.is_alive(), "it did not wait"
    adder.join(timeout=10)
    assert answers == ["line_of_a_paper"]
