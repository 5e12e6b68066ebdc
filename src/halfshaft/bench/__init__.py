"""The bench: a local web app over `study`, a page a station. It shows and saves; it works nothing out itself."""
