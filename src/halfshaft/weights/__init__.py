"""What the car weighs and where: ledger, centre of gravity, axles, springs, brakes, what to move."""
