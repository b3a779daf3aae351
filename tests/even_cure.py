"""Two coats of a film that gains an hour of cure in an hour, so that deadlines are told by hand."""

from cure_models.system import load_system

SAID = "data sheet: x"

COATING = """\
schema = 1
name = "{name}"
title = "An own coating"
generic = false
family = "acrylic"
roles = ["base", "top"]
water_based = {water_based}
law = "reaction"
uv_stable = {uv_stable}
slick_when_wet = false
hazards = []
may_go_over_it = ["acrylic"]
if_late = "abrade_and_prime"
min_window = {{ value = {least}, unit = "h", source = "own choice" }}
[reference]
temperature = {{ value = 20, unit = "degC", source = "data sheet: x" }}
humidity = {{ value = 50, unit = "%", source = "data sheet: x" }}
roof_wind = {{ value = 1.5, unit = "m/s", source = "own choice" }}
[rate]
cap = {{ value = 1, unit = "1", source = "own choice" }}
temp_min = {{ value = -80, unit = "degC", source = "own choice" }}
activation_energy = {{ value = 0, unit = "kJ/mol", source = "own choice" }}
thickness_exponent = {{ value = 0, unit = "1", source = "own choice" }}
[film]
absorptance = {{ value = 0.3, unit = "1", source = "data sheet: x" }}
emittance = {{ value = 0.9, unit = "1", source = "data sheet: x" }}
dry_per_coat = {{ value = 10, unit = "mil", source = "data sheet: x" }}
volume_solids = {{ value = 50, unit = "%", source = "data sheet: x" }}
[gates]
air_temp_min = {{ value = 10, unit = "degC", source = "data sheet: x" }}
[milestones]
recoat_opens = {opens}
[deadlines]
"""
"""A film that gains an hour of cure in every hour whose temperature is known, in any warmth."""


def figure(text, source=SAID):
    """Return an entry of a file: "48 h", or "48 h 24 72" with its range."""
    value, unit, *ends = text.split()
    spread = f", lo = {ends[0]}, hi = {ends[1]}" if ends else ""
    return f'{{ value = {value}, unit = "{unit}"{spread}, source = "{source}" }}'


def own_coating(
    folder, name, opens="12 h", *, source=SAID, uv_stable=True, water_based=False, least=1,
    **deadlines,
):  # fmt: skip
    """Write a coating of constant cure; deadlines as "48 h" or "48 h 24 72"."""
    text = COATING.format(
        name=name, opens=figure(opens), uv_stable=str(uv_stable).lower(),
        water_based=str(water_based).lower(), least=least,
    )  # fmt: skip
    text += "".join(f"{key} = {figure(each, source)}\n" for key, each in deadlines.items())
    (folder / f"{name}.toml").write_text(text)
    return f"{name}.toml"


def own_system(folder, opens="12 h", *, between="", **more):
    """Return a base of constant cure, and a top of the same kind on it."""
    base = own_coating(folder, "base", opens, **more)
    top = own_coating(folder, "top", least=more.get("least", 1))
    text = 'schema = 1\nname = "own"\ntitle = "Own"\n'
    for name, coating in (("base", base), ("top", top)):
        text += (
            f'[[layer]]\nname = "{name}"\ncoating = "{coating}"\nover = ["acrylic"]\n'
            f"dry_film = {figure('10 mil')}\n"
        )
        text += f"[layer.next]\n{between}\n" if name == "base" else ""
    (folder / "own.toml").write_text(text)
    return load_system(str(folder / "own.toml"))
