"""Timers: one of a key for each person, due in person time, taken by one worker only."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import timedelta

import pytest

from domain.outcome import CancelTimer, OwnerAwaited, OwnerSettled, SetTimer
from domain.people import PersonId, Role
from storage import Database
from storage.timers import timers_of
from tests.storage.conftest import START, Clock, Town, undone


def _keys(town: Town, person: PersonId) -> list[tuple[str, float]]:
    with town.database.reading() as connection:
        return [
            (timer.key, (timer.due - START).total_seconds())
            for timer in timers_of(connection, person)
        ]


def test_a_timer_is_moved_by_its_key_and_cancelled_by_it(town: Town) -> None:
    hollis = town.hollis()

    town.store(hollis, timers=(_in("rest", 300), _in("prompt", 600), _in("rest", 60)))
    moved = _keys(town, hollis)
    town.store(hollis, timers=(CancelTimer(key="rest"), CancelTimer(key="unknown")))

    assert moved == [("rest", 60), ("prompt", 600)]
    assert _keys(town, hollis) == [("prompt", 600)]


def test_the_same_key_of_two_persons_is_two_timers(town: Town) -> None:
    hollis, tamsin = town.hollis(), town.person(town.invite(Role.PATIENT, "Tamsin"))

    town.store(hollis, timers=(_in("rest", 300),))
    town.store(tamsin, timers=(_in("rest", 60),))

    assert (_keys(town, hollis), _keys(town, tamsin)) == ([("rest", 300)], [("rest", 60)])


def test_a_question_whose_owner_is_settled_is_asked_of_nobody_any_more(town: Town) -> None:
    hollis, tamsin = town.hollis(), town.person(town.invite(Role.PATIENT, "Tamsin"))
    due = START + timedelta(minutes=3)
    for key in ("owner:-5:7|192/114|", "owner:-5:71|192/114|"):
        asked = OwnerAwaited(persons=(hollis, tamsin), key=key, due=due)
        town.store(hollis, asked)

    town.store(hollis, OwnerSettled(prefix="owner:-5:7|"))

    for person in (hollis, tamsin):
        assert [key for key, _ in _keys(town, person)] == ["owner:-5:71|192/114|"]


@pytest.mark.parametrize(("seconds", "due"), [(59.999, False), (60, True), (61, True)])
def test_a_timer_is_due_from_its_moment_on(
    town: Town, clock: Clock, seconds: float, due: bool
) -> None:
    hollis = town.hollis()
    town.store(hollis, timers=(_in("rest", 60),))

    clock.forward(seconds=seconds)

    with town.database.work() as work:
        assert work.due_persons(10) == ([hollis] if due else [])
        assert (work.take_due(hollis) is not None) is due


def test_due_timers_come_longest_due_first_and_once(town: Town, clock: Clock) -> None:
    hollis = town.hollis()
    town.store(hollis, timers=(_in("later", 20), _in("first", 10)))
    clock.forward(minutes=1)

    with town.database.work() as work:
        keys = [timer.key for timer in iter(lambda: work.take_due(hollis), None)]

    assert keys == ["first", "later"]
    assert _keys(town, hollis) == []


def test_a_timer_of_a_transaction_that_fails_is_still_there(town: Town, clock: Clock) -> None:
    hollis = town.hollis()
    town.store(hollis, timers=(_in("rest", 10),))
    clock.forward(minutes=1)

    with undone(town.database) as work:
        assert work.take_due(hollis) is not None

    assert _keys(town, hollis) == [("rest", 10)]


def test_a_postponed_timer_remembers_how_often_it_failed(town: Town, clock: Clock) -> None:
    hollis = town.hollis()
    town.store(hollis, timers=(_in("rest", 10),))
    clock.forward(minutes=1)
    with town.database.reading() as connection:
        (timer,) = timers_of(connection, hollis)

    with town.database.work() as work:
        work.postpone(timer, START + timedelta(hours=1))

    with town.database.reading() as connection:
        (later,) = timers_of(connection, hollis)
    assert (later.attempts, later.due) == (1, START + timedelta(hours=1))


def test_a_timer_that_was_moved_meanwhile_is_not_postponed(town: Town, clock: Clock) -> None:
    hollis = town.hollis()
    town.store(hollis, timers=(_in("rest", 10),))
    with town.database.reading() as connection:
        (timer,) = timers_of(connection, hollis)
    town.store(hollis, timers=(_in("rest", 20),))

    with town.database.work() as work:
        work.postpone(timer, START + timedelta(hours=1))

    assert _keys(town, hollis) == [("rest", 20)]


def test_person_time_is_what_timers_fall_by(town: Town) -> None:
    hollis = town.hollis()
    town.store(hollis, timers=(_in("prompt", 86_400),))

    with town.database.work() as work:
        assert work.next_due() == START + timedelta(days=1)
        assert work.due_persons(10) == []
        work.move_clock(START + timedelta(days=1))
        assert work.due_persons(10) == [hollis]

    with town.database.work() as work:
        assert work.now() == START + timedelta(days=1)
        assert work.machine_now == START


def test_two_workers_fire_every_timer_once(
    town: Town, opened: Callable[[], Database], clock: Clock
) -> None:
    people = [town.person(town.invite(Role.PATIENT, f"Person {n}")) for n in range(30)]
    for person in people:
        town.store(person, timers=(_in("first", 10), _in("second", 20)))
    clock.forward(minutes=1)
    fired: list[tuple[PersonId, str]] = []
    guard = threading.Lock()

    def work_on(database: Database) -> None:
        while True:
            with database.work() as work:
                due = work.due_persons(10)
            if not due:
                return
            for person in due:
                with database.work() as work:
                    locked = work.patient(person, skip_locked=True)
                    timer = work.take_due(person) if locked else None
                    if timer is not None:
                        with guard:
                            fired.append((person, timer.key))

    workers = [threading.Thread(target=work_on, args=(opened(),)) for _ in range(2)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()

    assert sorted(fired) == sorted((p, key) for p in people for key in ("first", "second"))
    for person in people:
        assert [key for who, key in fired if who == person] == ["first", "second"]


@pytest.mark.postgres
def test_somebody_whom_another_worker_is_busy_with_is_passed_over(postgres_url: str) -> None:
    from storage import open_database

    first, second = open_database(postgres_url), open_database(postgres_url)
    hollis = Town(first).hollis()

    with first.work() as busy:
        assert busy.patient(hollis) is not None
        with second.work() as other:
            assert other.patient(hollis, skip_locked=True) is None
    with second.work() as other:
        assert other.patient(hollis, skip_locked=True) is not None
    first.dispose()
    second.dispose()


def _in(key: str, seconds: float) -> SetTimer:
    return SetTimer(key=key, due=START + timedelta(seconds=seconds))
