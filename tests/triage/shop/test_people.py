"""Claims about accounts: who may sign in, as what, and that the shop keeps an owner."""

import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta

import pytest

from triage.errors import (
    LastOwnerError,
    LoginRuleError,
    LoginTakenError,
    NameRuleError,
    PasswordRuleError,
    UnknownPersonError,
    WrongPasswordError,
    WrongPresentPasswordError,
)
from triage.services.people import accounts
from triage.services.people.accounts import Account, account_of_session, sign_in
from triage.services.people.audit import ActFilter, Stamp, find_acts
from triage.services.people.passwords import Passwords
from triage.services.people.roles import Person, Role
from triage.store.database import Database

NINE = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
STAMP = Stamp(NINE, "Olin Marsh")
CHEAP = Passwords(passes=1, memory_kib=8, lanes=1)
DEARER = Passwords(passes=2, memory_kib=16, lanes=1)
OWN = "four words of mine"


def added(database: Database, login: str = "tova", role: Role = Role.TECHNICIAN) -> Account:
    """Somebody with a password of their own."""
    person = Person(login, login.title(), role)
    return accounts.add_person_with_password(database, person, OWN, CHEAP, STAMP)


def actions(database: Database) -> list[str]:
    """What stands in the audit trail, newest first."""
    return [act.action for act in find_acts(database, ActFilter()).acts]


def test_one_time_password_lets_in_and_asks_for_another(database: Database) -> None:
    person = Person("tova", "Tova Lind", Role.TECHNICIAN)

    made = accounts.add_person(database, person, CHEAP, STAMP)

    account = sign_in(database, "tova", made.password, CHEAP, NINE)
    assert account.person == person
    assert account.must_change_password


def test_password_stands_nowhere_in_clear(database: Database) -> None:
    made = accounts.add_person(database, Person("tova", "Tova", Role.OWNER), CHEAP, STAMP)

    with database.reading() as session:
        tables = ("users", "audit")
        rows = [
            session.connection().exec_driver_sql(f"SELECT * FROM {one}").all() for one in tables
        ]

    assert made.password not in str(rows)
    assert "$argon2id$" in str(rows)


def test_login_is_the_same_in_capitals_and_with_blanks_around(database: Database) -> None:
    added(database, "tova")

    assert sign_in(database, " Tova ", OWN, CHEAP, NINE).login == "tova"


@pytest.mark.parametrize("login", ["", "x", ".tova", "to va", "jürgen", "tova/lind", "t" * 61])
def test_login_that_breaks_the_rule_says_what_a_login_is(database: Database, login: str) -> None:
    with pytest.raises(LoginRuleError, match="2 to 60 characters: small letters"):
        added(database, login)


def test_login_that_somebody_has_is_refused(database: Database) -> None:
    added(database, "tova")

    with pytest.raises(LoginTakenError, match=r'"tova" is taken.*new one-time password'):
        added(database, "TOVA")


@pytest.mark.parametrize("name", ["", "  ", "n" * 101])
def test_name_that_is_empty_or_too_long_is_refused(database: Database, name: str) -> None:
    with pytest.raises(NameRuleError, match="1 to 100 characters"):
        accounts.add_person(database, Person("tova", name, Role.OWNER), CHEAP, STAMP)


@pytest.mark.parametrize(
    ("password", "rule"),
    [
        ("eleven char", "12 characters or more"),
        ("tova.the.first", "not be the login"),
        (" Tova.The.First ", "not be the login"),
        ("aaaaaaaaaaaaaaa", "one character over and over"),
        ("w" * 100 + "o" * 101, "200 characters or fewer"),
    ],
)
def test_new_password_that_is_easily_guessed_is_refused(
    database: Database, password: str, rule: str
) -> None:
    added(database, "tova.the.first")

    with pytest.raises(PasswordRuleError, match=rule):
        accounts.change_password(database, "tova.the.first", OWN, password, CHEAP, NINE)


def test_new_password_must_be_another_than_the_present_one(database: Database) -> None:
    added(database)

    with pytest.raises(PasswordRuleError, match="another than the present one"):
        accounts.change_password(database, "tova", OWN, OWN, CHEAP, NINE)


def test_own_password_is_changed_only_by_who_knows_the_present_one(database: Database) -> None:
    added(database)

    with pytest.raises(WrongPresentPasswordError, match="Enter it again"):
        accounts.change_password(
            database, "tova", "not this one", "another one of mine", CHEAP, NINE
        )

    assert sign_in(database, "tova", OWN, CHEAP, NINE).login == "tova"


