"""Working hours on site: the next working instant, and days to start on."""
