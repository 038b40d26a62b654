"""The local web app: server-rendered pages and a JSON twin over the same tasks. No arithmetic lives here."""
