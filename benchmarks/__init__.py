"""Speed, measured beside something outside the project in the same run. Never part of the tests."""
