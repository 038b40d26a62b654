"""Pictures of results as SVG text, drawn by hand: no chart library, class names for colours, words beside every mark."""
