"""Bodies as solids of revolution against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from keepfast.science import body

AXIS = np.linspace(0.0, 80.0, 401)


def test_a_cylinder_has_its_volume_and_surface() -> None:
    """pi r^2 h and 2 pi r h + 2 pi r^2; exact for a chain of frustums."""
    radius = np.full_like(AXIS, 6.0)
    assert body.profile_volume_ml(AXIS, radius) == pytest.approx(np.pi * 36 * 80 / 1000, rel=1e-12)
    assert body.profile_surface_cm2(AXIS, radius) == pytest.approx(
        (2 * np.pi * 6 * 80 + 2 * np.pi * 36) / 100, rel=1e-12
    )


def test_a_cone_has_its_volume_and_surface() -> None:
    """pi r^2 h / 3 and pi r sqrt(r^2 + h^2) + pi r^2; exact as well."""
    radius = 6.0 * (1 - AXIS / 80.0)
    assert body.profile_volume_ml(AXIS, radius) == pytest.approx(np.pi * 36 * 80 / 3 / 1000, rel=1e-12)
    expected = np.pi * 6 * np.hypot(6, 80) + np.pi * 36
    assert body.profile_surface_cm2(AXIS, radius) == pytest.approx(expected / 100, rel=1e-12)


def test_an_ellipsoid_has_its_volume_and_surface() -> None:
    """4/3 pi a b^2, and the closed surface of a prolate spheroid; 401 points leave 1e-4."""
    a, b = 40.0, 15.0
    radius = b * np.sqrt(np.maximum(1 - ((AXIS - a) / a) ** 2, 0.0))
    assert body.profile_volume_ml(AXIS, radius) == pytest.approx(4 / 3 * np.pi * a * b**2 / 1000, rel=1e-4)
    e = np.sqrt(1 - b**2 / a**2)
    surface = 2 * np.pi * b**2 * (1 + a / (b * e) * np.arcsin(e))
    assert body.profile_surface_cm2(AXIS, radius) == pytest.approx(surface / 100, rel=5e-4)


@pytest.mark.parametrize("form", ["lizard", "snake", "frog", "turtle", "salamander", "crocodilian", "caecilian"])
def test_trunk_tail_and_limbs_together_hold_the_mass(form: str) -> None:
    """With no callipers the outline is scaled to the mass, so nothing is lost between the two."""
    one = body.body_of(form, 200.0, 90.0)
    outline = body.profile_volume_ml(one.axis_mm, one.radius_mm)
    limbs = 2 * np.pi * one.limb_radius_mm**2 * sum(one.limb_lengths_mm) / 1000
    # The outline is rounded to 121 points, which costs up to a few tenths of a percent.
    assert outline + limbs == pytest.approx(one.volume_ml, rel=0.01)
    assert one.wall_volume_ml + one.cavity_volume_ml == pytest.approx(one.volume_ml, rel=1e-12)


@pytest.mark.parametrize("form", ["lizard", "snake", "frog", "turtle", "larva", "crocodilian"])
def test_girth_from_mass_and_mass_from_girth_are_one_relation(form: str) -> None:
    """Turned round and back it gives the same mass."""
    mass = np.array([3.0, 40.0, 700.0])
    girth = body.girth_from_mass(form, 180.0, mass)
    np.testing.assert_allclose(body.mass_from_girth(form, 180.0, girth).median, mass, rtol=1e-12)


@pytest.mark.parametrize(
    ("form", "length_mm", "mass_g", "diameter_mm"),
    [
        # Plain cylinders: 70 % of a limbed mass in 0.75 of the length; 92 % of a snake's in 0.80, thickest 1.1 times.
        ("lizard", 140.0, 50.0, 20.6),
        ("lizard", 290.0, 500.0, 45.3),
        ("snake", 1113.0, 1000.0, 39.8),
        ("snake", 800.0, 1000.0, 47.0),
    ],
)
def test_girths_agree_with_plain_cylinders(form: str, length_mm: float, mass_g: float, diameter_mm: float) -> None:
    """An outline with head, neck and taper may differ from a cylinder by a tenth."""
    assert body.girth_from_mass(form, length_mm, mass_g) == pytest.approx(diameter_mm, rel=0.10)


def test_callipers_override_the_girth_from_mass() -> None:
    """A measured diameter is the body's largest."""
    one = body.body_of("snake", 1000.0, 400.0, diameter_mm=31.0)
    assert 2 * one.radius_mm.max() == pytest.approx(31.0, rel=1e-9)


