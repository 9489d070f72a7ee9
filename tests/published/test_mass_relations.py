"""Mass relations against the equations as their authors wrote them, and against animals that somebody weighed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from keepfast.science import body, mass

DATA = Path(__file__).parents[1] / "data"

# Pough 1980, The American Naturalist 115:92, in its own form: mass_g = coefficient * length_cm ** slope.
POUGH = [("salamander", 0.018, 2.94), ("snake", 0.00066, 3.02), ("turtle", 0.39, 2.69)]


@pytest.mark.parametrize(("form", "coefficient", "slope"), POUGH)
def test_pough_in_centimetres_is_pough_in_millimetres(form: str, coefficient: float, slope: float) -> None:
    """The intercepts in mm were rounded to three digits, which is worth up to 0.12 %."""
    for length_mm in (40.0, 100.0, 600.0):
        expected = coefficient * (length_mm / 10) ** slope
        assert mass.mass_from_length(form, length_mm).median == pytest.approx(expected, rel=2e-3)


def test_pough_frogs_answer_when_named() -> None:
    """Two lines exist for frogs: Santini by default, Pough (0.06 L_cm^3.24) by name."""
    assert mass.mass_from_length("frog", 60.0, "frogs").median == pytest.approx(0.06 * 6**3.24, rel=2e-3)


@pytest.mark.parametrize(
    ("form", "group", "length_mm", "expected_g"),
    [
        # Meiri 2010, J Zool 281:218, by hand: 10 ** (-4.852 + 3.022 * log10(70)) and at 100 mm.
        ("lizard", None, 70.0, 5.3),
        ("lizard", None, 100.0, 15.6),
        # Feldman and others 2016: two groups at one length, a factor of two from the all-lizard line.
        ("lizard", "Phrynosomatidae", 70.0, 12.1),
        ("lizard", "Teiidae", 70.0, 9.8),
        # Santini and others 2018, Integr Zool 13:36.
        ("frog", None, 60.0, 22.8),
        # Pough 1980.
        ("snake", None, 600.0, 155.0),
        ("salamander", None, 100.0, 15.7),
    ],
)
def test_published_lines_give_their_worked_values(
    form: str, group: str | None, length_mm: float, expected_g: float
) -> None:
    """The worked values are printed with three digits or fewer."""
    assert mass.mass_from_length(form, length_mm, group).median == pytest.approx(expected_g, rel=6e-3)


@pytest.mark.parametrize(
    ("name", "intercept", "slope", "length_mm"),
    [
        # Species lines fitted to 832 snakes of El Cope, Panama: Zipkin and others 2020, Zenodo 10.5281/zenodo.3628038.
        ("Leptodeira septentrionalis", -4.750, 2.274, 450.0),
        ("Dipsas", -5.167, 2.372, 450.0),
        ("Imantodes cenchoa", -5.757, 2.457, 700.0),
        ("Bothriechis schlegelii", -5.358, 2.544, 400.0),
    ],
)
def test_the_snake_interval_spans_real_slender_snakes(
    name: str, intercept: float, slope: float, length_mm: float
) -> None:
    """The line itself is several times too heavy for them; the interval must reach them all the same."""
    real = 10 ** (intercept + slope * np.log10(length_mm))
    estimate = mass.mass_from_length("snake", length_mm)
    assert estimate.low < real < estimate.median, name


def giant_salamanders() -> tuple[np.ndarray, np.ndarray]:
    rows = np.genfromtxt(
        DATA / "gregory-arismendi-2020-giant-salamander-odd-years.csv", delimiter=",", names=True, dtype=float
    )
    return rows["snout_vent_mm"], rows["mass_g"]


def test_the_salamander_interval_against_3615_weighed_animals() -> None:
    """A 90 % interval should hold nine of ten at least; it holds 99.8 %, for it is widened by the line's known bias."""
    length, weighed = giant_salamanders()
    estimate = mass.mass_from_length("salamander", length)
    inside = (weighed >= estimate.low) & (weighed <= estimate.high)
    assert length.size == 3615
    assert inside.mean() > 0.90


def test_an_own_trend_finds_the_slips_in_3615_animals() -> None:
    """Rows more than threefold off the robust trend are slips (two of them); the fit is checked against another method.

    The witness is scipy's Theil-Sen line, which shares nothing with ours but the data.
    """
    from scipy.stats import theilslopes

    length, weighed = giant_salamanders()
    trend = mass.robust_trend(length, weighed)
    sample = np.random.default_rng(7).choice(length.size, 900, replace=False)
    witness = theilslopes(np.log10(weighed[sample]), np.log10(length[sample]))
    # A quarter of the animals fixes the witness's slope to about 0.02.
    assert trend.slope == pytest.approx(witness.slope, abs=0.05)
    off = mass.off_trend(trend, length, weighed)
    far = np.abs(np.log10(weighed) - witness.intercept - witness.slope * np.log10(length)) > np.log10(3)
    assert far.sum() == 2
    assert off[far].all()
    assert (off & ~far).sum() / (~far).sum() < 0.001


