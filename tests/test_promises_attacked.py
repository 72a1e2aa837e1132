"""Every promise of the books, attacked by raw SQL that goes round Django, on the real tables of the database in use.

Each attack has a twin that differs in one thing and is allowed, and each is seen to get through once its rule is taken
off: so none of these tests passes by accident. The whole list runs again after forced remakes of every table.
"""

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from django.apps import apps
from django.db import connection, models, transaction
from django.db.migrations.loader import MigrationLoader

from kits.promises import guards, missing_promises, without_guards
from kits.promises.rule import DatabaseRule
from tests.attacks.on_bills import ON_BILLS, build_bills
from tests.attacks.on_checks import ON_CHECKS
from tests.attacks.on_kits import ON_KITS
from tests.attacks.on_stays import ON_STAYS
from tests.attacks.world import Attack, World, build, refused_by
from tests.kits.scratch import run

ON_SQLITE = connection.vendor == "sqlite"
ATTACKS = [
    attack
    for attack in (*ON_KITS, *ON_CHECKS, *ON_STAYS, *ON_BILLS)
    if attack.only_on in ("", connection.vendor)
]


@pytest.fixture
def world(db: None) -> World:
    built = build()
    build_bills(built)
    if not ON_SQLITE:
        run("SET CONSTRAINTS ALL IMMEDIATE")  # PostgreSQL alters and empties no table that has rows waiting
    return built


def test_all_promises_of_the_kit_book_are_attacked() -> None:
    assert {attack.promise for attack in ATTACKS} == set(range(1, 9))


def test_every_rule_of_our_own_kinds_is_attacked() -> None:
    """The parties' rules have their own tests; every other no-overlap, append-only and guard stands in the list."""
    rules = {
        rule.name
        for model in apps.get_models()
        for rule in model._meta.constraints
        if isinstance(rule, DatabaseRule) and model.__name__ != "Party"
    }
    assert rules | {guard.name for guard in guards.registered()} <= {attack.rule for attack in ATTACKS}


# Without its rule every attack gets through


@contextmanager
def without(rule: str) -> Iterator[None]:
    """`rule` is off meanwhile, everything is as it was afterwards."""
    try:
        with transaction.atomic():
            take_off(rule)
            yield
            transaction.set_rollback(True)
    finally:
        if ON_SQLITE:
            run("PRAGMA ignore_check_constraints = OFF")


def take_off(rule: str) -> None:
    quote = connection.ops.quote_name
    guard = next((guard for guard in guards.registered() if guard.name == rule), None)
    if guard is not None:
        for name, table in guard.triggers(connection.vendor).items():
            run(f"DROP TRIGGER {quote(name)}" + ("" if ON_SQLITE else f" ON {quote(table)}"))
        return
    model, constraint = next(
        (model, found)
        for model in apps.get_models()
        for found in model._meta.constraints
        if found.name == rule
    )
    if not ON_SQLITE:
        for statement in str(constraint.remove_sql(model, connection.schema_editor())).split("; "):
            run(statement)
    elif isinstance(constraint, DatabaseRule):
        for name in constraint.trigger_names("sqlite"):
            run(f"DROP TRIGGER {quote(name)}")
    else:
        run("PRAGMA ignore_check_constraints = ON")


UNIQUE = {
    "one_offset_an_instant",
    "one_result_a_sensor",
    "one_bill_a_day",
    "one_charge_a_stay",
    "one_bill_a_payer_and_month",
}


def can_be_taken_off(attack: Attack) -> bool:
    """Not UNIQUE of a single field, nor any UNIQUE on SQLite: their index cannot be dropped there."""
    return "." not in attack.rule and not (ON_SQLITE and attack.rule in UNIQUE)


@pytest.mark.parametrize(
    "attack", [pytest.param(each, id=f"{each.promise}: {each.name}") for each in ATTACKS]
)
def test_an_attack_is_refused_its_twin_is_allowed_and_its_rule_is_the_reason(
    world: World, attack: Attack
) -> None:
    assert attack.is_refused(world)
    assert refused_by(attack.allowed(world)) == ""
    if can_be_taken_off(attack):
        with without(attack.rule):
            assert attack.is_let_through_by_others(world)
        assert attack.is_refused(world)  # the rule is back


# After forced remakes of every table


def change_and_change_back(model: type[models.Model]) -> None:
    """What later migrations may do to a table, ending where it began."""
    extra = models.IntegerField(default=3)
    extra.set_attributes_from_name("extra_for_a_while")
    extra.model = model
    nullable = models.CharField(max_length=9, null=True)
    nullable.set_attributes_from_name("more_for_a_while")
    nullable.model = model
    for field in (extra, nullable):
        with connection.schema_editor() as editor:
            editor.add_field(model, field)
        # As its docstring asks: AppendOnly that lets some columns change is taken off while a column goes.
        lets_change = [rule for rule in model._meta.constraints if getattr(rule, "may_change", ())]
        with connection.schema_editor() as editor:
            for rule in lets_change:
                editor.remove_constraint(model, rule)
        if not (lets_change and ON_SQLITE):  # there the table was just remade without it
            with connection.schema_editor() as editor:
                editor.remove_field(model, field)
        with connection.schema_editor() as editor:
            for rule in lets_change:
                editor.add_constraint(model, rule)

    plain = [
        field for field in model._meta.local_concrete_fields if not (field.primary_key or field.is_relation)
    ]
    old = plain[0]
    new = old.clone()
    new.null = True
    new.set_attributes_from_name(old.name)
    new.model = model
    for before, after in ((old, new), (new, old)):
        with connection.schema_editor() as editor:
            editor.alter_field(model, before, after, strict=False)

    for rule in model._meta.constraints:
        with connection.schema_editor() as editor:
            editor.remove_constraint(model, rule)
            editor.add_constraint(model, rule)


@pytest.mark.django_db(transaction=True)
def test_after_forced_remakes_of_every_table_every_attack_is_still_refused() -> None:
    world = build()
    build_bills(world)
    state = MigrationLoader(connection).project_state()  # the models as a migration sees them
    ours = [
        model for model in state.apps.get_models() if model._meta.app_label in ("kits", "sites", "reports")
    ]
    assert len(ours) > 20
    with without_guards(connection):
        for model in ours:
            change_and_change_back(model)
    assert missing_promises(connection) == []
    fallen = [
        f"{attack.promise}: {attack.name}"
        for attack in ATTACKS
        if not attack.is_refused(world) or refused_by(attack.allowed(world)) != ""
    ]
    assert fallen == []
