"""The demonstration build: an invented pickup and drive unit, its files and the truth behind them."""
