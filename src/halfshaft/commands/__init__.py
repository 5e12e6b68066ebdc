"""One function a command; cli.py names them. They call the study and show what it gives."""
