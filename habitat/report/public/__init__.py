"""What a public audience may see."""
