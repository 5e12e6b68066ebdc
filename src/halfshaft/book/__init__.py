"""The build book, its revisions, and the kit for another car. A worked study in; pages, folders and comparisons out."""
