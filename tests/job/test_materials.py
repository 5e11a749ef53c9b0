"""Materials: names, interpolation, and a source for every figure."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryrun.job.materials import find_material, known_materials

# Published, or honestly not: what a source may say.
_HONEST = ("common practice, no source", "from memory", "Materials 14", "Data Handbook, p. 192")


@pytest.mark.parametrize(
    ("text", "family"),
    [
        ("beech", "hardwood"),
        ("European Beech", "hardwood"),
        ("birch plywood", "plywood"),
        ("MDF with oak veneer", "mdf"),
        ("pine", "softwood"),
        ("Douglas-fir", "softwood"),
        ("cast acrylic, 5 mm", "acrylic"),
        ("HDPE", "soft-plastic"),
        ("soft-plastic", "soft-plastic"),
        ("aluminum", "aluminium"),
        ("particle board", "particleboard"),
        ("slate", None),
        ("beechwood", None),
        ("", None),
    ],
)
def test_names_find_their_family(text, family):
    """Find the family by whole words, panels before species, and guess at nothing."""
    found = find_material(text)

    assert family == (found.name if found else None)


def test_every_figure_has_a_source():
    """Name a published source, or say that there is none, for every range in the table."""
    count = 0
    for material in known_materials():
        for field in (
            material.chip_load,
            material.cutting_energy,
            material.across_grain,
            material.surface_speed,
            material.ramp_angle,
        ):
            if field is not None:
                assert any(honest in field.source for honest in _HONEST), field.source
                count += 1
    assert count > 30


def test_published_figures():
    """Carry the published cutting energies.

    Particleboard 32.0 to 37.6 N/mm2: Palubicki 2021, Materials 14, 2208, abstract. Aluminium
    0.9 kJ/cm3, brass 1.6 kJ/cm3 in milling: Mechanical Engineer's Data Handbook, p. 192.
    """
    board = find_material("particleboard").cutting_energy
    assert (board.low, board.high) == (32.0, 37.6)
    assert find_material("aluminium").cutting_energy.high == 900.0
    assert find_material("brass").cutting_energy.high == 1600.0


def test_no_name_belongs_to_two_families():
    """Let every name lead to one family only."""
    names = [name for material in known_materials() for name in material.names]

    assert len(names) == len(set(names))
    for material in known_materials():
        assert all(find_material(name) is material for name in material.names)


def test_chip_load_between_the_rows():
    """Give the rows themselves, straight lines between them, and say what lies beyond."""
    chips = find_material("softwood").chip_load

    assert (chips.at(6).low, chips.at(6).high) == (0.15, 0.30)
    assert chips.at(4.5).low == pytest.approx((0.08 + 0.15) / 2)
    assert chips.at(1.5).high == pytest.approx(0.075)
    assert "in proportion" in chips.at(1.5).source
    assert (chips.at(25).low, chips.at(25).high) == (0.40, 0.55)
    assert "as for 12 mm" in chips.at(25).source


@given(st.sampled_from([m for m in known_materials() if m.chip_load]), st.floats(0.1, 40))
def test_chip_loads_are_ordered_and_grow(material, diameter):
    """Keep low below high, and never ask a larger bit for less."""
    here, larger = material.chip_load.at(diameter), material.chip_load.at(diameter * 1.1)

    assert 0 < here.low < here.high < 1
    assert here.low <= larger.low * (1 + 1e-12)
    assert here.high <= larger.high * (1 + 1e-12)


@pytest.mark.parametrize("diameter", [0.0, -1.0, math.nan])
def test_no_diameter_no_chip_load(diameter):
    """Refuse a bit without width."""
    with pytest.raises(ValueError, match="not above 0"):
        find_material("oak").chip_load.at(diameter)
