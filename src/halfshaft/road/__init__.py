"""What the finished car does: range with its band, acceleration, slopes, heat on a climb, charging."""
