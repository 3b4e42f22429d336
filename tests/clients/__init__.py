"""What programs that use the service rely on: that no release breaks them, and that clients made from its document work."""
