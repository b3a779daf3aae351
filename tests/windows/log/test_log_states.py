"""A log through any course of work, beside a plain list of what ought to stand in it."""

import shutil
import tempfile
from pathlib import Path
from zoneinfo import ZoneInfo

import log_cases as cases
import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule
from log_cases import create_log

from windows.errors import LogError
from windows.log import exchange as ex
from windows.log.entries import Draft, Note, Withdrawal, standing
from windows.log.proof import verify
from windows.log.store import begin_log, open_log

ZONE = ZoneInfo("America/New_York")
FORMS = {"csv": ex.log_csv, "json": ex.log_json, "parquet": ex.log_parquet}
WORDS = st.sampled_from(("", "=1", "a | b", "'x'", "two\nlines", "שלום", "\\", '"', "👷"))


class LogStates(RuleBasedStateMachine):
    """``said`` is what was written, in order; ``stands`` the numbers that nobody replaced."""

    def __init__(self):
        super().__init__()
        self.folder = Path(tempfile.mkdtemp())
        self.log = create_log(self.folder / "log", cases.OPENING, "Ann")
        self.said = [cases.OPENING]
        self.stands = {1}
        self.files = 0

    def teardown(self):
        self.log.close()
        shutil.rmtree(self.folder)

    def path(self):
        self.files += 1
        return self.folder / f"file{self.files}"

    def written(self, body, corrects=None):
        self.said.append(body)
        self.stands.discard(corrects)
        if not isinstance(body, Withdrawal):
            self.stands.add(len(self.said))

    def append(self, *drafts):
        entries = self.log.append(drafts, written=cases.hours(len(self.said)))
        for entry, draft in zip(entries, drafts, strict=True):
            assert (entry.body, entry.corrects) == (draft.body, draft.corrects)
            self.written(draft.body, draft.corrects)

    def pick(self, data):
        """Return the number of one that stands and may be replaced."""
        return data.draw(st.sampled_from(sorted(self.stands - {1})))

    @rule(hour=st.integers(0, 90), area=st.floats(1, 1e4), note=WORDS, batches=st.lists(WORDS))
    def place(self, hour, area, note, batches):
        names = tuple(batch for batch in batches if batch and "\n" not in batch)
        self.append(Draft("Ann", cases.placement(hour, area_m2=area, note=note, batches=names)))

    @rule(hours=st.lists(st.integers(0, 90), min_size=1, max_size=3), air=st.floats(-20, 40))
    def read(self, hours, air):
        self.append(*(Draft("Ben", cases.reading(hour, air_temp_c=air)) for hour in hours))

    @precondition(lambda self: len(self.stands) > 1)
    @rule(data=st.data(), note=WORDS)
    def correct(self, data, note):
        number = self.pick(data)
        body = self.said[number - 1].model_copy(update={"note": note + " mended"})
        self.append(Draft("Cy", body.model_validate(dict(body)), number))

    @precondition(lambda self: len(self.stands) > 1)
    @rule(data=st.data())
    def withdraw(self, data):
        self.append(cases.withdrawal(self.pick(data)))

    @precondition(lambda self: len(self.said) > len(self.stands))
    @rule(data=st.data())
    def replace_what_does_not_stand(self, data):
        gone = sorted(set(range(1, len(self.said) + 1)) - self.stands)
        with pytest.raises(LogError):
            self.log.append([cases.withdrawal(data.draw(st.sampled_from(gone)))])

    def exported(self, form):
        told = FORMS[form](self.log.entries())
        return ex.read_entries(told if isinstance(told, bytes) else told.encode(), "here")

    @rule(form=st.sampled_from(list(FORMS)))
    def go_on_in_a_copy_made_of_an_export(self, form):
        path = self.path()
        with begin_log(path) as other:
            ex.apply_import(self.plan(self.exported(form), other), other)
            assert list(other.entries()) == list(self.log.entries())
        self.move(path)

    @rule()
    def go_on_in_a_backup(self):
        path = self.path()
        assert self.log.backup(path) == len(self.said)
        self.move(path)

    def move(self, path):
        head = self.log.head
        self.log.close()
        self.log = open_log(path)
        assert self.log.head == head

    def plan(self, rows, log, **how):
        return ex.plan_import(rows, log, author="Di", zone=ZONE, **how)

    @rule(form=st.sampled_from(list(FORMS)), correct=st.booleans())
    def take_in_what_is_there(self, form, correct):
        plan = self.plan(self.exported(form), self.log, correct=correct)
        assert plan == ex.Import(known=len(self.said))
        assert ex.apply_import(plan, self.log) == ()

    @rule(hour=st.integers(0, 90), words=st.sampled_from(("dry", "wet", "cold")))
    def take_in_a_sheet(self, hour, words):
        at = cases.hours(hour)
        sheet = f"kind,at,note\nnote,{at.astimezone(ZONE):%Y-%m-%d %H:%M},{words}\n"
        plan = self.plan(ex.read_entries(sheet.encode(), "here"), self.log)
        body = Note(at=at, note=words)
        assert plan.known == (body in self.said)
        ex.apply_import(plan, self.log)
        if plan.new:
            self.written(body)

    @precondition(lambda self: len(self.stands) > 1)
    @rule(data=st.data(), form=st.sampled_from(("csv", "json")))
    def take_in_an_edited_export(self, data, form):
        number = self.pick(data)
        rows = self.exported(form)
        row = rows[number - 1]
        fields = row.cells if row.body is None else row.body
        fields["note"] = f"edited {len(self.said)}"
        with pytest.raises(LogError, match=f"entry {number} was changed"):
            self.plan(rows, self.log)
        plan = self.plan(rows, self.log, correct=True)
        body = self.said[number - 1].model_copy(update={"note": fields["note"]})
        assert plan.changed == ((number, Draft("Di", body, number)),)
        ex.apply_import(plan, self.log, written=cases.hours(len(self.said)))
        self.written(body, number)

    @rule()
    def take_in_the_log_of_another_roof(self):
        with create_log(self.path(), cases.OPENING.model_copy(update={"log": "x"}), "A") as other:
            other.append([Draft("A", Note(at=cases.START, note="x"))])
            rows = ex.read_entries(ex.log_json(other.entries()).encode(), "here")
            with pytest.raises(LogError, match="another log"):
                self.plan(rows, self.log)

    @invariant()
    def is_whole(self):
        found = verify(self.log)
        assert found.ok, found.faults
        assert (found.entries, found.head) == (len(self.said), self.log.head[1])
        assert self.log.head[0] == len(self.said)

    @invariant()
    def stands_as_it_ought(self):
        entries = list(self.log.entries())
        assert [entry.body for entry in entries] == self.said
        found = standing(entries)
        assert {entry.number for entry in found} == self.stands
        assert found == sorted(found, key=lambda entry: (entry.at, entry.number))


LogStates.TestCase.settings = settings(
    max_examples=12, stateful_step_count=18, deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)  # fmt: skip
TestLogStates = LogStates.TestCase
