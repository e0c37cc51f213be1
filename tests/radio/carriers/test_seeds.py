"""Modular Golomb sets: every difference once, of the size that the theorem gives."""

from __future__ import annotations

import pytest

from rollsound.radio.carriers.seeds import is_golomb, primes, rulers


@pytest.mark.parametrize("prime", [5, 13, 31, 67])
@pytest.mark.source("Singer 1938; Bose and Chowla 1962; Ruzsa 1993: size and modulus of the sets", kind="memory")
def test_three_sets_of_a_prime(prime: int) -> None:
    found = {ruler.name: ruler for ruler in rulers(prime)}
    sizes = {"Ruzsa": prime - 1, "Bose-Chowla": prime, "Singer": prime + 1}
    moduli = {"Ruzsa": prime * (prime - 1), "Bose-Chowla": prime**2 - 1, "Singer": prime**2 + prime + 1}
    assert {name: ruler.elements.size for name, ruler in found.items()} == sizes
    assert {name: ruler.modulus for name, ruler in found.items()} == moduli
    for ruler in found.values():
        differences = [(a - b) % ruler.modulus for a in ruler.elements for b in ruler.elements if a != b]
        assert len(set(differences)) == len(differences)


def test_a_set_with_a_difference_twice_is_told() -> None:
    ruler = rulers(13)[0]
    broken = ruler.elements.copy()
    broken[0] = broken[1] + broken[3] - broken[2]
    assert is_golomb(ruler.elements, ruler.modulus)
    assert not is_golomb(broken, ruler.modulus)


def test_primes() -> None:
    assert primes(30) == [5, 7, 11, 13, 17, 19, 23, 29]