def test_changed_password_ends_older_sessions_and_lets_in_from_then_on(database: Database) -> None:
    before = added(database)

    after = accounts.change_password(database, "tova", OWN, "another one of mine", CHEAP, NINE)

    assert account_of_session(database, before.id, before.session_number) is None
    assert account_of_session(database, after.id, after.session_number) == after
    assert sign_in(database, "tova", "another one of mine", CHEAP, NINE) == after
    with pytest.raises(WrongPasswordError):
        sign_in(database, "tova", OWN, CHEAP, NINE)


def test_one_spelling_of_a_letter_is_as_good_as_another(database: Database) -> None:
    added(database)
    composed, apart = "caf\u00e9 on the corner", "cafe\u0301 on the corner"
    accounts.change_password(database, "tova", OWN, composed, CHEAP, NINE)

    assert sign_in(database, "tova", apart, CHEAP, NINE).login == "tova"


@pytest.mark.parametrize(("login", "password"), [("tova", "wrong"), ("nobody", OWN), ("", "")])
def test_wrong_login_and_wrong_password_read_the_same(
    database: Database, login: str, password: str
) -> None:
    added(database)

    with pytest.raises(WrongPasswordError, match="do not go together") as caught:
        sign_in(database, login, password, CHEAP, NINE)

    assert str(caught.value) == str(WrongPasswordError())


def test_unknown_login_is_hashed_all_the_same(database: Database) -> None:
    added(database)
    drawn = []

    class Counting(Passwords):
        def digest(self, password: str) -> str:
            drawn.append(password)
            return super().digest(password)

    with pytest.raises(WrongPasswordError):
        sign_in(database, "nobody", "a guess", Counting(passes=1, memory_kib=8, lanes=1), NINE)

    assert drawn == ["a guess"]


def test_failure_is_on_record_without_what_was_typed_as_login(database: Database) -> None:
    added(database)
    for login in ("tova", "my secret password"):
        with pytest.raises(WrongPasswordError):
            sign_in(database, login, "wrong", CHEAP, NINE)

    failures = find_acts(database, ActFilter(by="", action="sign_in_failed")).acts

    assert [(one.subject, one.detail["reason"]) for one in failures] == [
        ("", "login"),
        ("tova", "password"),
    ]
    assert "secret" not in str(failures)


def test_deactivated_person_is_out_at_once_and_may_not_sign_in(database: Database) -> None:
    account = added(database)

    accounts.deactivate(database, "tova", STAMP)

    assert account_of_session(database, account.id, account.session_number) is None
    with pytest.raises(WrongPasswordError):
        sign_in(database, "tova", OWN, CHEAP, NINE)


def test_person_who_comes_back_signs_in_with_the_old_password(database: Database) -> None:
    account = added(database)
    accounts.deactivate(database, "tova", STAMP)

    accounts.activate(database, "tova", STAMP)

    assert sign_in(database, "tova", OWN, CHEAP, NINE).is_active
    assert account_of_session(database, account.id, account.session_number) is None


def test_reset_password_ends_sessions_and_asks_for_another(database: Database) -> None:
    account = added(database)

    made = accounts.reset_password(database, "tova", CHEAP, STAMP)

    assert account_of_session(database, account.id, account.session_number) is None
    assert sign_in(database, "tova", made.password, CHEAP, NINE).must_change_password
    with pytest.raises(WrongPasswordError):
        sign_in(database, "tova", OWN, CHEAP, NINE)


def test_signing_out_everywhere_ends_every_session(database: Database) -> None:
    account = added(database)

    accounts.end_sessions(database, "tova", NINE)

    assert account_of_session(database, account.id, account.session_number) is None


@pytest.mark.parametrize("user_id", [0, 99])
def test_session_of_nobody_is_no_session(database: Database, user_id: int) -> None:
    assert account_of_session(database, user_id, 1) is None


def test_name_and_role_change_and_both_are_on_record(database: Database) -> None:
    added(database)

    changed = accounts.change_person(database, "tova", " Tova  Berg ", Role.DISPATCHER, STAMP)

    assert changed.person == Person("tova", "Tova Berg", Role.DISPATCHER)
    assert actions(database) == ["role_changed", "person_renamed", "person_added"]


def test_change_that_changes_nothing_is_not_on_record(database: Database) -> None:
    account = added(database)

    accounts.change_person(database, "tova", account.name, account.role, STAMP)

    assert actions(database) == ["person_added"]


def test_name_that_is_empty_is_refused_in_a_change(database: Database) -> None:
    added(database)

    with pytest.raises(NameRuleError):
        accounts.change_person(database, "tova", " ", Role.OWNER, STAMP)


