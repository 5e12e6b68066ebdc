"""The pack: cells and strings, where modules go, what that weighs and how it is held."""
