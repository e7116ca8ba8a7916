"""States that an earlier release stored still load, with what it did not know at its default."""

from __future__ import annotations

from domain.people import AlarmStage, State
from storage import codec

#: Written by the release before persons had limits, details and rehearsals of their own.
STORED = (
    '{"joining":null,"asking":"","profile":{"zone":"Europe/Lisbon","country":"PT","emergency_'
    'number":"112","medicine_times":["08:00:00","20:00:00"],"morning_prompt":"07:30:00","even'
    'ing_prompt":null,"monitor":null,"arm_cm":null,"arm":null,"barred_arm":null,"adult":true,'
    '"target":[135,85]},"plan":{"kind":"first-week","first_day":"2026-03-09","weekdays":null}'
    ',"wanted_plan":null,"occasion":{"step":"first","opened":"2026-03-10T07:00:00Z","half":""'
    ',"reminded":false,"symptoms":[]},"in_doubt":{"text":"131/85 or 181/85","made_by":{"chat"'
    ':5,"message":9},"written_at":"2026-03-10T07:00:00Z","doubts":["ambiguous"],"options":[{"'
    'systolic":131,"diastolic":85,"pulse":null,"at":null}],"together":false,"known_systolic":'
    'null,"known_diastolic":null,"is_edit":false},"alarm":{"stage":"emergency","opened":"2026'
    '-03-10T07:00:00Z","readings":[[192,114]],"symptoms":["chest_pain"],"causes":[{"chat":5,"'
    'message":7}],"told":["wren"],"failed":[],"answered_by":[],"rounds":2,"asks":0,"checks":0'
    ',"no_symptoms":false,"patient_said":"","slip":false,"reported_by":null},"paused":false,"'
    'joined_at":"2026-03-09T00:00:00Z","declined":false,"cautions_shown":false}'
)


def test_a_state_of_the_release_before_loads_whole() -> None:
    state = codec.state(STORED)
    assert state.alarm is not None
    assert state.alarm.stage is AlarmStage.EMERGENCY
    assert state.alarm.readings == ((192, 114),)
    assert state.alarm.rounds == 2
    assert state.profile.emergency_number == "112"
    assert state.in_doubt is not None
    assert state.in_doubt.options[0].systolic == 131
    assert state.plan is not None


def test_what_it_did_not_know_is_at_its_default_and_goes_back_whole() -> None:
    state = codec.state(STORED)
    assert not state.profile.pregnant
    assert state.profile.severe is None
    assert state.profile.long_standing == ()
    assert state.rehearsal is None
    assert state.alarm is not None
    assert state.alarm.unable == ()
    assert codec.state(codec.state_text(state)) == state
    assert isinstance(state, State)
