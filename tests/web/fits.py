"""How a page fits a phone, measured in the browser: shared by the tests of every page."""

from __future__ import annotations

from playwright.sync_api import Page

__all__ = ["PRESSED", "fits_a_phone"]

PRESSED = "button, select, input:not([type=hidden]), summary, .button"


def fits_a_phone(page: Page, pressed: str = PRESSED, wide: int = 390) -> None:
    """Nothing sticks out, no letter is under 15 px, what is pressed (a choice: with its label) is 44 px high."""
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    assert page.evaluate("document.documentElement.scrollWidth") <= wide
    small = page.evaluate(
        """() => [...document.querySelectorAll('body *')]
        .filter(e => e.getClientRects().length && !e.closest('.out-of-sight'))
        .filter(e => [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()))
        .filter(e => { const svg = e.closest('svg'), size = parseFloat(getComputedStyle(e).fontSize);
          return (svg ? size * svg.getBoundingClientRect().width / svg.viewBox.baseVal.width : size) < 14.9; })
        .map(e => e.textContent.trim().slice(0, 40))"""
    )
    assert small == []
    low = page.evaluate(
        """(pressed) => [...document.querySelectorAll(pressed)]
        .filter(e => e.getClientRects().length && !e.classList.contains('out-of-sight'))
        .filter(e => (e.closest('label') ?? e).getBoundingClientRect().height < 43.5)
        .map(e => e.outerHTML.slice(0, 80))""",
        pressed,
    )
    assert low == []
