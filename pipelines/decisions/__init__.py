"""Estimates in, one frozen record with its reason out; 'cannot say' is a value."""
