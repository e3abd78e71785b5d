"""From oriented fractures to joint sets: mixture, statistics, spacing, frequency."""
