"""What was drilled, seen and measured: tables in, oriented fractures and exposure out."""
