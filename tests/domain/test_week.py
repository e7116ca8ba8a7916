"""The view of a person's week and the text that says the same."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from random import Random
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from domain import invented
from domain.people import Note, NoteKind
from domain.readings import Half, Mmhg, Reading
from domain.shown import Against, Pair, compare
from domain.week import WeekView, average_of, caption, symptoms_line, week_view

LISBON = ZoneInfo("Europe/Lisbon")
MONDAY = date(2026, 3, 9)
TARGET = (135, 85)


def reading(day: int, clock: str, systolic: int, diastolic: int) -> Reading:
    """On a day of March 2026 in Lisbon."""
    hour, minute = clock.split(":")
    return Reading(
        systolic=Mmhg(systolic),
        diastolic=Mmhg(diastolic),
        at=datetime(2026, 3, day, int(hour), int(minute), tzinfo=LISBON),
    )


def view(
    *readings: Reading, today: date | None = None, asked: int | None = None, first: date = MONDAY
) -> WeekView:
    return week_view(
        readings, zone=LISBON, first_day=first, target=TARGET, today=today, asked=asked
    )


def keys(week: WeekView) -> list[str]:
    return [said.key for said in caption(week, "Hollis")]


def test_a_week_has_seven_days_from_the_first_also_without_readings() -> None:
    week = view()

    assert [day.day for day in week.days] == [MONDAY + timedelta(days=n) for n in range(7)]
    assert week.average is None
    assert week.against is Against.NONE
    assert len(week.missing) == 7
    assert week.highest is None


def test_two_readings_a_minute_apart_are_one_occasion_with_their_mean_rounded_half_up() -> None:
    week = view(reading(9, "07:40", 142, 91), reading(9, "07:41", 139, 88))

    (shown,) = week.days[0].occasions

    assert shown.value == Pair(141, 90)  # 281/2 = 140.5; 179/2 = 89.5
    assert shown.half is Half.MORNING
    assert shown.readings == 2


def test_the_average_is_the_mean_of_all_readings_not_of_occasions() -> None:
    week = view(
        reading(9, "07:40", 150, 90), reading(9, "07:41", 150, 90), reading(9, "20:00", 120, 75)
    )

    assert week.average is not None
    assert week.average.value == Pair(140, 85)  # 420/3; 255/3
    assert (week.average.occasions, week.average.readings) == (2, 3)
    assert week.morning is not None
    assert week.morning.value == Pair(150, 90)
    assert week.evening is not None
    assert week.evening.value == Pair(120, 75)


def test_an_afternoon_and_a_second_morning_are_shown_and_counted() -> None:
    week = view(
        reading(10, "07:00", 140, 85), reading(10, "09:00", 130, 80), reading(10, "14:00", 120, 75)
    )
    day = week.days[1]

    assert [o.value for o in day.of(Half.MORNING)] == [Pair(140, 85), Pair(130, 80)]
    assert [o.value for o in day.of(Half.AFTERNOON)] == [Pair(120, 75)]
    mean = day.mean(Half.MORNING)
    assert mean is not None
    assert mean.value == Pair(135, 83)  # 82.5 up
    assert average_of(week).key == "week.of.times"


@pytest.mark.parametrize(
    ("moment", "inside"),
    [
        pytest.param(datetime(2026, 3, 8, 23, 59, tzinfo=LISBON), False, id="the night before"),
        pytest.param(datetime(2026, 3, 9, 0, 0, tzinfo=LISBON), True, id="its first minute"),
        pytest.param(datetime(2026, 3, 15, 23, 59, tzinfo=LISBON), True, id="its last minute"),
        pytest.param(datetime(2026, 3, 16, 0, 0, tzinfo=LISBON), False, id="the night after"),
    ],
)
def test_the_week_begins_and_ends_at_local_midnight(moment: datetime, inside: bool) -> None:
    week = view(Reading(systolic=Mmhg(130), diastolic=Mmhg(80), at=moment))

    assert bool(week.occasions) is inside


def test_days_are_those_of_the_persons_zone() -> None:
    late = Reading(
        systolic=Mmhg(130), diastolic=Mmhg(80), at=datetime(2026, 3, 9, 20, tzinfo=LISBON)
    )

    week = week_view([late], zone=ZoneInfo("Asia/Kolkata"), first_day=MONDAY, target=TARGET)

    assert [bool(day.occasions) for day in week.days[:2]] == [False, True]  # 01:30 on the 10th


def test_a_week_with_a_change_of_clocks_keeps_its_occasions_apart() -> None:
    before, after = (
        Reading(
            systolic=Mmhg(value),
            diastolic=Mmhg(80),
            at=datetime(2026, 10, 25, 1, 30, fold=fold, tzinfo=LISBON),
        )
        for fold, value in ((0, 130), (1, 150))
    )

    week = view(before, after, first=date(2026, 10, 19))

    assert [o.value.systolic for o in week.days[6].occasions] == [130, 150]


def test_days_after_today_are_coming_and_not_missing() -> None:
    week = view(reading(9, "07:40", 130, 80), today=date(2026, 3, 10))

    assert week.missing == (date(2026, 3, 10),)
    assert [day.coming for day in week.days] == [False, False, True, True, True, True, True]


@pytest.mark.parametrize(
    ("systolic", "diastolic", "severe"),
    [(179, 109, False), (180, 70, True), (150, 110, True)],
)
def test_an_occasion_is_marked_when_one_reading_of_it_was_severe(
    systolic: int, diastolic: int, severe: bool
) -> None:
    # The mean with the second reading lies far below the limit.
    week = view(reading(9, "07:40", systolic, diastolic), reading(9, "07:42", 120, 60))

    assert bool(week.severe) is severe
    assert ("week.caption.severe" in keys(week)) is severe


@pytest.mark.parametrize(
    ("mean", "days", "against"),
    [
        pytest.param((134, 84), 3, Against.WITHIN, id="both just below"),
        pytest.param((135, 84), 3, Against.EDGE, id="systolic equal"),
        pytest.param((134, 85), 3, Against.EDGE, id="diastolic equal"),
        pytest.param((136, 84), 3, Against.A_LITTLE_ABOVE, id="one above"),
        pytest.param((144, 89), 3, Against.A_LITTLE_ABOVE, id="just a little in both"),
        pytest.param((145, 80), 3, Against.ABOVE, id="systolic ten above"),
        pytest.param((130, 90), 3, Against.ABOVE, id="diastolic five above"),
        pytest.param((159, 99), 3, Against.ABOVE, id="just below still high"),
        pytest.param((160, 80), 3, Against.WELL_ABOVE, id="still high by systolic"),
        pytest.param((140, 100), 1, Against.WELL_ABOVE, id="still high however few days"),
        pytest.param((179, 109), 3, Against.WELL_ABOVE, id="just below severe"),
        pytest.param((180, 80), 1, Against.FAR_ABOVE, id="severe by systolic"),
        pytest.param((150, 110), 3, Against.FAR_ABOVE, id="severe by diastolic"),
        pytest.param((90, 60), 3, Against.WITHIN, id="just not low"),
        pytest.param((89, 60), 1, Against.LOW, id="low however few days"),
        pytest.param((136, 84), 2, Against.TOO_FEW, id="two days"),
    ],
)
def test_an_average_stands_to_the_target(
    mean: tuple[int, int], days: int, against: Against
) -> None:
    assert compare(Pair(*mean), Pair(*TARGET), days=days) is against


@pytest.mark.parametrize(
    ("clocks", "key"),
    [
        (["07:40"], "week.of.mornings"),
        (["20:00"], "week.of.evenings"),
        (["07:40", "20:00"], "week.of.both"),
        (["14:00"], "week.of.times"),
        (["07:40", "14:00"], "week.of.times"),
    ],
)
def test_the_text_says_what_the_average_is_an_average_of(clocks: list[str], key: str) -> None:
    week = view(*(reading(9, clock, 130, 80) for clock in clocks))

    said = average_of(week)

    assert said.key == key
    assert said.values["count"] == len(clocks)


def test_only_the_symptoms_of_the_week_are_named_each_once_in_the_order_told() -> None:
    def note(day: int, code: str, kind: NoteKind = NoteKind.SYMPTOM) -> Note:
        return Note(kind=kind, at=datetime(2026, 3, day, 9, tzinfo=LISBON), code=code)

    notes = [
        note(12, "headache"),
        note(10, "dizziness"),
        note(13, "dizziness"),
        note(8, "cough"),
        note(16, "nausea"),
        note(11, "morning", NoteKind.MISSED),
    ]

    week = week_view([], zone=LISBON, first_day=MONDAY, target=TARGET, notes=notes)

    assert week.symptoms == ("dizziness", "headache")


def test_a_short_list_of_symptoms_never_leaves_out_those_that_cannot_wait() -> None:
    codes = ["cough", "tiredness", "headache", "chest_pain"]
    notes = [
        Note(kind=NoteKind.SYMPTOM, at=datetime(2026, 3, 10, n, tzinfo=LISBON), code=code)
        for n, code in enumerate(codes)
    ]
    week = week_view([], zone=LISBON, first_day=MONDAY, target=TARGET, notes=notes)

    said = symptoms_line(week, most=2)

    assert said.key == "week.symptoms.more"
    assert said.values["others"] == 2
    assert str(said.values["symptoms"]).count("symptom.") == 2
    assert "symptom.chest_pain" in str(said.values["symptoms"])


def test_a_day_of_many_occasions_is_told_by_its_count_and_range() -> None:
    week = view(*(reading(9, f"{hour:02}:00", 120 + hour, 80) for hour in (6, 8, 10, 13, 20)))

    (told,) = [said for said in caption(week, "Hollis") if said.key == "week.caption.day.range"]

    assert told.values == {"day": MONDAY, "times": 5, "low": "126/80", "high": "140/80"}


def test_the_text_tells_how_much_was_measured_of_what_was_asked() -> None:
    week = view(reading(9, "07:40", 130, 80), asked=14)

    (told,) = [said for said in caption(week, "Hollis") if said.key == "week.caption.asked"]

    assert (told.values["done"], told.values["asked"]) == (1, 14)


def test_invented_readings_are_said_to_be_invented() -> None:
    week = week_view([], zone=LISBON, first_day=MONDAY, target=TARGET, invented=True)

    assert "week.invented" in keys(week)
    assert "week.invented" not in keys(view())


MOMENTS = st.timedeltas(timedelta(0), timedelta(days=9)).map(
    lambda later: datetime(2026, 3, 8, tzinfo=LISBON) + later
)
READINGS = st.lists(
    st.builds(
        lambda at, diastolic, above: Reading(
            systolic=Mmhg(min(300, diastolic + above)), diastolic=Mmhg(diastolic), at=at
        ),
        MOMENTS,
        st.integers(40, 200),
        st.integers(10, 120),
    ),
    max_size=30,
)


@given(READINGS)
def test_no_reading_of_the_week_is_hidden(readings: list[Reading]) -> None:
    different = {(r.at, r.systolic, r.diastolic) for r in readings}
    inside = [key for key in different if MONDAY < key[0].date() < MONDAY + timedelta(days=6)]

    week = view(*readings)

    # An occasion lies on the day of its first reading, so only inner days are sure to count.
    assert sum(o.readings for o in week.occasions) >= len(inside)
    assert sum(o.readings for o in week.occasions) <= len(different)


@given(READINGS, st.randoms())
def test_the_order_of_the_readings_does_not_matter(readings: list[Reading], random: Random) -> None:
    different = list({r.at: r for r in readings}.values())
    shuffled = list(different)
    random.shuffle(shuffled)

    assert view(*shuffled) == view(*different)


def test_the_invented_readings_are_the_same_every_time_and_mornings_are_higher() -> None:
    once, again = invented.invented_readings(), invented.invented_readings()
    week = week_view(once, zone=invented.ZONE, first_day=MONDAY, target=TARGET)

    assert once == again
    assert len(week.occasions) == 11  # of 14: three were missed in the second week
    assert week.morning is not None
    assert week.evening is not None
    assert week.morning.value.systolic > week.evening.value.systolic
