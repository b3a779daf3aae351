"""What the log says is laid, as the job file's own: counted once, in parts, or refused."""

import plan_cases
import pytest
from log_cases import create_log

from cure_models.system import load_system
from windows.errors import LogError, SiteError
from windows.job_file import load_job, log_of
from windows.log.entries import Draft, Opening, Placement, Preparation, Withdrawal
from windows.pieces import pieces
from windows.site import load_site

JOB = """\
system = "acrylic_two_coat"
[[section]]
name = "A"
area = "5,000 ft2"
[[section]]
name = "B"
area = "3,000 ft2"
"""
PLACED = """\
[[placed]]
section = "A"
layer = "base"
start = "2026-06-01T09:00"
end = "2026-06-01T12:00"
"""
A_M2 = 5000 * 0.09290304
START, END = "2026-06-01T13:00:00Z", "2026-06-01T16:00:00Z"  # 09:00 to 12:00 in New York
NOW = plan_cases.pd.Timestamp("2026-06-03T12:00Z")


@pytest.fixture
def roof(tmp_path):
    (tmp_path / "site.toml").write_text(plan_cases.SITE_FILE)
    (tmp_path / "job.toml").write_text(JOB)
    return tmp_path


def laid(section="A", layer="base", at=START, end=END, area_m2=A_M2):
    return Placement(at=at, end=end, section=section, layer=layer, area_m2=area_m2)


def write(roof, *bodies):
    """Write bodies, or bodies with the number of the entry that they correct."""
    drafts = [Draft("Ann", b) if not isinstance(b, tuple) else Draft("Ann", *b) for b in bodies]
    opening = Opening(at=START, log="1", site="x", zone="America/New_York")
    with create_log(log_of(roof), opening, "Ann") as log:
        log.append(drafts)


def found(roof, now=NOW):
    return pieces(load_job(roof), load_system("acrylic_two_coat"), load_site(roof), now)


def told(roof):
    return [(p.name, round(p.area_m2 / 0.09290304), p.next_layer) for p in found(roof)]


def test_what_the_log_has_is_laid(roof):
    write(roof, laid())
    assert told(roof) == [("A", 5000, 1), ("B", 3000, 0)]
    (record,) = found(roof)[0].laid
    assert record.start == plan_cases.pd.Timestamp(START)
    assert record.end == plan_cases.pd.Timestamp(END)


def test_the_same_work_in_file_and_log_counts_once(roof):
    (roof / "job.toml").write_text(JOB + PLACED)
    write(roof, laid(at="2026-06-01T13:00:20Z"))
    assert told(roof) == [("A", 5000, 1), ("B", 3000, 0)]


def test_two_works_of_one_layer_are_refused_as_in_the_file(roof):
    (roof / "job.toml").write_text(JOB + PLACED)
    write(roof, laid(at="2026-06-01T13:02:00Z"))
    with pytest.raises(SiteError, match="entry 2 of the log tells of the same work with other"):
        found(roof)
    write_again = laid(at="2026-06-02T13:00:00Z", end="2026-06-02T16:00:00Z")
    (roof / "log.sqlite").unlink()
    write(roof, write_again)
    with pytest.raises(SiteError, match=r"entry 2 of the log.*is laid there already"):
        found(roof)


@pytest.mark.parametrize("areas", [(2500, 2510), (2500, 2490), (2490, 2510)])
def test_parts_whose_areas_are_rounded_make_no_sliver(roof, areas):
    write(roof, *(
        laid(area_m2=ft2 * 0.09290304, at=f"2026-06-01T{13 + 2 * n}:00:00Z",
             end=f"2026-06-01T{14 + 2 * n}:00:00Z")
        for n, ft2 in enumerate(areas)
    ))  # fmt: skip
    parts = [part for part in found(roof) if part.section == "A"]
    assert [part.next_layer for part in parts] == [1, 1]
    assert sum(part.area_m2 for part in parts) == pytest.approx(A_M2)


def test_a_part_has_a_clock_of_its_own_and_a_rounded_whole_is_whole(roof):
    write(roof, laid(area_m2=A_M2 / 2), laid("B", area_m2=278.0))  # of 278.7 m2
    assert told(roof) == [("A part 1", 2500, 1), ("A part 2", 2500, 0), ("B", 3000, 1)]


