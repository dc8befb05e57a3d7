"""The synthetic diver of the demo and of the tests."""