@pytest.mark.parametrize(
    ("length_mm", "mass_g", "kind"),
    [
        (70.0, 53.0, "mass_tenfold"),
        (70.0, 0.53, "mass_tenth"),
        (7.0, 5.3, "length_cm_for_mm"),
        (5.3, 70.0, "swapped"),
    ],
)
def test_the_likeliest_slip_is_named(length_mm: float, mass_g: float, kind: str) -> None:
    """Pairs made from Meiri's own 70 mm and 5.3 g by a known slip."""
    slip = mass.likely_slip("lizard", length_mm, mass_g)
    assert slip is not None
    assert slip.kind == kind


def test_animals_that_fit_raise_no_alarm() -> None:
    """Worked values of section groups: a factor of two between groups is nature, not a slip."""
    assert mass.likely_slip("lizard", 70.0, 12.1) is None
    assert mass.likely_slip("snake", 700.0, 17.0) is None
    assert mass.likely_slip("salamander", 100.0, 33.4) is None


@pytest.mark.parametrize("form", ["crocodilian", "caecilian", "larva", "egg_clutch", "dragon"])
def test_a_form_without_a_published_line_is_refused(form: str) -> None:
    """No line was found for these; none is invented."""
    with pytest.raises(ValueError, match="form"):
        mass.mass_from_length(form, 100.0)


def test_wrong_groups_and_lengths_are_refused_with_the_value() -> None:
    """The message has the argument, the value and what is possible."""
    with pytest.raises(ValueError, match=r"group.*'Lacertids'.*Lacertidae"):
        mass.mass_from_length("lizard", 70.0, "Lacertids")
    with pytest.raises(ValueError, match=r"group"):
        mass.mass_from_length("snake", 700.0, "Lacertidae")
    with pytest.raises(ValueError, match=r"length_mm.*-3"):
        mass.mass_from_length("lizard", np.array([70.0, -3.0]))


def test_arrays_and_missing_values_pass_through() -> None:
    """Arrays in, arrays out; NaN in, NaN out; a float stays a float."""
    one = mass.mass_from_length("lizard", 70.0)
    many = mass.mass_from_length("lizard", np.array([[70.0, np.nan]]))
    assert isinstance(one.median, float)
    assert np.shape(many.median) == (1, 2)
    assert many.median[0, 0] == one.median  # type: ignore[index]
    assert np.isnan(many.low[0, 1])  # type: ignore[index]


@pytest.mark.parametrize(("length_mm", "expected_ml"), [(60.0, 18.5)])
def test_frog_volume_of_norris_and_tracy(length_mm: float, expected_ml: float) -> None:
    """(L / 2.27)^3 for a 60 mm frog, by hand."""
    assert body.volume_from_length_ml("frog", length_mm) == pytest.approx(expected_ml, rel=5e-3)


def test_lizard_volume_and_surfaces_of_norris_and_tracy() -> None:
    """(L / 3.3)^3 at 100 mm; surfaces in m2 by hand for 10 g."""
    assert body.volume_from_length_ml("lizard", 100.0) == pytest.approx(27.8, rel=5e-3)
    lizard_cm2 = 0.000314 * np.pi * 10 ** (2 / 3) * 1e4
    assert body.surface_from_mass_cm2("lizard", 10.0) == pytest.approx(lizard_cm2, rel=1e-6)
    salamander_cm2 = 0.000842 * 10**0.694 * 1e4
    assert body.surface_from_mass_cm2("salamander", 10.0) == pytest.approx(salamander_cm2, rel=1e-6)


@pytest.mark.parametrize(
    ("form", "length_mm", "mass_g"),
    [("lizard", 70.0, 5.3), ("lizard", 100.0, 15.6), ("frog", 60.0, 22.8), ("salamander", 100.0, 15.7)],
)
def test_the_drawn_body_has_about_the_published_surface(form: str, length_mm: float, mass_g: float) -> None:
    """Outline plus limbs against the published skin surface; within a factor of 1.6: the outline is an assumption."""
    ours = body.body_of(form, length_mm, mass_g).surface_cm2
    published = float(body.surface_from_mass_cm2(form, mass_g))
    assert published / 1.6 < ours < published * 1.6
