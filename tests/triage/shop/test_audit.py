"""Claims about the audit trail: newest first, by page, and what a filter lets through."""

from datetime import UTC, datetime, timedelta

from triage.services.people.audit import PAGE_LENGTH, ActFilter, Action, Stamp, act, find_acts
from triage.store.audit import add_act
from triage.store.database import Database

NINE = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def note(
    database: Database, number: int, by: str = "Olin", action: Action = Action.SIGNED_IN
) -> None:
    with database.writing() as session:
        stamp = Stamp(NINE + timedelta(hours=number), by)
        add_act(session, act(action, stamp, f"act {number}", number=number))


def subjects(database: Database, wanted: ActFilter, page: int = 1) -> list[str]:
    return [one.subject for one in find_acts(database, wanted, page=page).acts]


def test_trail_comes_in_pages_newest_first(database: Database) -> None:
    for number in range(PAGE_LENGTH + 3):
        note(database, number)

    first = find_acts(database, ActFilter())
    second = find_acts(database, ActFilter(), page=2)

    assert first.acts[0].subject == f"act {PAGE_LENGTH + 2}"
    assert (len(first.acts), first.has_more) == (PAGE_LENGTH, True)
    assert [one.subject for one in second.acts] == ["act 2", "act 1", "act 0"]
    assert not second.has_more
    assert find_acts(database, ActFilter(), page=3).acts == ()


def test_acts_of_one_moment_keep_their_order(database: Database) -> None:
    note(database, 1)
    with database.writing() as session:
        for name in ("second", "third"):
            add_act(session, act(Action.SIGNED_IN, Stamp(NINE + timedelta(hours=1), "Olin"), name))

    assert subjects(database, ActFilter()) == ["third", "second", "act 1"]


def test_filter_lets_through_who_what_and_when(database: Database) -> None:
    note(database, 1, "Olin")
    note(database, 2, "Una")
    note(database, 3, "", Action.SIGN_IN_FAILED)
    note(database, 30, "Olin", Action.ROLE_CHANGED)

    assert subjects(database, ActFilter(by="Olin")) == ["act 30", "act 1"]
    assert subjects(database, ActFilter(by="")) == ["act 3"]
    assert subjects(database, ActFilter(action="role_changed")) == ["act 30"]
    day = ActFilter(since=NINE + timedelta(hours=2), before=NINE + timedelta(hours=30))
    assert subjects(database, day) == ["act 3", "act 2"]
    assert find_acts(database, day).names == ("", "Olin", "Una")


def test_long_subject_is_cut_to_what_the_store_holds(database: Database) -> None:
    with database.writing() as session:
        add_act(session, act(Action.SIGNED_IN, Stamp(NINE, "Olin"), "s" * 300))

    assert len(find_acts(database, ActFilter()).acts[0].subject) == 200
