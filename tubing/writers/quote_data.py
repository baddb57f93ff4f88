"""A quote as data for other programs; money as text."""

from __future__ import annotations

from typing import Any

from tubing.quote import Quote


def quote_data(offer: Quote) -> dict[str, Any]:
    """What the paper says, key by key."""
    return {
        "number": offer.number,
        "date": str(offer.day),
        "valid_until": str(offer.valid_until),
        "customer": offer.customer or None,
        "vehicle": offer.title,
        "currency": offer.currency,
        "layouts": [
            {
                "layout": layout.layout,
                "contains": list(layout.parts),
                "lines": [{"what": what, "amount": str(amount)} for what, amount in layout.lines],
                "net": str(layout.net),
                "tax": str(layout.tax),
                "total": str(layout.total),
            }
            for layout in offer.layouts
        ],
    }
