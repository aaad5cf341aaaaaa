"""Ink transfer, density and tints in Python: arrays in and out, published forms by hand, refusals."""

import numpy as np
import pytest

import libblade as lb


def test_arrays_come_back_in_their_shape():
    films = np.array([[0.5, 1.0], [1.5, 2.0]]) * 1e-6
    density = lb.print_density(films)
    assert density.shape == (2, 2)
    # Tollenaar & Ernst 1961 (from memory) by numpy.
    assert np.allclose(density, 1.8 * (1 - np.exp(-1.253e6 * films)), rtol=1e-14, atol=0.0)
    assert np.allclose(lb.film_of_density(density), films, rtol=1e-12, atol=0.0)
    assert isinstance(lb.print_density("1.2 um"), float)
    assert lb.ink_transfer([4e-6, 0.0]).tolist() == pytest.approx([1.2e-6, 0.0], abs=1e-20)


def test_walker_and_fetsko():
    # 1955, from memory; by hand in tests/cpp/test_print.cpp.
    law = lb.WalkerFetsko(smoothness=1e6, immobilised="1.5 um", split=0.4)
    assert lb.ink_transfer("2 um", law) == pytest.approx(1.2647992e-6, rel=1e-7, abs=0.0)


def test_the_law_from_readings():
    # y2 = 2 y1: exp(-m y1) = 1.5 / 1.05 - 1, by hand.
    law = lb.density_law([0.8e-6, 1.6e-6], [1.05, 1.5])
    assert law.limit == pytest.approx(1.8375, rel=1e-12)
    assert law.absorption == pytest.approx(1.059122325e6, rel=1e-9)
    assert lb.print_density([0.8e-6, 1.6e-6], law).tolist() == pytest.approx([1.05, 1.5], rel=1e-12)
    one = lb.density_law("1.2 um", 1.4)
    assert one.limit == 1.8
    # About 0.06 per 10 % ink near 1.4: 0.4 ln(4.5) x 0.1 by the slope.
    gain = lb.print_density("1.2001 um", one) - lb.print_density("1.1999 um", one)
    assert gain / 0.0002 * 0.12 == pytest.approx(0.0602, rel=2e-3)


def test_tints():
    # Murray 1936; Yule & Nielsen 1951; by hand.
    assert lb.dot_area(0.3, 1.5) == pytest.approx(0.5151017128, rel=1e-9)
    assert lb.dot_area(0.5, 1.5, 1.7) == pytest.approx(0.5662168018, rel=1e-9)
    areas = np.linspace(0.0, 1.0, 5)
    assert np.allclose(lb.dot_area(lb.tint_density(areas, 1.4), 1.4), areas, rtol=1e-12, atol=1e-15)


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: lb.print_density(-1e-6), "film"),
        (lambda: lb.print_density("1 um", (1.8, 1e6)), "law"),
        (lambda: lb.print_density("1 um", lb.DensityLaw(-1.0)), r"density\.limit"),
        (lambda: lb.film_of_density(1.8), "density"),
        (lambda: lb.ink_transfer(1e-6, 1.2), r"transfer\.share"),
        (lambda: lb.ink_transfer(1e-6, lb.WalkerFetsko(split=2)), r"transfer\.split"),
        (lambda: lb.ink_transfer("1 s"), "offered"),
        (lambda: lb.density_law([1e-6, 2e-6], [0.5, 1.0]), "density_2"),
        (lambda: lb.density_law([1e-6, 2e-6, 3e-6], [0.5, 1.0, 1.2]), "films"),
        (lambda: lb.tint_density(1.5, 1.4), "tint"),
        (
            lambda: lb.lines(lb.example_case("folding_carton_water"), law=lb.PrintLaw(nominal_density=1.9)),
            "nominal_density",
        ),
        (lambda: lb.lines(lb.example_case("folding_carton_water"), law=0.3), "law"),
    ],
)
def test_refusals(call, name):
    with pytest.raises(lb.InvalidInput, match=name):
        call()