def test_more_than_the_section_is_all_of_it(roof):
    write(roof, laid(area_m2=2 * A_M2))
    assert told(roof)[0] == ("A", 5000, 1)


def test_what_was_corrected_or_withdrawn_does_not_count(roof):
    moved = laid(at="2026-06-02T13:00:00Z", end="2026-06-02T16:00:00Z")
    write(roof, laid(), laid("B", area_m2=278.7), (moved, 2), (Withdrawal(at=END, note="no"), 3))
    assert told(roof) == [("A", 5000, 1), ("B", 3000, 0)]
    assert found(roof)[0].laid[0].start == plan_cases.pd.Timestamp("2026-06-02T13:00Z")


@pytest.mark.parametrize("correct", [True, False])
def test_what_the_log_took_back_is_not_laid_though_the_file_still_has_it(roof, correct):
    (roof / "job.toml").write_text(JOB + PLACED)
    later = laid(at="2026-06-02T13:00:00Z", end="2026-06-02T16:00:00Z")
    write(roof, laid(), (later, 2) if correct else (Withdrawal(at=END, note="no"), 2))
    assert told(roof)[0] == ("A", 5000, 1 if correct else 0)
    if correct:
        assert found(roof)[0].laid[0].start == plan_cases.pd.Timestamp("2026-06-02T13:00Z")


def test_two_crews_at_once_on_two_parts_are_two_works(roof):
    half = A_M2 / 2
    (roof / "job.toml").write_text(JOB + PLACED + 'area = "2,500 ft2"\n')
    write(roof, laid(at="2026-06-01T13:30:00Z", area_m2=half))
    assert told(roof) == [("A part 1", 2500, 1), ("A part 2", 2500, 1), ("B", 3000, 0)]


def test_two_layers_at_the_same_hours_in_file_and_log_are_two(roof):
    (roof / "job.toml").write_text(JOB + PLACED)
    write(roof, laid(layer="top"))
    with pytest.raises(SiteError, match="overlap"):
        found(roof)


def test_a_preparation_before_the_layer_was_down_counts_for_nothing(roof):
    write(roof, laid(), Preparation(at="2026-06-01T14:00:00Z", section="A", layer="base"))
    assert found(roof)[0].laid[0].prepared is None


def test_deadlines_count_from_the_last_preparation_after_it_was_laid(roof):
    write(
        roof, laid(),
        *(
            Preparation(at=at, section=section, layer="base")
            for at, section in (
                ("2026-06-01T10:00:00Z", "A"), ("2026-06-02T10:00:00Z", "A"),
                ("2026-06-03T10:00:00Z", "A"), ("2026-06-03T11:00:00Z", "B"),
            )
        ),
    )  # fmt: skip
    assert found(roof)[0].laid[0].prepared == plan_cases.pd.Timestamp("2026-06-03T10:00Z")


@pytest.mark.parametrize(
    ("body", "now", "reason"),
    [
        (laid("C"), NOW, "entry 2 of the log has 'base' laid on section 'C'"),
        (laid(layer="finish"), NOW, "entry 2 of the log"),
        (laid(layer="top"), NOW, "before the layer below it is recorded"),
        (laid(), plan_cases.pd.Timestamp("2026-06-01T15:00Z"), "entry 2 of the log.*future"),
    ],
)
def test_what_cannot_be_planned_on_is_told(roof, body, now, reason):
    write(roof, body)
    with pytest.raises(SiteError, match=reason):
        found(roof, now)


@pytest.mark.parametrize("damage", [b"", b"no database", None])
def test_a_log_that_cannot_be_read_is_not_taken_for_none(roof, damage):
    write(roof, laid())
    log = log_of(roof)
    log.write_bytes(log.read_bytes()[:5000] if damage is None else damage)
    with pytest.raises(LogError, match=r"log\.sqlite"):
        load_job(roof)


@pytest.mark.parametrize("key", ["logged = []", 'where = "x"'])
def test_keys_that_are_not_the_file_s_are_refused(roof, key):
    (roof / "job.toml").write_text(f"{key}\n{JOB}")
    with pytest.raises(SiteError, match="is not known"):
        load_job(roof)
