"""What each place offers: sun, soil and ground put together, by cell and by yard."""