def test_a_measured_head_is_as_wide_as_measured() -> None:
    """The trunk behind the neck keeps its width."""
    plain, wide = (body.body_of("lizard", 100.0, 16.0, head_width_mm=w) for w in (None, 18.0))
    assert 2 * wide.radius_mm[wide.axis_mm <= 17.0].max() == pytest.approx(18.0, rel=1e-9)
    trunk = plain.axis_mm > 26.0
    np.testing.assert_allclose(plain.radius_mm[trunk], wide.radius_mm[trunk])


def test_a_clutch_is_so_many_spheres() -> None:
    """Volume 4/3 pi r^3 for each egg."""
    assert body.clutch_mass_g(4.0, 320) == pytest.approx(320 * 4 / 3 * np.pi * 8 / 1000, rel=1e-12)


def test_length_from_mass_turns_the_mass_relation_round() -> None:
    """Meiri's line at 70 mm and back."""
    mass = body.mass_from_length("lizard", 70.0).median
    assert body.length_from_mass_mm("lizard", mass) == pytest.approx(70.0, rel=1e-9)


@pytest.mark.parametrize("bad", [0.0, -1.0, float("inf")])
def test_impossible_measures_are_refused_by_name(bad: float) -> None:
    """Length, mass, girth, head and number are finite and above 0; the message has the name and the value."""
    calls = {
        "length_mm": (
            lambda: body.girth_from_mass("snake", bad, 10.0),
            lambda: body.mass_from_girth("snake", [100.0, bad], 10.0),
            lambda: body.mass_from_length("lizard", [50.0, bad]),
            lambda: body.default_tail_mm("snake", bad),
            lambda: body.volume_from_length_ml("frog", bad),
            lambda: body.body_of("lizard", bad, 5.0),
        ),
        "mass_g": (
            lambda: body.girth_from_mass("snake", 100.0, bad),
            lambda: body.length_from_mass_mm("snake", bad),
            lambda: body.surface_from_mass_cm2("frog", bad),
            lambda: body.body_of("lizard", 60.0, bad),
        ),
        "diameter_mm": (
            lambda: body.mass_from_girth("snake", 100.0, bad),
            lambda: body.body_of("lizard", 60.0, 5.0, diameter_mm=bad),
        ),
        "head_width_mm": (lambda: body.body_of("lizard", 60.0, 5.0, head_width_mm=bad),),
        "egg_diameter_mm": (lambda: body.clutch_mass_g(bad, 10),),
        "count": (lambda: body.clutch_mass_g(4.0, bad), lambda: body.length_from_mass_mm("larva", 2.0, None, 0)),
    }
    for name, several in calls.items():
        for call in several:
            with pytest.raises(ValueError, match=f"^{name} must be a finite number above 0; .* was given$"):
                call()


def test_what_is_no_body_is_refused() -> None:
    """An unknown form, a tail below nothing, a measure that nobody knows, an axis that runs back."""
    with pytest.raises(ValueError, match="form must be one of"):
        body.body_of("dragon", 10.0, 10.0)
    with pytest.raises(ValueError, match="tail_mm must be from 0"):
        body.body_of("lizard", 60.0, 5.0, tail_mm=-1.0)
    with pytest.raises(ValueError, match="length_mm must be one finite number"):
        body.body_of("lizard", float("nan"), 5.0)
    with pytest.raises(ValueError, match="length_mm must be a finite number above 0; 'long' was given"):
        body.mass_from_length("lizard", "long")
    with pytest.raises(ValueError, match="run forward"):
        body.profile_volume_ml([0.0, 2.0, 1.0], [1.0, 1.0, 1.0])


def test_what_nobody_knows_stays_unknown() -> None:
    """NaN in, NaN out, in the shape that was given."""
    lengths = np.array([[50.0, np.nan], [70.0, 90.0]])
    for point in body.mass_from_length("lizard", lengths):
        np.testing.assert_array_equal(np.isnan(point), np.isnan(lengths))
    assert np.isnan(body.girth_from_mass("snake", float("nan"), 10.0))
    assert np.isnan(body.volume_from_length_ml("frog", float("nan")))
