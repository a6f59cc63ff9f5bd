"""The lines of the summary count what the tables below them list."""

from __future__ import annotations

from debrief_tools import debrief_of

from console.approach.event import PollAnswered, PollOpened
from console.approach.snapshot import LinkGap
from console.debrief.procedure_log import polls_of
from console.debrief.summary import verdicts
from console.envelope.limits import Level
from tests.fakes.changed import replace


def words_of(name: str, **changes: object) -> str:
    """Give the summary's lines of a recording with its exceedances changed alike."""
    d = debrief_of(name)
    one = next(e for e in d.exceedances if e.level is Level.WARNING)
    changed = replace(d, exceedances=(replace(one, **changes),))
    return "\n".join(line.text for line in verdicts(changed))


def test_only_data_checks_are_of_the_data() -> None:
    """A flag of capture has a source too, and is not of the data."""
    name = "late_braking.leadmark"
    assert "of the data" in words_of(name, id="data:frozen", source="optical")
    assert "of the data" not in words_of(name, id="capture:late", source="optical")


def test_a_shelved_exceedance_is_not_called_unacknowledged() -> None:
    """It waits for nobody, as the table says too."""
    name, open_ = "late_braking.leadmark", {"acknowledged_by": None, "acknowledged_t": None}
    assert "1 never acknowledged" in words_of(name, waits=True, **open_)
    assert "none left to acknowledge" in words_of(name, waits=False, **open_)
    assert "all acknowledged" in words_of(name, acknowledged_by="MK", acknowledged_t=1.0)


def test_a_silence_to_the_end_is_the_longest_gap() -> None:
    """A gap that nothing ended lasts to the end of the pass."""
    d = debrief_of("link_gap.leadmark")
    silent = LinkGap(d.course.t_last - 60.0, None)
    changed = replace(d, data=replace(d.data, gaps=(*d.data.gaps, silent)))
    words = [line.text for line in verdicts(changed)]
    assert any("longest gap 60.0 s" in line for line in words), words


def test_a_later_no_go_takes_completeness_back() -> None:
    """Every position go counts from the answer after which no other came in the way."""
    procedure = debrief_of("nominal_to_docked.leadmark").facts.procedure
    assert procedure is not None
    poll = procedure.polls[0]

    def answer(t: float, position: str, said: str, missing: int) -> PollAnswered:
        return PollAnswered(
            t=t, poll=poll.id, position=position, answer=said, initials="MK", missing=missing
        )

    events = [
        PollOpened(t=0.0, poll=poll.id, words="Go?", hold_m=20.0),
        answer(1.0, "a", "go", 1), answer(2.0, "b", "go", 0), answer(3.0, "a", "no-go", 1),
    ]  # fmt: skip
    assert polls_of(procedure, events)[0].complete_t is None
    events += [answer(4.0, "a", "go", 0), answer(5.0, "b", "go", 0)]
    assert polls_of(procedure, events)[0].complete_t == 4.0
