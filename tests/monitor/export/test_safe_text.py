"""Text in a table's cell is harmless, and can be had back."""

from hypothesis import given
from hypothesis import strategies as st

from monitor.export.safe_text import plain_text, safe_text

# First characters of a formula: OWASP, "CSV Injection".
DANGEROUS = "=+-@\t\r\n"


@given(st.text() | st.text(alphabet=DANGEROUS + "'a"))
def test_safe_text_begins_no_formula_and_is_undone_exactly(text: str) -> None:
    safe = safe_text(text)
    assert not safe.startswith(tuple(DANGEROUS))
    assert plain_text(safe) == text


def test_harmless_text_is_left_as_it_is() -> None:
    for text in ("no answer", "'tis", "5 A", "", "a=b"):
        assert safe_text(text) == text
