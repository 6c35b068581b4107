"""Tests of the pictures and the papers."""
