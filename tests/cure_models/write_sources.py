"""Write docs/sources.md from the shipped coatings and systems: every number and its source."""

from collections import Counter
from pathlib import Path

from cure_models.profile import BASES, coating_names, load_profile
from cure_models.system import Interval, load_system, system_names

PAGE = Path(__file__).parents[2] / "docs" / "sources.md"
TABLES = (
    "reference", "rate", "film", "gates", "clock_holds", "milestones", "milestone_clock_min",
    "deadlines", "cautions",
)  # fmt: skip

HEAD = """\
# Sources

Every number of the shipped coatings and systems, with its range and its source. The page is
written from their files by `python tests/cure_models/write_sources.py`; do not edit it by hand.

These are generic values, not data sheets. Most have no published source. Your product's data
sheet replaces them, key by key, in a file of your own: see `decisions.md`.

## How a figure is known

| basis | meaning |
|---|---|
| standard | a government or standards text, read at least in part |
| trade | a patent, journal article, manufacturer's or contractor's page; names withheld |
| data sheet | your product's own; no shipped profile has one |
| contract | a clause of the job's contract; no shipped profile has one |
| calculated | follows from other figures |
| own choice | a decision of this project |
| common practice | what crews do; no source found |
| from memory | remembered, not verified |

A source that names several begins with the strongest. A limit that a document states for paint or
roofing in general counts as `standard` even where its range across products has no source.

## Documents

Read in excerpts, most of them not whole.

- ASTM D1227-95(2000), emulsified asphalt used as a protective coating for roofing
- ASTM E1980-11, solar reflectance index: only the reference surfaces, black (reflectance 0.05,
  emittance 0.90) and white (0.80, 0.90)
- MIL-HDBK-1001/5A, on roofing; its title was not seen
- UFC 3-190-06 of 16 January 2004, protective coatings and paints (the text of MIL-HDBK-1110)
- UFGS 07570, an older number of the guide specification for spray polyurethane foam roofing
- US patent 8,124,183, on asphalt emulsion and the acrylic laid over it
- Int. J. Adhes. Adhes. 18 (1998) 247, moisture cure of adhesives and sealants: the abstract
- ISO 8502-4 and ISO 12944-7: only a secondary text on them was seen

ASTM D6083 (acrylic) and D6694 (silicone) say in their scope that they give no guidance for
application. They are specifications of a material, and no temperature or drying time here rests
on them.
"""


def entries(profile):
    """Yield each key and number of a profile in the order of its file."""
    yield "min_window", profile.min_window
    for table in TABLES:
        for key, entry in dict(getattr(profile, table)).items():
            if entry is None:
                continue
            yield f"{table}.{key}", entry


def row(key, entry):
    """Return one line of a table."""
    unit = "" if entry.unit == "1" else f" {entry.unit}"
    span = "" if entry.low == entry.high else f"{entry.low:g} to {entry.high:g}"
    note = f" ({entry.note})" if entry.note else ""
    return f"| `{key}` | {entry.value:g}{unit} | {span} | {entry.source}{note} |"


def render():
    """Return the page."""
    profiles = [load_profile(name) for name in coating_names()]
    counts = {p.name: Counter(e.basis for _, e in entries(p)) for p in profiles}
    total = sum(counts.values(), Counter())
    lines = [HEAD, "## Count of figures by basis\n"]
    lines.append("| coating | " + " | ".join(BASES) + " | all |")
    lines.append("|---|" + "---|" * (len(BASES) + 1))
    for name, count in (*counts.items(), ("all", total)):
        cells = " | ".join(str(count[basis]) for basis in BASES)
        lines.append(f"| {name} | {cells} | {count.total()} |")
    for profile in profiles:
        lines += [f"\n## {profile.name}\n", f"{profile.title}.\n"]
        lines += [f"- {note}" for note in profile.notes]
        lines += ["\n| key | value | range | source |", "|---|---|---|---|"]
        lines += [row(key, entry) for key, entry in entries(profile)]
    lines += [
        "\n## Systems\n",
        "What a layer does not give is its coating's own. Which roof a layer is for is common",
        "practice, no source, unless a system's note says otherwise.",
    ]
    for name in system_names():
        system = load_system(name)
        lines += [f"\n### {system.name}\n", f"{system.title}.\n"]
        lines += [f"- {note}" for note in system.notes]
        lines += ["\n| key | value | range | source |", "|---|---|---|---|"]
        for layer in system.layers:
            lines.append(row(f"{layer.name}.dry_film", layer.dry_film))
            for key in Interval.model_fields:
                entry = getattr(layer.next, key)
                if key != "same_shift" and entry is not None:
                    lines.append(row(f"{layer.name}.next.{key}", entry))
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    PAGE.write_text(render(), encoding="utf-8")