def test_only_owner_stays_owner(database: Database) -> None:
    added(database, "olin", Role.OWNER)
    added(database, "tova")

    with pytest.raises(LastOwnerError, match="make somebody else an owner first"):
        accounts.deactivate(database, "olin", STAMP)
    with pytest.raises(LastOwnerError):
        accounts.change_person(database, "olin", "Olin", Role.DISPATCHER, STAMP)

    assert accounts.find_person(database, "olin").role is Role.OWNER
    assert accounts.find_person(database, "olin").is_active
    assert actions(database) == ["person_added", "person_added"]


def test_second_owner_lets_the_first_go(database: Database) -> None:
    added(database, "olin", Role.OWNER)
    added(database, "una", Role.OWNER)

    accounts.deactivate(database, "olin", STAMP)

    with pytest.raises(LastOwnerError):
        accounts.deactivate(database, "una", STAMP)


def test_two_owners_who_let_each_other_go_at_once_leave_one(database: Database) -> None:
    for _ in range(5):
        for login in ("olin", "una"):
            if login in [one.login for one in accounts.find_people(database)]:
                accounts.activate(database, login, STAMP)
            else:
                added(database, login, Role.OWNER)
        ready = threading.Barrier(2)

        def let_go(login: str, ready: threading.Barrier = ready) -> bool:
            ready.wait()
            try:
                accounts.deactivate(database, login, STAMP)
            except LastOwnerError:
                return False
            return True

        with ThreadPoolExecutor(2) as pool:
            done = list(pool.map(let_go, ["olin", "una"]))

        assert sorted(done) == [False, True]
        assert len([one for one in accounts.find_people(database) if one.is_active]) == 1


@pytest.mark.parametrize(
    "act",
    [
        lambda database: accounts.find_person(database, "nobody"),
        lambda database: accounts.deactivate(database, "nobody", STAMP),
        lambda database: accounts.activate(database, "nobody", STAMP),
        lambda database: accounts.reset_password(database, "nobody", CHEAP, STAMP),
        lambda database: accounts.change_person(database, "nobody", "N", Role.OWNER, STAMP),
        lambda database: accounts.change_password(database, "nobody", OWN, OWN, CHEAP, NINE),
        lambda database: accounts.end_sessions(database, "nobody", NINE),
    ],
)
def test_unknown_login_is_named(database: Database, act) -> None:
    with pytest.raises(UnknownPersonError, match='Nobody has the login "nobody"'):
        act(database)


def test_first_owner_is_made_once(database: Database) -> None:
    assert not accounts.has_people(database)

    made = accounts.make_first_owner(database, CHEAP, NINE)

    assert accounts.has_people(database)
    assert made.account.role is Role.OWNER
    assert sign_in(database, made.account.login, made.password, CHEAP, NINE).must_change_password
    with pytest.raises(LoginTakenError):
        accounts.make_first_owner(database, CHEAP, NINE)


def test_digest_of_another_cost_is_made_anew_at_sign_in(database: Database) -> None:
    added(database)
    with database.reading() as session:
        query = "SELECT password_hash FROM users"
        before = session.connection().exec_driver_sql(query).scalar()

    sign_in(database, "tova", OWN, DEARER, NINE)

    with database.reading() as session:
        after = session.connection().exec_driver_sql(query).scalar()
    assert "t=1,p=1" in before
    assert "t=2,p=1" in after
    assert sign_in(database, "tova", OWN, DEARER, NINE).login == "tova"


def test_people_are_listed_by_name_and_those_who_left_last(database: Database) -> None:
    for login in ("una", "ada", "bo"):
        added(database, login, Role.OWNER)
    accounts.deactivate(database, "ada", STAMP)

    assert [one.login for one in accounts.find_people(database)] == ["bo", "una", "ada"]
    assert [name for _, name in accounts.technicians(database)] == ["Bo", "Una"]


def test_dispatcher_drives_no_van(database: Database) -> None:
    added(database, "ivo", Role.DISPATCHER)
    tova = added(database, "tova")

    assert accounts.technicians(database) == ((tova.id, "Tova"),)


def test_trail_tells_who_did_what_when_to_whom(database: Database) -> None:
    later = Stamp(NINE + timedelta(minutes=5), "Olin Marsh")
    added(database)
    accounts.reset_password(database, "tova", CHEAP, later)

    newest = find_acts(database, ActFilter()).acts[0]

    assert (newest.at, newest.by) == (later.at, "Olin Marsh")
    assert (newest.action, newest.subject) == ("password_reset", "tova")
