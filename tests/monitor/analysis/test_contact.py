"""The contact gate of swab work."""

import math

from monitor.analysis.contact import Contact


def test_a_lift_is_not_contact_and_leaves_the_envelope() -> None:
    contact = Contact()
    for n in range(50):
        assert contact.update(n * 0.2, 0.0)
    for n in range(50, 100):
        assert not contact.update(n * 0.2, -3.0)
    assert contact.envelope == 0.0
    assert contact.update(20.2, -0.05)


def test_the_envelope_follows_a_loading_bath_upwards() -> None:
    contact = Contact()
    for n in range(500):
        assert contact.update(n * 0.2, 0.001 * n)
    assert contact.envelope is not None
    assert contact.envelope > 0.49


def test_a_smaller_part_becomes_the_new_level_after_a_while() -> None:
    contact = Contact()
    contact.update(0.0, 0.0)
    low = math.log(0.5)
    answers = [contact.update(1.0 + n, low) for n in range(20)]
    assert answers.index(True) == 15
    assert all(answers[15:])
    assert contact.envelope == low


def test_one_spike_does_not_make_everything_else_a_lift() -> None:
    contact = Contact()
    for n in range(10):
        contact.update(n * 0.2, 0.0)
    contact.update(2.0, math.log(2.0))
    assert contact.update(2.2, 0.0)
